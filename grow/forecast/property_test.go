package forecast

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func drawLaw(t *rapid.T) Law {
	low := rapid.Float64Range(3, 60).Draw(t, "low")
	return FromRange(low, low*rapid.Float64Range(1, 4).Draw(t, "times"))
}

func drawSpans(t *rapid.T) []Span {
	var out []Span
	for range rapid.IntRange(0, 20).Draw(t, "bags") {
		l := float64(rapid.IntRange(0, 60).Draw(t, "left"))
		s := Span{l, l + float64(rapid.IntRange(0, 10).Draw(t, "width"))}
		if rapid.IntRange(0, 2).Draw(t, "running") == 0 {
			s = Running(l)
		}
		out = append(out, s)
	}
	return out
}

// Quantiles rise with their probability, and none lies before the last "not yet".
func TestQuantilesRise(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		law, spans := drawLaw(t), drawSpans(t)
		after := float64(rapid.IntRange(0, 90).Draw(t, "after"))
		b := law.Observe(append(spans, Running(after)))
		last := after
		for _, p := range []float64{0.01, 0.1, 0.5, 0.9, 0.99} {
			q := b.Quantile(p, after)
			if math.IsNaN(q) || math.IsInf(q, 0) || q < last-1e-9 {
				t.Fatalf("quantile %g is %g after %g", p, q, last)
			}
			if done := b.DoneBy(q, after); math.Abs(done-p) > 1e-6 {
				t.Fatalf("quantile %g is day %g, by which %g are done", p, q, done)
			}
			last = q
		}
	})
}

// A bag among the spans gives the same law as its sisters' law cut at its own "not yet".
func TestOwnSpanIsACut(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		law, spans := FromRange(14, 28), drawSpans(t)
		after := float64(rapid.IntRange(1, 30).Draw(t, "after"))
		own := law.Observe(append(append([]Span(nil), spans...), Running(after)))
		others := law.Observe(spans)
		day := after + float64(rapid.IntRange(1, 20).Draw(t, "days"))
		before := others.DoneBy(after, 0)
		if before > 1-1e-6 {
			return
		}
		want := (others.DoneBy(day, 0) - before) / (1 - before)
		if got := own.DoneBy(day, after); math.Abs(got-want) > 1e-6 {
			t.Errorf("done by %g: %g, cut %g", day, got, want)
		}
	})
}

// More batches of the same kind never leave the law less sure of the farm's mean.
func TestMoreHistoryNarrows(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		law := FromRange(14, 28)
		batch := []Span{{12, 15}, {15, 18}, {15, 18}, {18, 21}}
		var h History
		sd := law.SD
		for range rapid.IntRange(1, 8).Draw(t, "batches") {
			h = append(h, batch)
			got := law.Learn(h)
			if got.SD >= sd {
				t.Fatalf("%d batches: %g, before %g", len(h), got.SD, sd)
			}
			sd = got.SD
		}
	})
}

// Whatever was logged, a forecast is three finite days in order, none before the last "not yet".
func FuzzBag(f *testing.F) {
	f.Add(12.0, 24.0, 10.0, 10.0, 0.4, 12.0, 15.0, 18.0)
	f.Add(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
	f.Add(12.0, 24.0, 900.0, 900.0, 0.5, 3.0, 3.0, 3.0)
	f.Add(math.NaN(), math.Inf(1), math.NaN(), math.Inf(1), math.NaN(), math.Inf(1), -1.0, math.Inf(-1))
	f.Fuzz(func(t *testing.T, low, high, after, day, share, left, right, later float64) {
		h := History{{{left, right}, {left, later}, {right, later}, Running(left)}, {{left, right}, {left, right}, {left, later}}}
		law := FromRange(low, high).Learn(h)
		bag := Bag{Span: Running(after), Reading: &Reading{day, share}, Today: after}
		for _, b := range []Bag{bag, {Span: Running(after)}, {Span: Span{after, right}}} {
			got := law.Bag(b, []Span{{left, right}, Running(later)})
			d := got.Colonised
			for _, x := range []float64{d.Early, d.Likely, d.Late} {
				if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
					t.Fatalf("law %+v, bag %+v: %+v", law, b, d)
				}
			}
			if d.Early > d.Likely*(1+1e-9) || d.Likely > d.Late*(1+1e-9) {
				t.Fatalf("out of order: law %+v, bag %+v: %+v", law, b, d)
			}
		}
	})
}
