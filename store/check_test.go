package store

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/grow/climate"
)

func TestCheckOfAWholeFarm(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	f.stock(t)
	report := must(Check(t.Context(), f.dir))(t) // beside the open farm
	if len(report.Problems) > 0 || report.Bags != 6 || report.Photos != 1 {
		t.Errorf("%+v", report)
	}
	rows := must(texts(t.Context(), f.read, `SELECT id FROM entries`))(t)
	if report.Entries != len(rows) {
		t.Errorf("%d entries, want %d", report.Entries, len(rows))
	}
	_, err := Check(t.Context(), t.TempDir())
	wantKind(t, "an empty folder", err, grow.NotFound)
}

// A log that was tampered with is told by its chain: the triggers stand again
// as they were.
const (
	untied = `DROP TRIGGER entries_never_change; DROP TRIGGER entries_never_go; `
	tied   = `; CREATE TRIGGER entries_never_change BEFORE UPDATE ON entries
BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END;
CREATE TRIGGER entries_never_go BEFORE DELETE ON entries
BEGIN SELECT RAISE(ABORT, 'an entry is never deleted'); END;`
)

func TestCheckFinds(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name   string
		damage string // as SQL
		want   []string
	}{
		{"nothing", `SELECT 1`, nil},
		{"a changed entry", untied + `UPDATE entries SET detail = replace(detail, '=1+1', '=1+2') WHERE kind = 'note'` + tied, []string{"was changed or taken out"}},
		{"an entry by somebody else", untied + `UPDATE entries SET by_person = 'Nobody Invented' WHERE seq = 2` + tied, []string{"was changed or taken out"}},
		{"an entry taken out", untied + `DELETE FROM entries WHERE kind = 'note'` + tied, []string{"was changed or taken out"}},
		{"a hash put right alone", untied + `UPDATE entries SET hash = zeroblob(32) WHERE seq = 1` + tied, []string{"(the 1. received)", "(the 2. received)"}},
		{"a bag's state", `UPDATE bags SET state = 'fruiting' WHERE number = 4`, []string{"kept as fruiting, but its log gives another state (colonising)"}},
		{"a bag's status", `UPDATE bags SET status = json_set(status, '$.colonised_pct', 55) WHERE id = 1`, []string{"its log gives another state"}},
		{"a bag's day of contamination", `UPDATE bags SET contaminated_at = contaminated_at + 1 WHERE contaminated_at IS NOT NULL`, []string{"its log gives another state"}},
		{"a bag's code kept as a blank's", `UPDATE codes SET kind = 'blank' WHERE code = (SELECT code FROM bags WHERE id = 1)`, []string{"is kept as a blank but is on something else"}},
		{"a blank kept as a bag's", `INSERT INTO codes VALUES ('00000000', 'bag', 0)`, []string{`the code "00000000" is not a legal one`, "is kept as a bag but is on something else"}},
		{"one label on two things", `INSERT INTO old_codes SELECT code, 2 FROM bags WHERE id = 1`, []string{"is on more than one thing"}},
		{"a bag too few", `UPDATE batches SET bags = 5 WHERE id = 1`, []string{"should have 5 bags and has 4"}},
		{"a row that points nowhere", `PRAGMA foreign_keys = OFF; DELETE FROM places; DELETE FROM codes WHERE kind = 'place'`, []string{"points to a row of places that is not there"}},
		{"a table nobody made", `CREATE TABLE evil (x)`, []string{"what no bagmark made"}},
		{"a trigger taken away", `DROP TRIGGER changes_never_go`, []string{"the database lacks"}},
		{"a row against its check", `PRAGMA ignore_check_constraints = ON; UPDATE farm SET margin = 7`, []string{"CHECK constraint failed in farm"}},
		{"a time zone nobody knows", `UPDATE farm SET time_zone = 'Atlantis/Old Town'`, []string{"the settings cannot be read"}},
		{"a shown photo not counted as used", `UPDATE photos SET used = 0`, []string{"does not count as used"}},
		{"an hourly sum", `INSERT INTO reading_sources VALUES (1, (SELECT min(id) FROM places), 'sensor', '', 'x', 'x', 0);
			INSERT INTO readings VALUES ((SELECT min(id) FROM places), 1700000000000000, 210000, NULL, NULL, 1)`, []string{"do not agree with its readings in 1 hours"}},
		{"a reading too large to add up", `INSERT INTO reading_sources VALUES (1, (SELECT min(id) FROM places), 'sensor', '', 'x', 'x', 0);
			INSERT INTO readings VALUES ((SELECT min(id) FROM places), 1700000000000000, 9223372036854775807, NULL, NULL, 1), ((SELECT min(id) FROM places), 1700000000000001, 1, NULL, NULL, 1)`,
			[]string{"room 2 > rack 3 has 1 readings with a time or a value that cannot be"}},
		{"a set-point at the end of time", `INSERT INTO room_log VALUES ('00000000-0000-4000-8000-000000000000', (SELECT min(id) FROM places), 'set_point', 9223372036854775807, 220000, '', 'x', 'x', 0, NULL)`,
			[]string{"the log of room 2 > rack 3 has 1 lines with a time"}},
		{"a lot made from itself", `INSERT INTO codes VALUES ('7K3M9QXR', 'lot', 0), ('8B19EFCQ', 'lot', 0), ('CW64WSPY', 'lot', 0), ('X08SJ4NE', 'lot', 0);
			INSERT INTO lots (id, code, name, name_key, kind, made_at) VALUES (101, '7K3M9QXR', 'a', 'a', 'spawn', 0), (102, '8B19EFCQ', 'b', 'b', 'spawn', 0),
				(103, 'CW64WSPY', 'below it', 'below it', 'spawn', 0), (104, 'X08SJ4NE', 'above it', 'above it', 'spawn', 0);
			INSERT INTO lot_sources (lot_id, from_id) VALUES (101, 102), (102, 101), (1, 101), (101, 1), (103, 101), (101, 104)`, []string{"lot rye 12 is made from itself", "lot a is made from itself", "lot b is made from itself"}},
		{"a jar of another lot", `INSERT INTO codes VALUES ('7K3M9QXR', 'lot', 0), ('8B19EFCQ', 'lot', 0), ('CW64WSPY', 'lot', 0);
			INSERT INTO lots (id, code, name, name_key, kind, made_at) VALUES (101, '7K3M9QXR', 'a', 'a', 'spawn', 0), (102, '8B19EFCQ', 'b', 'b', 'spawn', 0);
			INSERT INTO jars VALUES (1, 101, 1, 'CW64WSPY', 0); INSERT INTO lot_sources (lot_id, from_id, jar_id) VALUES (1, 102, 1)`, []string{"lot rye 12 is made from a jar that is of another lot"}},
		{"a sterile bag that became another", `INSERT INTO codes VALUES ('7K3M9QXR', 'blank', 0);
			INSERT INTO sterile_bags VALUES ('7K3M9QXR', 1, NULL, 0, NULL, 0, 1, 0, 'x', 'x')`, []string{"the sterile bag 7K3M9QXR and the bag with its label"}},
		{"a run without a code, and what comes after it", `UPDATE steriliser_runs SET code = NULL; UPDATE lots SET name_key = 'zzz'`, []string{"is kept as a lot but is on something else", "the run called run 40 has no code", "the lot rye 12 is kept under another name"}},
		{"a load plan that is no list", `UPDATE steriliser_runs SET load = '{"door":4}'`, []string{"the load plan of the run called run 40 is no list"}},
		{"a load plan of words", `UPDATE steriliser_runs SET load = '["door"]'`, []string{"the load plan of the run called run 40 is no list"}},
		{"a lot made at the end of time", `UPDATE lots SET made_on = 9223372036854775807`, []string{"lot rye 12 has a day that cannot be"}},
		{"a lot under another name", `UPDATE lots SET name_key = 'zzz'`, []string{"the lot rye 12 is kept under another name"}},
		{"a photo's row gone", `DELETE FROM photos`, []string{"shows a photo that the farm does not have"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			f := newDeskFarm(t)
			f.stock(t)
			f.vandal(t, test.damage)
			if test.name == "a row that points nowhere" {
				report := must(Check(t.Context(), f.dir))(t)
				if !strings.Contains(strings.Join(report.Problems, "\n"), test.want[0]) {
					t.Errorf("%q", report.Problems)
				}
				return
			}
			f.wellAfter(t, test.want)
		})
	}
}

// A run whose readings are short of its target, and the batch it made.
func TestCheckJudgesRuns(t *testing.T) {
	t.Parallel()
	const loose, tight = `DROP TRIGGER run_series_never_change; `, `; CREATE TRIGGER run_series_never_change BEFORE UPDATE OF run_id, probe, spot, position, readings, sha256, missing, made_at, by_person, device ON run_series
BEGIN SELECT RAISE(ABORT, 'readings are never changed'); END;`
	for _, test := range []struct {
		name   string
		damage string // as SQL
		want   []string
	}{
		{"nothing", `SELECT 1`, nil},
		{"the verdict", `UPDATE steriliser_runs SET short = 0`, []string{"run 40 is kept with another verdict", "KING-260314 does not say of run 40"}},
		{"no verdict", `UPDATE steriliser_runs SET short = NULL, f0 = NULL`, []string{"run 40 is kept with another verdict", "KING-260314 does not say of run 40"}},
		{"the lethality", `UPDATE steriliser_runs SET f0 = f0 + 0.001`, []string{"run 40 is kept with another verdict"}},
		{"another processor's last bit", `UPDATE steriliser_runs SET f0 = f0 * (1 + 2e-16)`, nil},
		{"the departure of the batch", `DELETE FROM batch_conditions WHERE key = 'run_complete'`, []string{"KING-260314 does not say of run 40"}},
		{"a reading", loose + `UPDATE run_series SET readings = substr(readings, 1, 16)` + tight, []string{"the readings of run 40 by typed are not what was kept", "run 40 is kept with another verdict"}},
		{"readings of no time that can be", loose + `UPDATE run_series SET readings = zeroblob(32)` + tight, []string{"the readings of run 40 by typed are not what was kept", "run 40 cannot be judged: the readings by typed are damaged"}},
		{"what a person said afterwards", `UPDATE batch_conditions SET value = 'yes' WHERE key = 'run_complete';
			INSERT INTO changes (batch_id, field, old, new, at, by_person, device) VALUES (1, 'conditions.run_complete', 'short', 'yes', 0, 'Ana', 'phone')`, nil},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			f := newDeskFarm(t)
			f.stock(t)
			start := f.clock.now().Add(-24 * time.Hour)
			points := []climate.Point{{At: start, C: 118}, {At: start.Add(10 * time.Minute), C: 118}, {At: start.Add(20 * time.Minute), C: 100}} // F0 6.1 of 15
			if w, _, err := f.AddRunReadings(t.Context(), f.owner, "run 40", []SeriesDraft{{Probe: "typed", Spot: "core", Points: points}}); err != nil || !isTrue(w.Run.Short) {
				t.Fatal(w.Verdict, err)
			}
			f.vandal(t, test.damage)
			f.wellAfter(t, test.want)
		})
	}
}

// TestDamagedReadingsHoldUpNothing: another target judges the other runs, and a farm
// whose readings are damaged can still be used.
func TestDamagedReadingsHoldUpNothing(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	f.stock(t)
	start := f.clock.now().Add(-24 * time.Hour)
	points := []climate.Point{{At: start, C: 118}, {At: start.Add(10 * time.Minute), C: 118}} // F0 4.9
	for _, run := range []string{"run 40", "run 41"} {
		if _, _, err := f.CreateRun(t.Context(), f.owner, grow.RunDraft{RunFields: grow.RunFields{Name: run, Method: new(grow.PressureSteam)}}); err != nil {
			t.Fatal(err)
		}
		if _, _, err := f.AddRunReadings(t.Context(), f.owner, run, []SeriesDraft{{Probe: "typed", Spot: "core", Points: points}}); err != nil {
			t.Fatal(err)
		}
	}
	f.vandal(t, `DROP TRIGGER run_series_never_change; UPDATE run_series SET readings = zeroblob(32) WHERE id = 1`)
	if _, err := f.Run(t.Context(), "run 40"); grow.KindOf(err) != grow.Conflict {
		t.Errorf("the damaged run: %v", err)
	}
	if err := f.PutSettings(t.Context(), f.owner, func(s *Settings) error { s.F0Target = 4; return nil }); err != nil {
		t.Fatal(err)
	}
	if w, err := f.Run(t.Context(), "run 41"); err != nil || w.Run.Short == nil || *w.Run.Short {
		t.Errorf("the other run: %+v, %v", w.Run.Short, err)
	}
}

func TestCheckLooksAtPhotos(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name   string
		damage func(path string) error
		want   []string
	}{
		{"lost", os.Remove, []string{"is missing"}},
		{"one bit", func(path string) error {
			data, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			data[len(data)/2] ^= 1
			return os.WriteFile(path, data, 0o600)
		}, []string{"is not what was kept"}},
		{"a file without a row, from two days ago", func(path string) error {
			stray := filepath.Join(filepath.Dir(path), "stray.jpg")
			old := time.Now().Add(-48 * time.Hour)
			if err := os.WriteFile(stray, nil, 0o600); err != nil {
				return err
			}
			return os.Chtimes(stray, old, old)
		}, []string{"belongs to no photo"}},
		{"a file whose row may be on its way", func(path string) error {
			return os.WriteFile(filepath.Join(filepath.Dir(path), "new.tmp"), nil, 0o600)
		}, nil},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			f := newDeskFarm(t)
			f.stock(t)
			ids := must(texts(t.Context(), f.read, `SELECT id FROM photos`))(t)
			if err := test.damage(f.photoPath(ids[0])); err != nil {
				t.Fatal(err)
			}
			f.wellAfter(t, test.want)
		})
	}
}

// What is damaged on the disk is found, or keeps the check from being made.
func TestCheckOfADamagedFile(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	f.stock(t)
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(f.dir, databaseName)
	whole := must(os.ReadFile(path))(t)
	for _, page := range []int{1, len(whole) / 4096 / 2, len(whole)/4096 - 1} {
		data := bytes.Clone(whole)
		copy(data[page*4096:], bytes.Repeat([]byte{0xa5}, 512))
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		if report, err := Check(t.Context(), f.dir); err == nil && len(report.Problems) == 0 {
			t.Errorf("page %d written over: all well", page+1)
		}
	}
}

func TestCheckRefusesOtherVersions(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	f.vandal(t, `PRAGMA user_version = 99`)
	_, err := Check(t.Context(), f.dir)
	wantKind(t, "a newer farm", err, grow.Conflict)
}

func TestSameJSON(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name, a, b string
		want       bool
	}{
		{"another offset", `{"at":"2026-03-14T15:00:00Z","l":[null]}`, `{"l":[null],"at":"2026-03-14T17:00:00+02:00"}`, true},
		{"another instant", `{"at":"2026-03-14T15:00:00Z"}`, `{"at":"2026-03-14T15:00:00+02:00"}`, false},
		{"another number", `{"a":{"n":1}}`, `{"a":{"n":2}}`, false},
		{"null and nothing", `{"a":null}`, `{}`, false},
	} {
		if got := must(sameJSON([]byte(test.a), []byte(test.b)))(t); got != test.want {
			t.Errorf("%s: got %v, want %v", test.name, got, test.want)
		}
	}
}
