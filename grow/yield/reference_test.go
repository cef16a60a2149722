package yield

import (
	"fmt"
	"math"
	"testing"

	"bagmark/grow/trace"
)

func near(t *testing.T, what string, got, want, slack float64) {
	t.Helper()
	if !(math.Abs(got-want) <= slack) {
		t.Errorf("%s: %.8g, want %.8g", what, got, want)
	}
}

// bagsOf are done bags, one for each number, of the batch of that name.
func bagsOf(batch string, grams ...float64) []Bag {
	var out []Bag
	for _, g := range grams {
		out = append(out, Bag{Batch: batch, Species: "one", Fate: Done, Spent: true, Grams: g, Flushes: []float64{g}, ToFirst: -1, Fruited: -1})
	}
	return out
}

func column(values ...string) trace.Column {
	c := trace.Column{Key: "tried", Level: trace.BatchLevel}
	for _, v := range values {
		c.Values = append(c.Values, trace.Exposure{Value: v})
	}
	return c
}

func rowOf(t *testing.T, bags []Bag, c trace.Column, value string) Row {
	t.Helper()
	for _, r := range Compare(bags, Count(bags, Grams).Bags, Grams, c, nil) {
		if r.Value == value {
			return r
		}
	}
	t.Fatalf("no row for %s", value)
	return Row{}
}

// TestDyestuff: yields of dyestuff in grams, six batches of five (Davies and
// Goldsmith 1972; Box and Tiao 1973). Published: between batches 56,357.5 on 5
// degrees of freedom, within 58,830 on 24; components 1,764.05 and 2,451.25;
// mean 1,527.5 with standard error 19.383 (as lme4's manual prints the fit by
// REML; from memory, and they follow from the sums of squares).
func TestDyestuff(t *testing.T) {
	t.Parallel()
	var bags []Bag
	for i, lot := range [][]float64{{1545, 1440, 1440, 1520, 1580}, {1540, 1555, 1490, 1560, 1495}, {1595, 1550, 1605, 1510, 1560},
		{1445, 1440, 1595, 1465, 1545}, {1595, 1630, 1515, 1635, 1625}, {1520, 1455, 1450, 1480, 1445}} {
		bags = append(bags, bagsOf(fmt.Sprint("lot ", i), lot...)...)
	}
	cells := cellsBy(bags, Count(bags, Grams).Bags, Grams)
	s := spreadOf(cells)
	near(t, "between batches", s.Between, 1764.05, 0.005)
	near(t, "within batches", s.Within, 2451.25, 0.005)
	near(t, "standard error", math.Sqrt(s.variance(cells)), 19.383, 0.0005)
	g := Sum(bags, Count(bags, Grams).Bags, Grams)
	near(t, "mean", *g.Mean, 1527.5, 1e-9)
	near(t, "half width", (*g.High-*g.Low)/2, 2.570582*19.38341, 0.001) // t(.975, 5), any table
}

// TestSleep: hours of sleep gained by ten patients on each of two drugs (Student
// 1908, Biometrika 6:1-25, the most used example of the t test). Apart, as ten
// and ten batches of one bag: difference -1.58, 95 % -3.363874 to 0.203874. In
// pairs, as ten batches of two: -2.4598858 to -0.7001142 (as R's help of t.test
// and textbooks print them; from memory).
func TestSleep(t *testing.T) {
	t.Parallel()
	first := []float64{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0, 2}
	second := []float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}
	var apart, pairs []Bag
	var c, inPairs trace.Column
	for i := range first {
		apart = append(apart, bagsOf(fmt.Sprint("a", i), first[i])...)
		pairs = append(pairs, bagsOf(fmt.Sprint("p", i), first[i], second[i])...)
		inPairs.Values = append(inPairs.Values, trace.Exposure{Value: "one"}, trace.Exposure{Value: "two"})
	}
	for i := range second {
		apart = append(apart, bagsOf(fmt.Sprint("b", i), second[i])...)
	}
	for i := range apart {
		c.Values = append(c.Values, trace.Exposure{Value: []string{"one", "two"}[i/10]})
	}
	r := rowOf(t, apart, c, "one")
	near(t, "apart", *r.Difference.Estimate, -1.58, 1e-9)
	near(t, "apart, low", *r.Difference.Low, -3.363874, 5e-7)
	near(t, "apart, high", *r.Difference.High, 0.203874, 5e-7)
	if r.Method != WholeBatches || r.Batches != 20 || r.Verdict != trace.CannotTell {
		t.Errorf("apart: %s over %d, %s", r.Method, r.Batches, r.Verdict)
	}
	near(t, "apart, p", *r.P, 0.079, 0.005) // Welch's t gives .07939
	r = rowOf(t, pairs, inPairs, "one")
	near(t, "in pairs", *r.Difference.Estimate, -1.58, 1e-9)
	near(t, "in pairs, low", *r.Difference.Low, -2.4598858, 5e-8)
	near(t, "in pairs, high", *r.Difference.High, -0.7001142, 5e-8)
	if r.Method != InsideBatches || r.Batches != 10 || r.Verdict != trace.PointsTo {
		t.Errorf("in pairs: %s over %d, %s", r.Method, r.Batches, r.Verdict)
	}
}

// TestShoes: wear of two materials on the feet of ten boys (Box, Hunter and
// Hunter 1978, Statistics for Experimenters, ch. 4, from memory): mean difference
// -0.41, 95 % -0.6869539 to -0.1330461 by the paired t. By exchanging the feet,
// of 1,024 arrangements 3 are more extreme to that side and 4 are equal.
func TestShoes(t *testing.T) {
	t.Parallel()
	a := []float64{13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3}
	b := []float64{14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6}
	var bags []Bag
	var c trace.Column
	for i := range a {
		bags = append(bags, bagsOf(fmt.Sprint("boy ", i), a[i], b[i])...)
		c.Values = append(c.Values, trace.Exposure{Value: "A"}, trace.Exposure{Value: "B"})
	}
	r := rowOf(t, bags, c, "A")
	near(t, "difference", *r.Difference.Estimate, -0.41, 1e-9)
	near(t, "low", *r.Difference.Low, -0.6869539, 5e-8)
	near(t, "high", *r.Difference.High, -0.1330461, 5e-8)
	near(t, "p, both sides", *r.P, 14.0/1024, 1e-9)
}

// TestHowMany: 16 s²/δ² (Lehr 1992, Stat Med 11:1099-1102) rounds 2(z+z')²: 15.7.
func TestHowMany(t *testing.T) {
	t.Parallel()
	d := draft{need: 2 * math.Pow(z975+power, 2), margin: 1}
	near(t, "of each kind", d.each(), 15.698, 0.001)
	if got := roundUp(d.each()); got != "16" {
		t.Errorf("%s, want 16", got)
	}
}
