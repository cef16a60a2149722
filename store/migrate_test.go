package store

import (
	"io/fs"
	"regexp"
	"testing"

	"bagmark/grow"
	"bagmark/migrations"
)

// TestMigrationNames: numbered without a gap, named verb and noun.
func TestMigrationNames(t *testing.T) {
	t.Parallel()
	names, err := fs.Glob(migrations.FS, "*.sql")
	if err != nil || len(names) == 0 {
		t.Fatal(names, err)
	}
	shape := regexp.MustCompile(`^\d{4}_[a-z]+(_[a-z]+)+\.sql$`)
	for _, name := range names {
		if !shape.MatchString(name) {
			t.Errorf("%s is not named like 0001_make_farm.sql", name)
		}
	}
	all, err := allMigrations()
	if err != nil {
		t.Fatal(err)
	}
	for i, m := range all {
		if m.number != i+1 {
			t.Errorf("migration %d has the number %d", i+1, m.number)
		}
	}
}

// TestCodesAreUniqueOverKinds: bags, blanks, places, lots and cards draw from
// one table of codes.
func TestCodesAreUniqueOverKinds(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(5, func(d *grow.BatchDraft) { d.Place, d.SpawnLot = new("room 1"), new("S-31") }))
	if _, _, err := f.CreateBlanks(t.Context(), f.by, LabelsDraft{Count: 5}); err != nil {
		t.Fatal(err)
	}
	kinds := map[string]int{}
	rows, err := f.read.Query(`SELECT code, kind FROM codes`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var code, kind string
		if err := rows.Scan(&code, &kind); err != nil {
			t.Fatal(err)
		}
		if c, err := grow.ParseCode(code); err != nil || string(c) != code {
			t.Errorf("%s: %v", code, err)
		}
		kinds[kind]++
	}
	cards, err := f.Cards(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if kinds["bag"] != len(bags) || kinds["blank"] != 5 || kinds["place"] != 1 || kinds["lot"] != 1 || kinds["card"] != len(cards) {
		t.Errorf("codes by kind %v, cards %d", kinds, len(cards))
	}
	if _, err := f.write.Exec(`INSERT INTO codes SELECT code, 'place', 0 FROM codes WHERE kind = 'bag' LIMIT 1`); err == nil {
		t.Error("a bag's code can be a place's too")
	}
}
