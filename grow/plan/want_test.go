package plan

import (
	"fmt"
	"testing"
)

// inFive is a week five weeks from now.
func inFive(grams float64) Want { return Want{Grams: grams, From: 33, To: 40} }

func nothing() Plays { return make(Plays, Runs) }

// TestMakeIsKept plays the bags it says to make as a batch of the farm's own, with
// draws of their own: the median comes out near what was wanted, and the sure one
// holds in nine plays of ten.
func TestMakeIsKept(t *testing.T) {
	t.Parallel()
	k := oyster()
	a := k.Make(inFive(8000), nothing(), nineWeeks())
	if a.Likely == nil || a.Sure == nil {
		t.Fatalf("nothing is to be made: %+v", a)
	}
	kept := func(m *Making, name string) (reached float64, f Figure) {
		first := Range{k.Grow.quantileFor(-z90), k.Grow.quantileFor(0), k.Grow.quantileFor(z90)}
		var sum Plays
		for i, d := range m.Days {
			plays := k.Promise([]Batch{batchOf(fmt.Sprint(name, i), m.Each, Bag{Grown: first})}, Weeks{0, 33 - d, 40 - d}).Grams[1]
			if sum == nil {
				sum = nothing()
			}
			sum = sum.Plus(plays)
		}
		for _, g := range sum {
			if g >= 8000 {
				reached += 1.0 / Runs
			}
		}
		return reached, FigureOf(sum)
	}
	// Both sides are plays of their own: √2 standard errors of each share, four of them.
	if reached, f := kept(a.Likely, "likely"); reached < 0.36 || reached > 0.64 {
		t.Errorf("%d bags reach 8 kg in %.2f of the plays, %+v", a.Likely.Bags(), reached, f)
	}
	if reached, f := kept(a.Sure, "sure"); reached < 0.81 || reached > 0.99 {
		t.Errorf("%d bags reach 8 kg in %.2f of the plays, %+v", a.Sure.Bags(), reached, f)
	}
}

// quantileFor is the law's day for a standard normal.
func (l Law) quantileFor(z float64) float64 { d := l.after(0); return d.at(z) }

func TestMake(t *testing.T) {
	t.Parallel()
	k, weeks := oyster(), nineWeeks()
	eight := k.Make(inFive(8000), nothing(), weeks)
	if eight.Sure.Bags() < eight.Likely.Bags() {
		t.Errorf("%d bags are surer than %d", eight.Likely.Bags(), eight.Sure.Bags())
	}
	if more := k.Make(inFive(16000), nothing(), weeks); more.Likely.Bags() <= eight.Likely.Bags() {
		t.Errorf("16 kg take %d bags, 8 kg %d", more.Likely.Bags(), eight.Likely.Bags())
	}
	if eight.Likely.InWeek.Likely < 8000 || eight.Best > eight.Latest {
		t.Errorf("%+v, %+v", eight, eight.Likely)
	}
	half := nothing()
	for i := range half {
		half[i] = 5000
	}
	rest := k.Make(inFive(8000), half, weeks)
	three := k.Make(inFive(3000), nothing(), weeks)
	if rest.Likely.Bags() != three.Likely.Bags() {
		t.Errorf("8 kg of which 5 are promised take %d bags, 3 kg %d", rest.Likely.Bags(), three.Likely.Bags())
	}
	if done := k.Make(inFive(4000), half, weeks); !done.LikelyEnough || !done.SureEnough || done.Likely != nil || done.Sure != nil {
		t.Errorf("bags are to be made although all is promised: %+v", done)
	}
	late := k.Make(Want{Grams: 8000, From: 5, To: 12}, nothing(), weeks)
	if !late.TooLate(Want{}) || late.Likely != nil || late.Reach < 12 || late.Latest >= 0 {
		t.Errorf("a bag made today is picked from within eleven days: %+v", late)
	}
	if n := eight.Needs(eight.Likely.Days[0]); n < eight.Likely.Each {
		t.Errorf("that day needs %d bags", n)
	}
}

// TestMakeDay: the best day is as many days before the week's middle as a bag
// takes to its first picking, a few days either way.
func TestMakeDay(t *testing.T) {
	t.Parallel()
	k := oyster()
	w := Want{Grams: 8000, From: 53, To: 60, Earliest: 3}
	a := k.Make(w, nothing(), nineWeeks())
	way := 13.0 + (4 - 1) + 9 // medians of the steps, on the way to the first picking
	if to := 56 - int(way); a.Best < to-4 || a.Best > to+4 {
		t.Errorf("bags made on day %d give most in days 53 to 59, picked from after %.0f days", a.Best, way)
	}
	if !(a.Good[0] <= a.Best && a.Best <= a.Good[1] && a.Good[1] < a.Latest) {
		t.Errorf("%v are nearly as good as day %d, the last is %d", a.Good, a.Best, a.Latest)
	}
	if reach := k.Make(Want{Grams: 8000, From: a.Reach, To: a.Reach + 7, Earliest: w.Earliest}, nothing(), nineWeeks()); reach.TooLate(w) || reach.Latest != w.Earliest {
		t.Errorf("for a week from day %d on the last day is %d, want day %d", a.Reach, reach.Latest, w.Earliest)
	}
}

func BenchmarkMake(b *testing.B) {
	k := oyster()
	for b.Loop() {
		k.Make(inFive(8000), nothing(), nineWeeks())
	}
}
