package store

import (
	"testing"
)

// BenchmarkYield asks a farm of 100,000 bags in 4,000 batches what they gave: by
// a condition that differs inside batches, by one of whole batches, by species.
func BenchmarkYield(b *testing.B) {
	f := statisticsFarm(b, 4000, 2000)
	for _, by := range []string{"flow_hood", "recipe", "strain", BySpecies, ""} {
		ask := func() error {
			_, err := f.Yield(b.Context(), YieldQuery{By: by})
			return err
		}
		if err := ask(); err != nil { // the records are kept from here on, the answer is not
			b.Fatal(err)
		}
		b.Run("by "+by, func(b *testing.B) {
			measured(b, f, func() error {
				f.counts.Lock()
				f.counts.records.memo.answers = nil
				f.counts.Unlock()
				return ask()
			})
		})
	}
}
