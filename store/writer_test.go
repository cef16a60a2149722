package store

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"

	"bagmark/grow"
)

// TestTakenAlong: changes that wait are committed together, a refused one and
// one that panics leave nothing behind, and each caller hears of its own.
func TestTakenAlong(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.changes = make(chan *change, 8) // with room, so that those who wait can be counted
	refusal := grow.Errorf(grow.Conflict, "not this one")
	outcomes := []error{nil, refusal, nil, nil}
	got := make([]error, len(outcomes))
	var rest sync.WaitGroup
	first := &change{ctx: t.Context(), done: make(chan struct{}), do: func(x *tx) error {
		for i, outcome := range outcomes {
			rest.Go(func() {
				defer func() {
					if p := recover(); p != nil {
						got[i] = errors.New(p.(string))
					}
				}()
				got[i] = f.writing(t.Context(), func(y *tx) error {
					if y.Tx != x.Tx {
						t.Errorf("change %d has a transaction of its own", i)
					}
					if err := keepName(y, "change "+string(rune('0'+i))); err != nil {
						return err
					}
					if i == 3 {
						panic("change 3")
					}
					return outcome
				})
			})
		}
		for len(f.changes) < len(outcomes) {
			runtime.Gosched()
		}
		return keepName(x, "the first")
	}}
	f.turn <- struct{}{}
	f.together(first)
	rest.Wait()
	if first.err != nil || got[0] != nil || !errors.Is(got[1], refusal) || got[2] != nil || got[3] == nil || got[3].Error() != "change 3" {
		t.Errorf("the first: %v; the others: %v", first.err, got)
	}
	names, err := texts(t.Context(), f.read, `SELECT slug FROM species_own ORDER BY slug`)
	if want := "change 0,change 2,the first"; err != nil || strings.Join(names, ",") != want {
		t.Errorf("kept %v, %v; want %s", names, err, want)
	}
}

func keepName(t *tx, name string) error {
	_, err := t.exec(`INSERT INTO species_own (slug, strain, data) VALUES (?, '', '{}')`, name)
	return err
}

// TestReadingNeverWaits: while a change is being written, and for as long as that
// takes, every page opens, with the farm as it was before it.
func TestReadingNeverWaits(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	batch, bags := f.make(f.king(3))
	written, end, done := make(chan struct{}), make(chan struct{}), make(chan error)
	go func() {
		done <- f.writing(context.Background(), func(x *tx) error {
			_, err := x.exec(`UPDATE bags SET number = number + 10`)
			close(written)
			<-end
			return err
		})
	}()
	<-written
	for what, read := range map[string]func() error{
		"today":   func() error { _, err := f.Today(t.Context()); return err },
		"due":     func() error { _, err := f.Due(t.Context(), "", 50); return err },
		"batches": func() error { _, err := f.Batches(t.Context(), BatchFilter{}); return err },
		"batch":   func() error { _, err := f.Store.Batch(t.Context(), batch.Code); return err },
		"search":  func() error { _, err := f.FindBags(t.Context(), string(bags[0].Code[:4])); return err },
		"trace":   func() error { _, err := f.Trace(t.Context(), bags[0].Code); return err },
		"export":  func() error { return f.ExportBags(t.Context(), io.Discard) },
		"backup":  func() error { _, err := f.Backup(t.Context(), filepath.Join(t.TempDir(), "b")); return err },
	} {
		if err := read(); err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
	if n := f.bag(bags[2].Code).Number; n != 3 {
		t.Errorf("bag 3 is read as bag %d before that is kept", n)
	}
	close(end)
	if err := <-done; err != nil {
		t.Fatal(err)
	}
	if n := f.bag(bags[2].Code).Number; n != 13 {
		t.Errorf("afterwards it is bag %d", n)
	}
}

// TestWaitingForATurnEnds: who waits for a turn may stop waiting, and then
// nothing of it is written.
func TestWaitingForATurnEnds(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.turn <- struct{}{} // somebody writes
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error)
	go func() { done <- f.writing(ctx, func(*tx) error { t.Error("written all the same"); return nil }) }()
	cancel()
	if err := <-done; !errors.Is(err, context.Canceled) {
		t.Errorf("ended with %v", err)
	}
	<-f.turn
}

// TestVanishedFolder: SQLite goes on writing to a file that was moved away; the
// farm does not call that kept.
func TestVanishedFolder(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(1))
	if err := os.Rename(f.dir, f.dir+" elsewhere"); err != nil {
		t.Fatal(err)
	}
	d := grow.Draft{ID: f.id(), Bag: bags[0].Code, Kind: grow.KindLook}
	_, _, _, err := f.AddEntry(t.Context(), f.by, d)
	if err == nil || !strings.Contains(err.Error(), "no longer where it was: nothing was saved") || strings.Contains(err.Error(), f.dir) {
		t.Errorf("with the folder moved away: %v", err)
	}
	if err := os.Rename(f.dir+" elsewhere", f.dir); err != nil {
		t.Fatal(err)
	}
	if _, b, created, err := f.AddEntry(t.Context(), f.by, d); err != nil || !created || len(b.Entries) != 1 {
		t.Errorf("with the folder back: %d entries, created %t, %v", len(b.Entries), created, err)
	}
	f.sound()
}
