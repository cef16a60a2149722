package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
	"github.com/mattn/go-sqlite3"
)

// faults makes one statement of the writing connection fail, as a failing disk
// would.
type faults struct {
	sync.Mutex
	left int // statements until the one that fails; 0: none does
	err  error
}

func (f *faults) set(after int, err error) {
	f.Lock()
	f.left, f.err = after, err
	f.Unlock()
}

// hit counts a statement and is its failure, if it is the one.
func (f *faults) hit() error {
	f.Lock()
	defer f.Unlock()
	if f.left == 0 {
		return nil
	}
	if f.left--; f.left == 0 {
		return f.err
	}
	return nil
}

// pending tells whether the fault has not come yet.
func (f *faults) pending() bool {
	f.Lock()
	defer f.Unlock()
	return f.left > 0
}

// The driver below is SQLite's with the faults in front.

type faultyConnector struct {
	dsn    string
	faults *faults
}

func (c faultyConnector) Driver() driver.Driver { return &sqlite3.SQLiteDriver{} }

func (c faultyConnector) Connect(context.Context) (driver.Conn, error) {
	conn, err := c.Driver().Open(c.dsn)
	if err != nil {
		return nil, err
	}
	return faultyConn{conn.(*sqlite3.SQLiteConn), c.faults}, nil
}

type faultyConn struct {
	*sqlite3.SQLiteConn
	faults *faults
}

func (c faultyConn) BeginTx(ctx context.Context, o driver.TxOptions) (driver.Tx, error) {
	if err := c.faults.hit(); err != nil {
		return nil, err
	}
	t, err := c.SQLiteConn.BeginTx(ctx, o)
	return faultyTx{t, c.faults}, err
}

func (c faultyConn) ExecContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Result, error) {
	if err := c.faults.hit(); err != nil {
		return nil, err
	}
	return c.SQLiteConn.ExecContext(ctx, query, args)
}

func (c faultyConn) QueryContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Rows, error) {
	if err := c.faults.hit(); err != nil {
		return nil, err
	}
	return c.SQLiteConn.QueryContext(ctx, query, args)
}

func (c faultyConn) PrepareContext(ctx context.Context, query string) (driver.Stmt, error) {
	if err := c.faults.hit(); err != nil {
		return nil, err
	}
	return c.SQLiteConn.PrepareContext(ctx, query)
}

type faultyTx struct {
	driver.Tx
	faults *faults
}

func (t faultyTx) Commit() error {
	if err := t.faults.hit(); err != nil {
		return errors.Join(err, t.Rollback())
	}
	return t.Tx.Commit()
}

// breakable puts the faults in front of the farm's writing connection.
func (f *labFarm) breakable() *faults {
	f.t.Helper()
	if err := f.write.Close(); err != nil {
		f.t.Fatal(err)
	}
	faults := &faults{}
	f.write = sql.OpenDB(faultyConnector{dsn(filepath.Join(f.dir, databaseName), writingMode), faults})
	f.write.SetMaxOpenConns(1)
	return faults
}

var failures = map[string]error{
	"a full disk":    sqlite3.Error{Code: sqlite3.ErrFull},
	"a failing disk": sqlite3.Error{Code: sqlite3.ErrIoErr},
	"a locked file":  sqlite3.Error{Code: sqlite3.ErrBusy},
}

// TestFaultAtEveryStatement makes each statement of each act of writing fail in
// turn. Each time the words are plain, nothing of it is there, and the same act
// succeeds once the disk is well again.
func TestFaultAtEveryStatement(t *testing.T) {
	t.Parallel()
	for name, act := range writingActs() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f := newLabFarm(t)
			stage := newStage(f)
			faults := f.breakable()
			statements := 0
			for why, failure := range failures {
				for n := 1; ; n++ {
					before := f.everything()
					faults.set(n, failure)
					err := act(f, stage)
					if faults.pending() {
						faults.set(0, nil)
						statements = n
						break // all of them have failed once
					}
					wantPlainRefusal(t, fmt.Sprintf("%s at statement %d", why, n), err)
					if diff := cmp.Diff(before, f.everything()); diff != "" {
						t.Fatalf("%s at statement %d left behind (-before +after):\n%s", why, n, diff)
					}
				}
				stage.next()
			}
			if err := act(f, stage); err != nil {
				t.Errorf("with all well: %v", err)
			}
			if statements < 5 {
				t.Errorf("only %d statements were tried", statements)
			}
			f.sound()
		})
	}
}

func wantPlainRefusal(t *testing.T, what string, err error) {
	t.Helper()
	var e *grow.Error
	if !errors.As(err, &e) || e.Kind != grow.Internal && e.Kind != grow.Busy {
		t.Fatalf("%s: %v, want a refusal in plain words", what, err)
	}
	if !strings.Contains(e.Message, "nothing was saved") && !strings.Contains(e.Message, "try again in a moment") {
		t.Fatalf("%s: %q does not say what became of it", what, e.Message)
	}
}

// stage is a small farm with something for every act; next gives each act new
// ids and names, so that it is new again.
type stage struct {
	f      *labFarm
	batch  grow.BatchCode
	bags   []BagRef
	blanks []BagRef
	looked grow.ID
	round  int
	ids    [4]grow.ID
}

func newStage(f *labFarm) *stage {
	f.t.Helper()
	s := &stage{f: f}
	b, bags := f.make(f.king(6))
	s.batch, s.bags = b.Code, bags
	f.days(20)
	var err error
	if s.blanks, _, err = f.CreateBlanks(f.t.Context(), f.by, LabelsDraft{Count: 12}); err != nil {
		f.t.Fatal(err)
	}
	for _, g := range bags[:4] { // enough grown over that its law is the farm's own
		f.add(g.Code, grow.KindColonised, grow.Details{Pct: new(100.0)})
	}
	s.next()
	return s
}

func (s *stage) next() {
	s.round++
	for i := range s.ids {
		s.ids[i] = s.f.id()
	}
	s.looked = s.f.add(s.bags[5].Code, grow.KindLook).Entries[0].ID
}

func (s *stage) name(what string) string { return fmt.Sprintf("%s %d", what, s.round) }

func (s *stage) draft(i int, kind grow.EntryKind, d grow.Details) grow.Draft {
	return grow.Draft{ID: s.ids[i], Bag: s.bags[i].Code, Kind: kind, Details: d}
}

// writingActs are the ways in which a farm is written to while people work.
func writingActs() map[string]func(*labFarm, *stage) error {
	ctx := context.Background()
	return map[string]func(*labFarm, *stage) error{
		"an entry that makes a place": func(f *labFarm, s *stage) error {
			_, _, _, err := f.AddEntry(ctx, f.by, s.draft(0, grow.KindMove, grow.Details{Place: s.name("rack")}))
			return err
		},
		"an entry that laws rest on": func(f *labFarm, s *stage) error {
			_, _, _, err := f.AddEntry(ctx, f.by, s.draft(1, grow.KindColonised, grow.Details{Pct: new(float64(100 - s.round))}))
			return err
		},
		"an entry taken back": func(f *labFarm, s *stage) error {
			_, _, _, err := f.AddEntry(ctx, f.by, grow.Draft{ID: s.ids[0], Bag: s.bags[5].Code, Kind: grow.KindVoid, Details: grow.Details{Entry: s.looked}})
			return err
		},
		"an outbox": func(f *labFarm, s *stage) error {
			_, err := f.AddEntries(ctx, f.by, []grow.Draft{s.draft(0, grow.KindMove, grow.Details{Place: s.name("rack")}), s.draft(1, grow.KindRelease, grow.Details{}), s.draft(2, grow.KindContaminated, grow.Details{What: "yeast"})})
			return err
		},
		"a lab day": func(f *labFarm, s *stage) error {
			d := f.king(2, func(d *grow.BatchDraft) {
				d.SpawnLot, d.SteriliserRun, d.Place = new(s.name("rye")), new(s.name("run")), new(s.name("room"))
				d.Conditions = map[string]*string{"flow_hood": new("on")}
				d.BagConditions = []grow.BagConditions{{Bags: "2", Conditions: map[string]*string{"flow_hood": new("off")}}}
			})
			other := f.king(1)
			other.Species = "pleurotus-ostreatus"
			_, err := f.CreateLabDay(ctx, f.by, []grow.BatchDraft{d, other}, nil)
			return err
		},
		"a corrected batch": func(f *labFarm, s *stage) error {
			_, err := f.PatchBatch(ctx, f.by, s.batch, func(b *grow.BatchFields) error {
				b.Strain, b.Place, b.Note = new(s.name("K")), new(s.name("room")), new(s.name("note"))
				return nil
			})
			return err
		},
		"blanks taken": func(f *labFarm, s *stage) error {
			_, _, _, err := f.AddBlanks(ctx, f.by, s.batch, BlanksDraft{Blanks: []grow.Code{s.blanks[s.round].Code}})
			return err
		},
		"bags seen on a round": func(f *labFarm, s *stage) error {
			r := Round{ID: s.ids[3], Place: s.name("rack"), BeganAt: f.clock.now()}
			return f.See(ctx, f.by, r, f.clock.now(), s.bags[0].Code, s.bags[1].Code)
		},
		"a place with another name": func(f *labFarm, s *stage) error {
			rooms, err := f.Rooms(ctx)
			if err == nil && len(rooms) == 0 {
				_, _, err = f.CreatePlace(ctx, f.by, "rack 0 > shelf 1")
			}
			if err == nil && len(rooms) > 0 {
				_, err = f.RenamePlace(ctx, f.by, rooms[0].Code, s.name("rack"))
			}
			return err
		},
		"two labels swapped": func(f *labFarm, s *stage) error {
			return f.SwapLabels(ctx, f.by, s.bags[0].Code, s.bags[1].Code)
		},
		"a new label": func(f *labFarm, s *stage) error {
			_, err := f.NewLabel(ctx, f.by, s.blanks[0].Code, nil)
			if grow.KindOf(err) == grow.NotFound { // the first time it is a blank
				_, err = f.NewLabel(ctx, f.by, s.bags[4].Code, &s.blanks[0].Code)
			}
			return err
		},
		"a photo": func(f *labFarm, s *stage) error {
			_, _, err := f.AddPhoto(ctx, f.by, Picture{JPEG: []byte("as it is kept"), Width: 1, Height: 1, SentSHA256: sha256.Sum256([]byte(s.name("picture")))})
			return err
		},
		"readings of a new room": func(f *labFarm, s *stage) error {
			_, err := f.AddReadings(ctx, f.by, s.name("room"), airAt(f.clock.now().Add(-time.Hour), time.Minute, 21, 22), nil, FromSensor)
			return err
		},
		"bags from a spreadsheet": func(f *labFarm, s *stage) error {
			_, err := f.Import(ctx, f.by, []byte("batch,species,inoculated_on,place,colonised_on\n"+s.name("old")+",pleurotus-eryngii,2026-11-20,"+s.name("shed")+",2026-12-01\n"))
			return err
		},
	}
}

// TestFaultAmongWritersTogether makes each statement fail in turn while two
// entries of different bags are written together: each caller hears what became
// of its own.
func TestFaultAmongWritersTogether(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(2))
	faults := f.breakable()
	for n := 1; ; n++ {
		drafts := []grow.Draft{{ID: f.id(), Bag: bags[0].Code, Kind: grow.KindLook}, {ID: f.id(), Bag: bags[1].Code, Kind: grow.KindShake}}
		faults.set(n, sqlite3.Error{Code: sqlite3.ErrFull})
		errs := f.addTogether(drafts)
		if faults.pending() {
			faults.set(0, nil)
			break
		}
		if errs[0] == nil && errs[1] == nil {
			t.Fatalf("statement %d failed and nobody heard of it", n)
		}
		for i, d := range drafts {
			stored := 0
			if err := f.read.QueryRow(`SELECT count(*) FROM entries WHERE id = ?`, string(d.ID)).Scan(&stored); err != nil {
				t.Fatal(err)
			}
			if (stored == 1) != (errs[i] == nil) {
				t.Fatalf("a full disk at statement %d: entry %d is there %d times, its caller hears %v", n, i, stored, errs[i])
			}
		}
	}
	f.sound()
}

// addTogether keeps entries in one transaction.
func (f *labFarm) addTogether(drafts []grow.Draft) []error {
	changes := f.changes
	defer func() { f.changes = changes }()
	f.changes = make(chan *change, len(drafts))
	f.turn <- struct{}{}
	errs := make([]error, len(drafts))
	var all sync.WaitGroup
	for i, d := range drafts {
		all.Go(func() { _, _, _, errs[i] = f.AddEntry(f.t.Context(), f.by, d) })
	}
	for len(f.changes) < len(drafts) {
		runtime.Gosched()
	}
	for f.together(<-f.changes); len(f.changes) > 0; f.together(<-f.changes) { // again if the first was refused
		f.turn <- struct{}{}
	}
	all.Wait()
	return errs
}
