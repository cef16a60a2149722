package forecast

import (
	"math"
	"testing"
)

// spans of a batch looked at every three days.
var finished = []Span{{12, 15}, {15, 18}, {15, 18}, {18, 21}}

func TestBag(t *testing.T) {
	t.Parallel()
	law := FromRange(14, 28)
	tests := []struct {
		name          string
		bag           Bag
		sisters       []Span
		known         bool
		slow, overdue bool
		from, to      float64 // where the likely day must lie
	}{
		{"nothing known", Bag{Span: Running(0), Today: 3}, nil, false, false, false, 19.7, 19.9},
		{"not yet on day 24", Bag{Span: Running(24), Today: 24}, nil, false, false, false, 25, 30},
		{"late, but 1 in 20 are later", Bag{Span: Running(31), Today: 31}, nil, false, false, false, 31, 40},
		{"a reading too small to use is still a not yet", Bag{Span: Running(0), Reading: &Reading{20, 0.03}, Today: 20}, nil, false, true, false, 21, 28},
		{"past the day of 19 in 20", Bag{Span: Running(36), Today: 36}, nil, false, false, true, 36, 45},
		{"never looked at and long past", Bag{Span: Running(0), Today: 50}, nil, false, false, true, 19.7, 19.9},
		{"sisters were early", Bag{Span: Running(12), Today: 12}, []Span{{6, 9}, {6, 9}, {9, 12}}, false, false, false, 12, 14},
		{"40 in 100 on day 10", Bag{Span: Running(10), Reading: &Reading{10, 0.4}, Today: 10}, nil, false, false, false, 19.8, 20.9},
		{"reading far behind", Bag{Span: Running(16), Reading: &Reading{16, 0.06}, Today: 16}, nil, false, true, false, 25, 26},
		{"nothing on the wall on day 14", Bag{Span: Running(14), Reading: &Reading{14, 0}, Today: 14}, nil, false, true, false, 19, 24},
		{"nothing on the wall on day 1", Bag{Span: Running(1), Reading: &Reading{1, 0}, Today: 1}, nil, false, false, false, 19.7, 19.9},
		{"seen grown over", Bag{Span: Span{15, 18}, Today: 30}, finished, true, false, false, 18, 18},
		{"a reading of 99 is grown over", Bag{Span: Running(15), Reading: &Reading{18, 0.99}, Today: 18}, nil, true, false, false, 18, 18},
		{"grown over on day 0", Bag{Span: Span{0, 0}}, nil, true, false, false, 0.5, 0.5},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got := law.Bag(tt.bag, tt.sisters)
			if got.Known != tt.known || got.Slow != tt.slow || got.Overdue != tt.overdue {
				t.Errorf("known %t slow %t overdue %t", got.Known, got.Slow, got.Overdue)
			}
			if d := got.Colonised; !(d.Likely >= tt.from && d.Likely <= tt.to) || d.Early > d.Likely || d.Likely > d.Late {
				t.Errorf("got %+v, likely in %g to %g", d, tt.from, tt.to)
			}
		})
	}
}

// While no bag of the batch is finished a reading meets the law of a new bag; once one is, that of the batch.
func TestReadingMeetsItsBatch(t *testing.T) {
	t.Parallel()
	law := FromRange(14, 28)
	bag := Bag{Span: Running(10), Reading: &Reading{10, 0.4}, Today: 10}
	alone := law.Bag(bag, nil).Colonised
	if got := law.Bag(bag, []Span{Running(10), Running(10)}).Colonised; got != alone {
		t.Errorf("with sisters running: %+v, alone %+v", got, alone)
	}
	if got := law.Bag(bag, finished).Colonised; !(got.Likely < alone.Likely && got.Late-got.Early < alone.Late-alone.Early) {
		t.Errorf("with sisters done by day 21: %+v, alone %+v", got, alone)
	}
}

// The expected share of the wall in a bag full on day 20 is 99 in 100 on that day (the definition of full) and
// 1 - 0.01^(1/8) on day 10 by Avrami's law with exponent 3.
func TestExpected(t *testing.T) {
	t.Parallel()
	for day, want := range map[float64]float64{0: 0, 10: 1 - math.Pow(0.01, 0.125), 20: 0.99} {
		if got := Expected(day, 20); math.Abs(got-want) > 1e-12 {
			t.Errorf("day %g: got %g, want %g", day, got, want)
		}
	}
}

func TestReady(t *testing.T) {
	t.Parallel()
	got := Days{12, 16, 24}.Ready(RipeningFrom(3, 10))
	if want := (Days{15, 22.5, 34}); got != want {
		t.Errorf("got %v, want %v", got, want)
	}
}

// Batches that say nothing leave the law as it is: too few finished, or no bag seen unfinished.
func TestLearnNothing(t *testing.T) {
	t.Parallel()
	law := FromRange(14, 28)
	for name, h := range map[string]History{
		"none": nil, "empty": {{}}, "two finished": {{{12, 15}, {12, 15}, Running(15)}},
		"no look before": {{{0, 15}, {0, 15}, {0, 18}}}, "all running": {{Running(9), Running(9), Running(9)}},
	} {
		if got := law.Learn(h); got != law {
			t.Errorf("%s: got %+v", name, got)
		}
	}
}

// A farm's batches move the law towards themselves and say so.
func TestLearn(t *testing.T) {
	t.Parallel()
	slow := []Span{{24, 27}, {24, 27}, {27, 30}, {27, 30}}
	law := FromRange(14, 28)
	last := law
	for n := 1; n <= 6; n++ {
		h := History{}
		for range n {
			h = append(h, slow)
		}
		got := law.Learn(h)
		if got.Basis != (Basis{OwnBatches, n}) || got.Mean <= last.Mean || got.SD >= last.SD {
			t.Errorf("after %d batches: %+v, before %+v", n, got, last)
		}
		last = got
	}
	if day := math.Exp(last.Mean); day < 24 || day > 28 {
		t.Errorf("six batches done by day 24-30 give a median of %g", day)
	}
}

// A whole batch at once gives what each bag gives by itself.
func TestBatchIsItsBags(t *testing.T) {
	t.Parallel()
	law := FromRange(14, 28)
	bags := []Bag{
		{Span: Span{12, 15}, Today: 21}, {Span: Running(18), Today: 21}, {Span: Running(18), Today: 21},
		{Span: Running(18), Reading: &Reading{18, 0.7}, Today: 21}, {Span: Running(12), Reading: &Reading{18, 0.5}, Today: 21},
		{Span: Running(15), Reading: &Reading{18, 1}, Today: 21}, {Span: Running(0), Today: 21}, {Span: Running(18), Reading: &Reading{18, 0}, Today: 21},
	}
	for i, got := range law.Batch(bags) {
		var sisters []Span
		for k, b := range bags {
			if k != i {
				sisters = append(sisters, b.legal().Span)
			}
		}
		if want := law.Bag(bags[i], sisters); got != want {
			t.Errorf("bag %d: got %+v, by itself %+v", i, got, want)
		}
	}
}

// Not yet and grown over on one day: that day is all the width there is. Nonsense leaves a span that can be used.
func TestLegalSpan(t *testing.T) {
	t.Parallel()
	inf, nan := math.Inf(1), math.NaN()
	for in, want := range map[Span]Span{
		{15, 15}: {14, 15}, {18, 15}: {14, 15}, {0, 0}: {0, 0.5}, {-3, 12}: {0, 12}, {12, -1}: {12, inf}, {inf, inf}: {0, inf},
	} {
		if got := in.legal(); got != want {
			t.Errorf("%v: got %v, want %v", in, got, want)
		}
	}
	if got := (Span{nan, nan}).legal(); got != (Span{0, inf}) {
		t.Errorf("not numbers: %v", got)
	}
}

// A range of no width still leaves room.
func TestFromRangeOfNoWidth(t *testing.T) {
	t.Parallel()
	if l := FromRange(20, 20); !(l.SD > 0.05) || math.Abs(math.Exp(l.Mean)-20) > 1e-9 {
		t.Errorf("got %+v", l)
	}
	if a, b := FromRange(28, 14), FromRange(14, 28); a != b {
		t.Errorf("ends out of order: %+v, %+v", a, b)
	}
}

// Cut far out in its tail a law still gives days in order beyond the cut: for a normal tail what is left beyond z is
// nearly exponential with rate z, so half is gone within ln 2 / z standard deviations.
func TestQuantileFarOut(t *testing.T) {
	t.Parallel()
	b := bell{math.Log(20), 0.1}
	for _, z := range []float64{4.9, 5.1, 8, 30} {
		after := math.Exp(b.mean + z*b.sd)
		d := b.days(after)
		half := (math.Log(d.Likely) - math.Log(after)) / b.sd * z
		if !(d.Early > after && d.Early < d.Likely && d.Likely < d.Late) || half < 0.9*math.Ln2 || half > math.Ln2 {
			t.Errorf("cut at %g: %+v, half within %g", z, d, half)
		}
	}
}

// By a law learnt from the farm's own batches a reading is slow only by more than the eye's error; by a published range
// it is slow below what is expected.
func TestSlowAllowsForTheEye(t *testing.T) {
	t.Parallel()
	published, learnt := FromRange(14, 28), FromRange(14, 28)
	learnt.Basis = Basis{Source: OwnBatches, Batches: 12}
	expected := Expected(14, published.Quantile(0.9))
	for _, tt := range []struct {
		share           float64
		published, farm bool
	}{{expected - 0.05, true, false}, {expected - 0.11, true, true}, {expected + 0.01, false, false}} {
		r := &Reading{14, tt.share}
		if published.Slow(r) != tt.published || learnt.Slow(r) != tt.farm {
			t.Errorf("%.2f of %.2f: slow by a published range %t, by the farm's own %t", tt.share, expected, published.Slow(r), learnt.Slow(r))
		}
	}
}
