package store

import (
	"fmt"
	"testing"
	"time"

	"bagmark/grow"
)

// BenchmarkDescent asks what came from the first culture of a farm of 5,000 lots,
// five generations deep, with 500 batches of ten bags, every second bag with a jar
// of its own: the lot's page and the recall list, each beside the list of the
// same bags that no descent is asked of.
func BenchmarkDescent(b *testing.B) {
	f := newLabFarm(b)
	f.manyLots(5000, 500)
	plain := median(timed5(b, func() error {
		return f.reading(b.Context(), func(t *tx) error {
			farm, err := f.Farm(b.Context())
			if err != nil {
				return err
			}
			_, err = t.hits(farm, `1`)
			return err
		})
	}))
	for name, ask := range map[string]func() error{
		"page":   func() error { _, err := f.Lot(b.Context(), "lot 0"); return err },
		"recall": func() error { _, err := f.Recall(b.Context(), "lot 0"); return err },
	} {
		b.Run(name, func(b *testing.B) {
			var all []time.Duration
			for b.Loop() {
				start := time.Now()
				if err := ask(); err != nil {
					b.Fatal(err)
				}
				all = append(all, time.Since(start))
			}
			b.ReportMetric(float64(median(all))/float64(plain), "times-plain-list")
		})
	}
}

// timed5 is how long something took, five times.
func timed5(b *testing.B, do func() error) []time.Duration {
	b.Helper()
	var out []time.Duration
	for range 5 {
		start := time.Now()
		if err := do(); err != nil {
			b.Fatal(err)
		}
		out = append(out, time.Since(start))
	}
	return out
}

// manyLots fills a farm with lots, each but the first made from the one a fifth
// before it, and with batches of ten bags of the last of them.
func (f *labFarm) manyLots(lots, batches int) {
	f.t.Helper()
	err := f.writing(f.t.Context(), func(t *tx) error {
		for i := range lots {
			from := []string{}
			if i > 0 {
				from = []string{fmt.Sprintf("lot %d", i/7)}
			}
			d := grow.LotDraft{LotFields: grow.LotFields{Kind: grow.SpawnLot, Name: fmt.Sprintf("lot %d", i), MadeFrom: from}}
			if i >= lots-batches {
				d.Jars = 1
			}
			if _, _, err := t.createLot(f.by, d); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		f.t.Fatal(err)
	}
	for i := lots - batches; i < lots; i++ {
		_, bags := f.make(f.king(10, func(d *grow.BatchDraft) { d.SpawnLot = new(fmt.Sprintf("lot %d", i)) }))
		jar := f.lotWhole(fmt.Sprintf("lot %d", i)).Jars[0].Code
		if _, err := f.write.Exec(`UPDATE bags SET spawn_jar = ? WHERE number % 2 = 0 AND code IN (SELECT value FROM json_each(?))`, string(jar), jsonList(codesOf(bags))); err != nil {
			f.t.Fatal(err)
		}
	}
}

func codesOf(bags []BagRef) []grow.Code {
	out := make([]grow.Code, len(bags))
	for i, b := range bags {
		out[i] = b.Code
	}
	return out
}
