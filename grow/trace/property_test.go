package trace

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// drawStratum is any legal table of up to most bags.
func drawStratum(t *rapid.T, most int) Stratum {
	n := rapid.IntRange(1, most).Draw(t, "bags")
	m := rapid.IntRange(0, n).Draw(t, "exposed")
	y := rapid.IntRange(0, n).Draw(t, "bad")
	s := Stratum{Exposed: m, Bad: y, Bags: n}
	low, high := s.support()
	s.ExposedBad = rapid.IntRange(low, high).Draw(t, "exposed bad")
	return s
}

func drawStrata(t *rapid.T) []Stratum {
	var out []Stratum
	for range rapid.IntRange(1, 8).Draw(t, "strata") {
		out = append(out, drawStratum(t, 40))
	}
	return out
}

// swap exchanges the bags with the condition and those without.
func swap(ss []Stratum) []Stratum {
	var out []Stratum
	for _, s := range ss {
		out = append(out, Stratum{s.Bad - s.ExposedBad, s.Bags - s.Exposed, s.Bad, s.Bags})
	}
	return out
}

func alike(a, b, tolerance float64) bool {
	return a == b || math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= tolerance*math.Max(1, math.Abs(b))
}

func TestSwappingSides(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		ss := drawStrata(t)
		a, b := NewExact(ss), NewExact(swap(ss))
		if x, y := a.Tails(0).MidP(), b.Tails(0).MidP(); !alike(x, y, 1e-9) {
			t.Errorf("p %g, swapped %g", x, y)
		}
		o, p := a.OddsRatio(), b.OddsRatio()
		if !alike(o.Estimate, 1/p.Estimate, 1e-6) || !alike(o.Low, 1/p.High, 1e-6) || !alike(o.High, 1/p.Low, 1e-6) {
			t.Errorf("odds ratio %v, swapped %v", o, p)
		}
		d, e := StandardisedDifference(ss), StandardisedDifference(swap(ss))
		if !alike(d.Estimate, -e.Estimate, 1e-9) || !alike(d.Low, -e.High, 1e-9) {
			t.Errorf("difference %v, swapped %v", d.Interval, e.Interval)
		}
	})
}

// The smallest odds ratio and its limits lie in order, and 1 lies outside them exactly when the mid-p is below 5 %.
func TestIntervalAgreesWithP(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		e := NewExact(drawStrata(t))
		o, p := e.OddsRatio(), e.Tails(0).MidP()
		if math.Abs(p-0.05) < 1e-9 {
			return
		}
		if outside := o.Low > 1 || o.High < 1; outside != (p < 0.05) {
			t.Errorf("p %g, limits %g to %g", p, o.Low, o.High)
		}
		if !math.IsNaN(o.Estimate) && (o.Low > o.Estimate || o.Estimate > o.High) {
			t.Errorf("out of order: %v", o)
		}
	})
}

func TestStrataWithoutChoiceChangeNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		ss := drawStrata(t)
		n := rapid.IntRange(1, 30).Draw(t, "more")
		more := append(slices.Clone(ss), Stratum{0, 0, n / 2, n}, Stratum{n / 2, n, n / 2, n}, Stratum{0, n / 2, 0, n}, Stratum{n / 2, n / 2, n, n})
		a, b := NewExact(ss), NewExact(more)
		if x, y := a.Tails(0).MidP(), b.Tails(0).MidP(); !alike(x, y, 1e-9) {
			t.Errorf("p %g, with them %g", x, y)
		}
		if x, y := a.OddsRatio(), b.OddsRatio(); !alike(x.Low, y.Low, 1e-6) || !alike(x.High, y.High, 1e-6) {
			t.Errorf("odds ratio %v, with them %v", x, y)
		}
	})
}

func TestMoreBagsNarrow(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := drawStratum(t, 60)
		if !s.contrast() {
			return
		}
		a, b, c, d := s.cells()
		with, without := Counts{a, a + b}, Counts{c, c + d}
		ten := func(c Counts) Counts { return Counts{10 * c.Bad, 10 * c.Bags} }
		x, y := NewcombeDifference(with, without), NewcombeDifference(ten(with), ten(without))
		if y.High-y.Low >= x.High-x.Low {
			t.Errorf("%v and %v: %v, ten times as many %v", with, without, x, y)
		}
		v, w := Wilson(with), Wilson(ten(with))
		if w.High-w.Low >= v.High-v.Low {
			t.Errorf("%v: %v, ten times as many %v", with, v, w)
		}
	})
}

// The order of batches and of bags changes nothing, random arrangements aside.
func TestOrderOfBags(t *testing.T) {
	t.Parallel()
	f := thirds(upTo(1, 8), []int{1}).batch(24, "S-31", upTo(7, 11), []int{7, 8, 9})
	want := Compare(f.bags, f.columns(), DefaultMargin)
	rnd := rand.New(rand.NewPCG(1, 2))
	perm := rnd.Perm(len(f.bags))
	g := newFarm()
	for _, i := range perm {
		g.bags = append(g.bags, f.bags[i])
		g.hood.Values = append(g.hood.Values, f.hood.Values[i])
		g.lot.Values = append(g.lot.Values, f.lot.Values[i])
		g.shaken.Values = append(g.shaken.Values, f.shaken.Values[i])
	}
	if diff := cmp.Diff(want, Compare(g.bags, g.columns(), DefaultMargin), cmpopts.EquateApprox(0, 1e-9)); diff != "" {
		t.Error(diff)
	}
}

func drawSpans(t *rapid.T) []Span {
	var out []Span
	for range rapid.IntRange(1, 40).Draw(t, "bags") {
		l := float64(rapid.IntRange(0, 30).Draw(t, "left"))
		r := l + float64(rapid.IntRange(0, 10).Draw(t, "width"))
		if rapid.IntRange(0, 3).Draw(t, "running") == 0 {
			r = math.Inf(1)
		}
		out = append(out, Span{l, r})
	}
	return out
}

// The Kuhn-Tucker condition bounds how far the curve is from the most likely one; shares add up to 1.
func TestTurnbullIsTheMaximum(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		spans := drawSpans(t)
		c := Turnbull(spans)
		if c.Excess >= mostExcess {
			t.Errorf("excess %g", c.Excess)
		}
		sum := 0.0
		for _, m := range c.Masses {
			sum += m.Share
		}
		if !alike(sum, 1, 1e-9) {
			t.Errorf("shares add up to %g", sum)
		}
		for i, s := range Scores(spans, c) {
			if math.IsNaN(s) || math.IsInf(s, 0) {
				t.Errorf("score of %v: %g", spans[i], s)
			}
		}
	})
}

// With known days the curve is Kaplan and Meier's.
func TestTurnbullOfKnownDays(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var spans []Span
		var ends []Ending
		for range rapid.IntRange(1, 30).Draw(t, "bags") {
			day := float64(rapid.IntRange(1, 20).Draw(t, "day"))
			kind := rapid.IntRange(0, 1).Draw(t, "seen")
			right := day
			if kind == 0 {
				right = math.Inf(1)
			}
			spans, ends = append(spans, Span{day, right}), append(ends, Ending{day, kind})
		}
		c := turnbull(spans, 1e-10, 200_000)
		for _, s := range AalenJohansen(ends, 1) {
			if got := survivalOf(c, s.Day); !alike(got, s.Running, 1e-6) {
				t.Errorf("day %g: %g, Kaplan and Meier %g", s.Day, got, s.Running)
			}
		}
	})
}

func TestCompetingEndsAddUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var ends []Ending
		for range rapid.IntRange(1, 60).Draw(t, "bags") {
			ends = append(ends, Ending{float64(rapid.IntRange(0, 20).Draw(t, "day")), rapid.IntRange(0, 3).Draw(t, "kind")})
		}
		a, b, c := AalenJohansen(ends, 1), AalenJohansen(ends, 2), AalenJohansen(ends, 3)
		for i := range a {
			if sum := a[i].Share + b[i].Share + c[i].Share + a[i].Running; !alike(sum, 1, 1e-9) {
				t.Errorf("day %g: %g", a[i].Day, sum)
			}
			if x := a[i].Interval(len(ends), 1); !(x.Low >= 0 && x.Low <= x.Estimate && x.Estimate <= x.High && x.High <= 1) {
				t.Errorf("day %g: %v", a[i].Day, x)
			}
		}
	})
}

// With one yes/no column the penalised slope is the log odds ratio with half a bag added to each cell (Firth 1993).
func TestFirthOfOneColumn(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := drawStratum(t, 60)
		if !s.contrast() {
			return
		}
		a, b, c, d := s.cells()
		j, ok := FirthLogistic([]Pattern{{[]float64{1}, Counts{a, a + b}}, {[]float64{0}, Counts{c, c + d}}}, 1, math.Inf(1))
		want := math.Log((a + 0.5) * (d + 0.5) / ((b + 0.5) * (c + 0.5)))
		if !ok || !alike(j.Coefficients[1].Estimate, want, 1e-6) {
			t.Errorf("%v: got %v, want %g", s, j.Coefficients, want)
		}
	})
}

// The adjusted p are never below the plain ones and keep their order.
func TestAdjustKeepsOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Float64Range(0, 1), 1, 30).Draw(t, "p")
		q := Adjust(p)
		for i := range p {
			for j := range p {
				if q[i] < p[i]-1e-12 || p[i] < p[j] && q[i] > q[j] || q[i] > 1 {
					t.Fatalf("p %v, q %v", p, q)
				}
			}
		}
	})
}

// Whatever the counts, a row has only numbers that JSON can hold and words without a broken one.
func FuzzCompare(f *testing.F) {
	f.Add(uint32(24), uint32(5), uint32(2), uint32(1), uint8(1))
	f.Add(uint32(0), uint32(0), uint32(0), uint32(0), uint8(2))
	f.Add(uint32(1_000_000), uint32(500_000), uint32(500_000), uint32(1), uint8(1))
	f.Add(uint32(1_000_000), uint32(3), uint32(3), uint32(0), uint8(3))
	f.Add(uint32(1_000_000), uint32(500_000), uint32(0), uint32(0), uint8(1))
	f.Fuzz(func(t *testing.T, bags, exposed, bad, otherBad uint32, kinds uint8) {
		n := int(bags % 1_000_001)
		s := Stratum{Bags: n, Exposed: int(exposed) % (n + 1)}
		s.ExposedBad = int(bad) % (s.Exposed + 1)
		s.Bad = s.ExposedBad + int(otherBad)%(n-s.Exposed+1)
		ss := make([]Stratum, 1+kinds%3)
		for i := range ss {
			ss[i] = s
		}
		checkFinite(t, ss)
	})
}

// checkFinite makes a row as Compare does, from strata instead of bags.
func checkFinite(t *testing.T, ss []Stratum) {
	t.Helper()
	d := &draft{column: Column{Key: "k", Normal: "on"}, value: "off", p: math.NaN()}
	for _, s := range ss {
		a, b, c, e := s.cells()
		d.tally.Cells = append(d.tally.Cells, Cell{With: Counts{a, a + b}, Without: Counts{c, c + e}})
		d.tally.With, d.tally.Without = d.tally.With.plus(Counts{a, a + b}), d.tally.Without.plus(Counts{c, c + e})
		if s.Exposed > 0 {
			d.with = append(d.with, Counts{a, a + b})
		}
		if s.Exposed < s.Bags {
			d.without = append(d.without, Counts{c, c + e})
		}
	}
	d.rho = usedICC(ICC(d.with, d.without))
	d.row = Row{With: group(d.with, d.rho), Without: group(d.without, d.rho), Method: NoMethod}
	d.test(flock{bags: make([]Bag, 1), batches: [][]int{{0}}})
	adjust([]*draft{d})
	d.judge(DefaultMargin)
	d.row.Words = d.words(flock{batches: [][]int{{}}}, DefaultMargin)
	b, err := json.Marshal(d.row)
	if err != nil {
		t.Fatalf("%v: %v", ss, err)
	}
	for _, broken := range []string{"NaN", "Inf"} {
		if strings.Contains(string(b), broken) {
			t.Errorf("%v: %s", ss, b)
		}
	}
}
