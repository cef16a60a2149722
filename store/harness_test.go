package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"bagmark/grow"
)

// labFarm is a farm in a temporary folder whose clock stands until it is moved
// and whose randomness is the same in every run. It stands in Lisbon, where
// 22 November 2026 is at +00:00.
type labFarm struct {
	*Store
	t     testing.TB
	dir   string
	clock *testClock
	by    Actor
	ids   int
}

func newLabFarm(t testing.TB) *labFarm {
	t.Helper()
	f := &labFarm{t: t, dir: filepath.Join(t.TempDir(), "farm"), by: Actor{PersonID: 1, DeviceID: 1, Person: "Ana Invented", Device: "bench phone", Role: Grower},
		clock: &testClock{at: time.Date(2026, 11, 22, 15, 0, 0, 0, time.UTC)}}
	f.open(rand.NewChaCha8([32]byte{1}))
	t.Cleanup(func() {
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	})
	return f
}

func (f *labFarm) open(random *rand.ChaCha8) {
	f.t.Helper()
	s, err := Open(f.t.Context(), f.dir, Options{Now: f.clock.now, Random: &testRandom{ChaCha8: random}, TimeZone: "Europe/Lisbon"})
	if err != nil {
		f.t.Fatal(err)
	}
	f.Store = s
}

// reopen closes the farm and opens it anew.
func (f *labFarm) reopen() {
	f.t.Helper()
	random := f.random.(*testRandom).ChaCha8
	if err := f.Close(); err != nil {
		f.t.Fatal(err)
	}
	f.open(random)
}

// days moves the clock on.
func (f *labFarm) days(n float64) { f.clock.move(time.Duration(n * 24 * float64(time.Hour))) }

// id is one that this farm's test has not used yet.
func (f *labFarm) id() grow.ID {
	f.ids++
	return grow.ID(fmt.Sprintf("10000000-0000-4000-8000-%012d", f.ids))
}

// king is a draft of a batch of king oyster made now.
func (f *labFarm) king(bags int, change ...func(*grow.BatchDraft)) grow.BatchDraft {
	d := grow.BatchDraft{Bags: bags, BatchFields: grow.BatchFields{Species: "pleurotus-eryngii", InoculatedAt: f.clock.now()}}
	for _, c := range change {
		c(&d)
	}
	return d
}

// make makes a batch that must be taken.
func (f *labFarm) make(d grow.BatchDraft) (Batch, []BagRef) {
	f.t.Helper()
	b, bags, created, err := f.CreateBatch(f.t.Context(), f.by, d)
	if err != nil || !created {
		f.t.Fatalf("batch not made: created %t, %v", created, err)
	}
	return b, bags
}

// add logs an entry, seen now, that must be taken.
func (f *labFarm) add(bag grow.Code, kind grow.EntryKind, details ...grow.Details) Bag {
	f.t.Helper()
	d := grow.Draft{ID: f.id(), Bag: bag, Kind: kind}
	if len(details) > 0 {
		d.Details = details[0]
	}
	_, b, created, err := f.AddEntry(f.t.Context(), f.by, d)
	if err != nil || !created {
		f.t.Fatalf("%s of %s: created %t, %v", kind, bag, created, err)
	}
	return b
}

func (f *labFarm) bag(code grow.Code) Bag {
	f.t.Helper()
	b, err := f.Bag(f.t.Context(), code)
	if err != nil {
		f.t.Fatal(err)
	}
	return b
}

func (f *labFarm) whole(code grow.BatchCode) BatchWhole {
	f.t.Helper()
	w, err := f.Batch(f.t.Context(), code)
	if err != nil {
		f.t.Fatal(err)
	}
	return w
}

// sound fails the test unless check finds nothing.
func (f *labFarm) sound() {
	f.t.Helper()
	report, err := Check(f.t.Context(), f.dir)
	if err != nil || len(report.Problems) > 0 {
		f.t.Errorf("check: %v, %v", err, report.Problems)
	}
}

// putSettings puts settings in the place of those there are.
func (f *labFarm) putSettings(s Settings) error {
	f.t.Helper()
	return f.PutSettings(f.t.Context(), f.by, func(to *Settings) error { *to = s; return nil })
}

// everything is all rows of all tables, for telling that nothing changed.
func (f *labFarm) everything() map[string][]string {
	f.t.Helper()
	out := map[string][]string{}
	err := f.reading(context.Background(), func(t *tx) error {
		tables, err := t.texts(`SELECT name FROM sqlite_schema WHERE type = 'table'`)
		if err != nil {
			return err
		}
		for _, table := range tables {
			if out[table], err = rowsOfTable(t, table); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		f.t.Fatal(err)
	}
	return out
}

func rowsOfTable(t *tx, table string) (out []string, err error) {
	err = t.each(`SELECT * FROM `+table, nil, func(rows *sql.Rows) error {
		names, err := rows.Columns()
		if err != nil {
			return err
		}
		values := make([]any, len(names))
		into := make([]any, len(names))
		for i := range values {
			into[i] = &values[i]
		}
		err = rows.Scan(into...)
		out = append(out, fmt.Sprint(values...))
		return err
	})
	return out, err
}

// wantFields fails the test unless an error is invalid and names just these
// fields.
func wantFields(t testing.TB, what string, err error, fields ...string) {
	t.Helper()
	var e *grow.Error
	if !errors.As(err, &e) || e.Kind != grow.Invalid {
		t.Errorf("%s: %v, want an invalid error", what, err)
		return
	}
	if got := slices.Sorted(maps.Keys(e.Fields)); !slices.Equal(got, fields) {
		t.Errorf("%s: faulty fields %v, want %v (%v)", what, got, fields, err)
	}
}

// numbersOf are the numbers of bags.
func numbersOf(bags []BagRef) []int {
	out := make([]int, len(bags))
	for i, b := range bags {
		out[i] = b.Number
	}
	return out
}
