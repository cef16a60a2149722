package store

import (
	"context"
	"database/sql"

	"bagmark/grow"
)

// Slip is a name that a batch of a lab day brought in, where one that the farm knew
// is so near that it may have been meant.
type Slip struct {
	Batch grow.BatchCode
	Field string
	Name  string
	Near  string
	// Grows is the species of the spawn lot where the batch is of another; no near
	// name then.
	Grows string
}

// Word is what the name is of.
func (s Slip) Word() string {
	return map[string]string{"steriliser_run": "steriliser run", "spawn_lot": "spawn lot", "recipe": "recipe", "strain": "strain", "place": "place"}[s.Field]
}

// slipQueries give, by field, the names that a lab day brought in with a batch each,
// and the names of the same kind that stood before. Runs, lots and places named by a
// batch are made in its transaction, so they have its time.
var slipQueries = []struct{ field, brought, known string }{
	{"steriliser_run", `SELECT b.code, r.name FROM batches b JOIN steriliser_runs r ON r.id = b.run_id WHERE b.lab_day = ? AND r.made_at >= b.made_at`, `SELECT name FROM steriliser_runs`},
	{"spawn_lot", `SELECT b.code, l.name FROM batches b JOIN lots l ON l.id = b.spawn_lot_id WHERE b.lab_day = ? AND l.made_at >= b.made_at`, `SELECT name FROM lots WHERE kind <> 'substrate'`},
	{"place", `SELECT b.code, p.name FROM batches b JOIN places p ON p.id = b.place_id WHERE b.lab_day = ? AND p.made_at >= b.made_at`, `SELECT name FROM places`},
	{"recipe", `SELECT code, recipe FROM batches b WHERE lab_day = ? AND recipe IS NOT NULL AND NOT EXISTS (SELECT 1 FROM batches o WHERE o.recipe = b.recipe AND o.lab_day IS NOT b.lab_day)`, `SELECT DISTINCT recipe FROM batches WHERE recipe IS NOT NULL`},
	{"strain", `SELECT code, strain FROM batches b WHERE lab_day = ? AND strain IS NOT NULL AND NOT EXISTS (SELECT 1 FROM batches o WHERE o.strain = b.strain AND o.lab_day IS NOT b.lab_day)`, `SELECT DISTINCT strain FROM batches WHERE strain IS NOT NULL`},
}

// Slips are the names of a lab day's batches that may be slips of the pen.
func (s *Store) Slips(ctx context.Context, labDay string) ([]Slip, error) {
	var out []Slip
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	err = s.reading(ctx, func(t *tx) error {
		if out, err = t.otherSpawn(farm, labDay); err != nil {
			return err
		}
		for _, q := range slipQueries {
			some, err := t.slips(q.field, q.brought, q.known, labDay)
			if err != nil {
				return err
			}
			out = append(out, some...)
		}
		return nil
	})
	return out, err
}

// otherSpawn are batches of a lab day whose spawn lot is of another species.
func (t *tx) otherSpawn(f *Farm, labDay string) (out []Slip, err error) {
	err = t.each(`SELECT b.code, l.name, l.species FROM batches b JOIN lots l ON l.id = b.spawn_lot_id WHERE b.lab_day = ? AND l.species <> b.species ORDER BY b.id`, []any{labDay}, func(rows *sql.Rows) error {
		s := Slip{Field: "spawn_lot"}
		var grows grow.Slug
		err := rows.Scan(&s.Batch, &s.Name, &grows)
		species, _ := f.SpeciesOf(grows, nil)
		s.Grows = species.Name
		out = append(out, s)
		return err
	})
	return out, err
}

func (t *tx) slips(field, brought, known, labDay string) ([]Slip, error) {
	var out []Slip
	err := t.each(brought, []any{labDay}, func(rows *sql.Rows) error {
		s := Slip{Field: field}
		err := rows.Scan(&s.Batch, &s.Name)
		out = append(out, s)
		return err
	})
	if err != nil || len(out) == 0 {
		return nil, err
	}
	names, err := t.texts(known)
	if err != nil {
		return nil, err
	}
	fresh := map[string]bool{}
	for _, s := range out {
		fresh[s.Name] = true
	}
	var near []Slip
	for _, s := range out {
		for _, name := range names {
			if !fresh[name] && grow.NearName(s.Name, name) {
				s.Near = name
				near = append(near, s)
				break
			}
		}
	}
	return near, nil
}
