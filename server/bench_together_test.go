package server

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"runtime/debug"
	"slices"
	"sync"
	"testing"
	"time"

	_ "github.com/mattn/go-sqlite3" // the database, bare
)

// BenchmarkPostTogether is 16 phones tapping at once over HTTP and, in turn, as
// many bare rows committed one by one with the farm's settings. "times-bare" is
// the taps' rate against that of the rows; "p99-times-alone" is the slowest tap
// in a hundred against the median of one phone's taps, alone on the farm.
func BenchmarkPostTogether(b *testing.B) {
	const phones, each = 16, 10
	defer debug.SetGCPercent(debug.SetGCPercent(GCPercent))
	h := newHouse(b)
	var bags []string
	for range 8 {
		_, more := h.kings("40", "")
		bags = append(bags, more...)
	}
	insert := bareRows(b)
	n := 0
	tap := func(n int) time.Duration {
		start := time.Now()
		h.do(h.request("POST", "/api/v1/bags/"+bags[n%len(bags)]+"/entries", fmt.Sprintf(`{"id":%q,"kind":"look"}`, id(n))), 201)
		return time.Since(start)
	}
	var alone, taps, rounds, bare []time.Duration
	for b.Loop() {
		for range each {
			n++
			alone = append(alone, tap(n))
		}
		took := make([][]time.Duration, phones)
		var all sync.WaitGroup
		start := time.Now()
		for i := range took {
			all.Go(func() {
				for k := range each {
					took[i] = append(took[i], tap(n+1+i*each+k))
				}
			})
		}
		all.Wait()
		rounds = append(rounds, time.Since(start))
		taps, n = append(taps, slices.Concat(took...)...), n+phones*each
		start = time.Now()
		for range phones * each {
			insert()
		}
		bare = append(bare, time.Since(start))
	}
	slices.Sort(taps)
	mid, midBare := middle(rounds), middle(bare) // other work on the machine hits single rounds
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(phones*each/mid.Seconds(), "taps/s")
	b.ReportMetric(phones*each/midBare.Seconds(), "rows/s")
	b.ReportMetric(float64(midBare)/float64(mid), "times-bare")
	b.ReportMetric(float64(taps[len(taps)*99/100])/float64(middle(alone)), "p99-times-alone")
}

func middle(d []time.Duration) time.Duration {
	slices.Sort(d)
	return d[len(d)/2]
}

// bareRows commits a row of an entry's size at each call, with the farm's settings.
func bareRows(b *testing.B) func() {
	db, err := sql.Open("sqlite3", "file:"+filepath.Join(b.TempDir(), "bare.db")+"?_journal_mode=WAL&_synchronous=FULL&_foreign_keys=1&_txlock=immediate")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { db.Close() })
	db.SetMaxOpenConns(1)
	if _, err := db.Exec(`CREATE TABLE rows (seq INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, detail TEXT NOT NULL, hash BLOB NOT NULL) STRICT`); err != nil {
		b.Fatal(err)
	}
	n, hash := 0, make([]byte, 32)
	return func() {
		n++
		if _, err := db.Exec(`INSERT INTO rows (id, detail, hash) VALUES (?, '{}', ?)`, id(n), hash); err != nil {
			b.Fatal(err)
		}
	}
}
