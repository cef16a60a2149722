package scanner

import (
	"context"
	"sync"
	"testing"
	"time"
)

// TestQuickRates is a floor under the full measurement: a few pictures of every
// condition, far below what is usual, and no label taken for another.
func TestQuickRates(t *testing.T) {
	t.Parallel()
	var sum tally
	r := NewReader(0)
	for _, condition := range frameConditions {
		for seed := range uint64(2) {
			sum.score(t, r, frame(t, condition, 900+seed), condition)
		}
	}
	sum.score(t, r, wide(t, "several", 901), "several")
	t.Log(sum.line("quick"))
	if sum.certain+sum.matched < sum.labels*3/4 {
		t.Errorf("read %d of %d labels", sum.certain+sum.matched, sum.labels)
	}
	if sum.wrongCertain+sum.wrongMatched > 0 {
		t.Errorf("%d labels were taken for others", sum.wrongCertain+sum.wrongMatched)
	}
	for seed := range uint64(14) {
		s, kind := empty(t, "empty", 900+seed), emptyKinds[(900+seed)%uint64(len(emptyKinds))]
		res, err := r.Read(t.Context(), s.data, Options{Known: knownFarm(*ratesKnown, nil)})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range res.Found {
			if !f.Certain || f.Kind != Other && kind != "stranger" {
				t.Errorf("%s: found %+v in a picture without our labels", kind, f)
			}
		}
	}
}

// TestReadTogether: one reader serves many goroutines, which share its book.
func TestReadTogether(t *testing.T) {
	t.Parallel()
	r := NewReader(100)
	shots := []shot{frame(t, "wrinkles", 5), frame(t, "pen", 5), frame(t, "defocus", 6), wide(t, "several", 5)}
	var wait sync.WaitGroup
	for i := range 12 {
		wait.Add(1)
		go func() {
			defer wait.Done()
			s := shots[i%len(shots)]
			if _, err := r.Read(context.Background(), s.data, Options{Known: knownFarm(50+i, s.truths)}); err != nil {
				t.Error(err)
			}
		}()
	}
	wait.Wait()
}

// BenchmarkRead reads frames of all conditions and tells the time as a multiple of
// what the library alone takes for the same pictures in the same run.
func BenchmarkRead(b *testing.B) {
	var shots []shot
	for _, condition := range frameConditions {
		shots = append(shots, frame(b, condition, 31))
	}
	r := NewReader(0)
	var ours, library time.Duration
	for b.Loop() {
		for _, s := range shots {
			start := time.Now()
			if _, err := r.Read(b.Context(), s.data, Options{}); err != nil {
				b.Fatal(err)
			}
			ours += time.Since(start)
			start = time.Now()
			libraryTexts(b, s.data)
			library += time.Since(start)
		}
	}
	b.ReportMetric(float64(ours)/float64(library), "x-library")
}
