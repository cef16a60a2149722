package store

import (
	"database/sql"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"bagmark/grow"
)

func TestOpenKeepsAFarm(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "deep", "farm")
	if HoldsFarm(dir) {
		t.Error("a farm where nothing is")
	}
	if _, err := Open(t.Context(), dir, Options{MustExist: true}); grow.KindOf(err) != grow.NotFound {
		t.Errorf("a farm that must exist: %v", err)
	}
	if _, err := os.Stat(dir); err == nil {
		t.Error("asking for a farm that must exist makes its folder")
	}
	s, err := Open(t.Context(), dir, Options{Alone: true, TimeZone: "No/Where"})
	if err != nil {
		t.Fatal(err)
	}
	if s.Zone(t.Context()).String() != "UTC" || !HoldsFarm(dir) {
		t.Errorf("a new farm in a zone that is none stands in %s", s.Zone(t.Context()))
	}
	cards, err := s.Cards(t.Context())
	if err != nil || len(cards) < 20 {
		t.Errorf("%d bench cards, %v", len(cards), err)
	}
	if info, err := os.Stat(filepath.Join(dir, databaseName)); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("the database's rights are %v, %v; want the owner's alone", info.Mode(), err)
	}
	if _, err := Open(t.Context(), dir, Options{Alone: true}); grow.KindOf(err) != grow.Conflict {
		t.Errorf("a second one that wants it alone: %v", err)
	}
	beside, err := Open(t.Context(), dir, Options{MustExist: true})
	if err != nil {
		t.Fatalf("beside a running server: %v", err)
	}
	place, _, err := beside.CreatePlace(t.Context(), Actor{}, "room 1")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []*Store{beside, s} {
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
	}
	again, err := Open(t.Context(), dir, Options{Alone: true, MustExist: true})
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	places, err := again.Places(t.Context())
	if err != nil || len(places) != 1 || places[0] != place {
		t.Errorf("after opening again: places %v, %v", places, err)
	}
	more, err := again.Cards(t.Context())
	if err != nil || len(more) != len(cards) || more[0] != cards[0] {
		t.Errorf("after opening again: %d cards, %v; want the same %d", len(more), err, len(cards))
	}
}

// TestOpenRefuses what is no farm, or one of a newer program.
func TestOpenRefuses(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "a file")
	if err := os.WriteFile(file, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), file, Options{}); err == nil {
		t.Error("a file is opened for a folder")
	}
	f := newLabFarm(t)
	if _, err := f.write.Exec(`PRAGMA user_version = 9999`); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), f.dir, Options{}); grow.KindOf(err) != grow.Conflict {
		t.Errorf("a farm of a newer program: %v", err)
	}
	noise := t.TempDir()
	if err := os.WriteFile(filepath.Join(noise, databaseName), []byte("this is no database, but long enough to be read as if it were one, twice over"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), noise, Options{}); err == nil {
		t.Error("noise is opened for a database")
	}
}

// TestSettingsOfConnections: every connection has what durability rests on,
// readers cannot write, and records cannot be changed even by mistake.
func TestSettingsOfConnections(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(1))
	f.add(bags[0].Code, grow.KindLook)
	pragma := func(db *sql.DB, name string) (v string) {
		t.Helper()
		if err := db.QueryRow(`PRAGMA ` + name).Scan(&v); err != nil {
			t.Fatal(err)
		}
		return v
	}
	for name, want := range map[string]string{"synchronous": "2", "journal_mode": "wal", "foreign_keys": "1", "busy_timeout": "5000"} {
		if got := pragma(f.write, name); got != want {
			t.Errorf("the writer's %s is %s, want %s", name, got, want)
		}
	}
	if _, err := f.read.Exec(`UPDATE farm SET name = 'x'`); err == nil {
		t.Error("a reader writes")
	}
	for _, statement := range []string{`UPDATE entries SET kind = 'note'`, `DELETE FROM entries`, `UPDATE bags SET state = 'happy'`, `UPDATE bags SET batch_id = 99`, `INSERT INTO codes VALUES ('7K3M9QXR', 'ship', 0)`} {
		if _, err := f.write.Exec(statement); err == nil {
			t.Errorf("the database takes %s", statement)
		}
	}
	if v, err := Version(); err != nil || v < "3.37" {
		t.Errorf("SQLite %s, %v; strict tables need 3.37", v, err)
	}
}
