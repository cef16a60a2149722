package store

import (
	"database/sql"
	"encoding/json"
	"flag"
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"bagmark/grow"
)

var bigFarm = flag.Int("bags", 2000, "how many bags the big farm of BenchmarkBag has, 20 entries each; 20000 for the whole figure")

// BenchmarkAddEntry keeps entries on a farm of ordinary size and, in the same
// run, single rows in a bare database with the same settings. The ratio says
// what judging, hashing, the status and the answer cost beside the flush to the
// disk.
func BenchmarkAddEntry(b *testing.B) {
	f := newLabFarm(b)
	var bags []BagRef
	for range 5 {
		_, more := f.make(f.king(40))
		bags = append(bags, more...)
	}
	f.days(20)
	for day := range 10 {
		drafts := make([]grow.Draft, len(bags))
		for i, g := range bags {
			drafts[i] = grow.Draft{ID: f.id(), Bag: g.Code, Kind: grow.KindColonised, Details: grow.Details{Pct: new(float64(day * 9))}}
		}
		if _, err := f.AddEntries(b.Context(), f.by, drafts); err != nil {
			b.Fatal(err)
		}
	}
	insert := bareInsert(b)
	var ours, bare time.Duration
	for n := 0; b.Loop(); n++ {
		start := time.Now()
		f.add(bags[n%len(bags)].Code, grow.KindLook)
		ours += time.Since(start)
		start = time.Now()
		insert(n)
		bare += time.Since(start)
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(float64(ours.Microseconds())/float64(b.N), "µs/entry")
	b.ReportMetric(float64(bare.Microseconds())/float64(b.N), "µs/row")
	b.ReportMetric(float64(ours)/float64(bare), "times-a-bare-row")
}

// bareInsert commits one row of an entry's size with the farm's settings.
func bareInsert(b *testing.B) func(n int) {
	db, err := sql.Open("sqlite3", dsn(filepath.Join(b.TempDir(), "bare.db"), "_journal_mode=WAL&_synchronous=FULL&_foreign_keys=1&_txlock=immediate"))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { db.Close() })
	db.SetMaxOpenConns(1)
	if _, err := db.Exec(`CREATE TABLE rows (seq INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, detail TEXT NOT NULL, hash BLOB NOT NULL) STRICT`); err != nil {
		b.Fatal(err)
	}
	hash := make([]byte, 32)
	return func(n int) {
		if _, err := db.Exec(`INSERT INTO rows (id, detail, hash) VALUES (?, '{}', ?)`, fmt.Sprintf("30000000-0000-4000-8000-%012d", n), hash); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkWriters keeps entries from one caller and from 16 at once, in turn
// on a farm whose callers take each other along and on one where each writes
// alone.
func BenchmarkWriters(b *testing.B) {
	for _, callers := range []int{1, 16} {
		b.Run(fmt.Sprintf("%d callers", callers), func(b *testing.B) {
			together, apart := newWriters(b, callers), newWriters(b, callers)
			apart.changes = nil // nobody is taken along
			var first, second []time.Duration
			for b.Loop() {
				first = append(first, together.round())
				second = append(second, apart.round())
			}
			mid, midApart := median(first), median(second) // other work on the machine hits single rounds
			each := float64(callers * roundEntries)
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(each/mid.Seconds(), "entries/s-together")
			b.ReportMetric(each/midApart.Seconds(), "entries/s-apart")
			b.ReportMetric(float64(midApart)/float64(mid), "times-apart")
		})
	}
}

func median(d []time.Duration) time.Duration {
	slices.Sort(d)
	return d[len(d)/2]
}

// roundEntries is how many entries each caller keeps in a round.
const roundEntries = 10

// writers are callers at work, each on bags of its own.
type writers struct {
	*labFarm
	callers int
	bags    []BagRef
	rounds  int
}

func newWriters(b *testing.B, callers int) *writers {
	w := &writers{labFarm: newLabFarm(b), callers: callers}
	for range callers {
		_, bags := w.make(w.king(10 * roundEntries))
		w.bags = append(w.bags, bags...)
	}
	return w
}

func (w *writers) round() time.Duration {
	var all sync.WaitGroup
	w.rounds++
	start := time.Now()
	for i := range w.callers {
		all.Go(func() {
			for n := range roundEntries {
				bag := w.bags[i*10*roundEntries+(w.rounds*roundEntries+n)%(10*roundEntries)]
				d := grow.Draft{ID: grow.ID(fmt.Sprintf("50000000-0000-4000-8000-%06d%03d%03d", w.rounds, i, n)), Bag: bag.Code, Kind: grow.KindNote, Details: grow.Details{Text: "x"}}
				if _, _, _, err := w.AddEntry(w.t.Context(), w.by, d); err != nil {
					w.t.Error(err)
				}
			}
		})
	}
	all.Wait()
	return time.Since(start)
}

// BenchmarkBag opens bags of a large farm and of a small one in turn: opening
// one should not grow with the farm.
func BenchmarkBag(b *testing.B) {
	small, few := grownFarm(b, 200)
	large, many := grownFarm(b, *bigFarm)
	var first, second time.Duration
	for n := 0; b.Loop(); n++ {
		start := time.Now()
		small.bag(few[n*7919%len(few)])
		first += time.Since(start)
		start = time.Now()
		large.bag(many[n*7919%len(many)])
		second += time.Since(start)
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(float64(first.Microseconds())/float64(b.N), "µs/small")
	b.ReportMetric(float64(second.Microseconds())/float64(b.N), "µs/large")
	b.ReportMetric(float64(second)/float64(first), "times-a-small-farm")
}

// grownFarm is a farm of so many bags in batches of 40, each with 20 entries,
// written straight into the tables.
func grownFarm(b *testing.B, bags int) (*labFarm, []grow.Code) {
	b.Helper()
	f := newLabFarm(b)
	var codes []grow.Code
	for len(codes) < bags {
		_, refs := f.make(f.king(40))
		for _, r := range refs {
			codes = append(codes, r.Code)
		}
		f.clock.move(time.Hour)
	}
	f.days(30)
	farm, err := f.Farm(b.Context())
	if err != nil {
		b.Fatal(err)
	}
	err = f.writing(b.Context(), func(t *tx) error {
		stmt, err := t.PrepareContext(t.ctx, `INSERT INTO entries (id, bag_id, kind, at, received_at, by_person, device, detail, sent_sha256, hash) VALUES (?, ?, 'colonised', ?, ?, 'Ana', 'phone', ?, zeroblob(32), zeroblob(32))`)
		if err != nil {
			return err
		}
		rows, err := t.bagRows(`1 ORDER BY g.id`)
		if err != nil {
			return err
		}
		for _, g := range rows {
			log := make([]grow.Entry, 20)
			for i := range log {
				at := t.now.Add(time.Duration(i-24) * 24 * time.Hour)
				log[i] = grow.Entry{ID: grow.ID(fmt.Sprintf("40000000-0000-4000-8000-%08d%04d", g.id, i)), Kind: grow.KindColonised, At: at, ReceivedAt: at, Seq: int64(i), Details: grow.Details{Pct: new(float64(i * 4))}}
				detail, err := json.Marshal(log[i].Details)
				if err != nil {
					return err
				}
				if _, err := stmt.Exec(string(log[i].ID), g.id, micros(at), micros(at), string(detail)); err != nil {
					return err
				}
			}
			if err := t.saveStatus(g.id, grow.Replay(grow.Start{}, log, farm.Conditions)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	return f, codes
}
