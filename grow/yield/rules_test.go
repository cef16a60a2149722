package yield

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"bagmark/grow/trace"

	"github.com/google/go-cmp/cmp"
)

func cull(b []Bag, i int, why string) []Bag {
	b[i].Culled, b[i].Spent, b[i].Grams, b[i].Flushes = why, false, 0, nil
	return b
}

// TestWhichBagsCount: a batch counts once nine in ten are done, the last of them too; what went where
// nobody weighs does not; a batch that nobody weighed does not; one that was all
// thrown out does.
func TestWhichBagsCount(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name string
		bags []Bag
		want Counted
	}{
		{"all done", bagsOf("a", 100, 200), Counted{Bags: []int{0, 1}}},
		{"one of ten still gives", giving(bagsOf("a", 1, 2, 3, 4, 5, 6, 7, 8, 9, 10), 9), Counted{Bags: []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}}},
		{"one of ten never fruited", giving(append(bagsOf("a", 1, 2, 3, 4, 5, 6, 7, 8, 9), unweighed(bagsOf("a", 0))...), 9), Counted{Bags: []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}}},
		{"two of ten still give", giving(bagsOf("a", 1, 2, 3, 4, 5, 6, 7, 8, 9, 10), 8, 9), Counted{Giving: 10}},
		{"one was sold", fate(bagsOf("a", 1, 2), 1, Elsewhere), Counted{Bags: []int{0}, Elsewhere: 1}},
		{"nobody weighed", unweighed(bagsOf("a", 0, 0)), Counted{NotWeighed: 2}},
		{"all thrown out", cull(cull(bagsOf("a", 0, 0), 0, "leak"), 1, "contaminated"), Counted{Bags: []int{0, 1}}},
		{"batches apart", append(giving(bagsOf("a", 1), 0), bagsOf("b", 2)...), Counted{Bags: []int{1}, Giving: 1}},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			if diff := cmp.Diff(test.want, Count(test.bags, Grams)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
	dry := bagsOf("a", 500, 600)
	dry[0].DryG = 1000
	if diff := cmp.Diff(Counted{Bags: []int{0}, NoDry: 1}, Count(dry, Efficiency)); diff != "" {
		t.Errorf("efficiency (-want +got):\n%s", diff)
	}
}

func fate(b []Bag, i int, f Fate) []Bag { b[i].Fate = f; return b }

func giving(b []Bag, which ...int) []Bag {
	for _, i := range which {
		b[i].Fate = Giving
	}
	return b
}

func unweighed(b []Bag) []Bag {
	for i := range b {
		b[i].Flushes = nil
	}
	return b
}

// TestSum: per bag made, the thrown out bag among them; what it cost is what its
// sisters gave.
func TestSum(t *testing.T) {
	t.Parallel()
	bags := cull(bagsOf("a", 400, 600, 0), 2, "contaminated")
	bags[0].Flushes, bags[1].Flushes = []float64{300, 100}, []float64{600}
	bags[0].ToFirst, bags[1].ToFirst = 20, 30
	for i := range bags {
		bags[i].DryG = 1000
	}
	g := Sum(bags, Count(bags, Grams).Bags, Grams)
	if *g.Mean < 333.3 || *g.Mean > 333.4 || *g.EfficiencyPct < 33.3 || *g.EfficiencyPct > 33.4 || g.Grams != 1000 {
		t.Errorf("mean %g, efficiency %g, %g in all", *g.Mean, *g.EfficiencyPct, g.Grams)
	}
	want := []Flush{{1, 2, 900, 300, 450, 0.9}, {2, 1, 100, 100. / 3, 100, 0.1}}
	if diff := cmp.Diff(want, g.Flushes); diff != "" {
		t.Errorf("flushes (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(&Middle{2, 22.5, 25, 27.5}, g.ToFirst); diff != "" {
		t.Errorf("days (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]Loss{{"contaminated", 1, 500}}, g.Losses); diff != "" {
		t.Errorf("losses (-want +got):\n%s", diff)
	}
	whole := append(cull(bagsOf("all out", 0), 0, "overheated"), bags...)
	g = Sum(whole, Count(whole, Grams).Bags, Grams)
	if diff := cmp.Diff([]Loss{{"contaminated", 1, 500}, {"overheated", 1, 500}}, g.Losses); diff != "" {
		t.Errorf("a batch thrown out whole (-want +got):\n%s", diff)
	}
	// thrown out after 700 and after nothing, beside sisters of 500: 500 in all is lost
	// less what the one gave more; never less than nothing
	late := cull(cull(bagsOf("a", 500, 500, 0, 0), 2, "old"), 3, "old")
	late[2].Grams = 700
	if diff := cmp.Diff([]Loss{{"old", 2, 300}}, Sum(late, []int{0, 1, 2, 3}, Grams).Losses); diff != "" {
		t.Errorf("of one that gave more (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]Loss{{"old", 1, 0}}, Sum(late, []int{0, 1, 2}, Grams).Losses); diff != "" {
		t.Errorf("of one that gave more, alone (-want +got):\n%s", diff)
	}
	if g := Sum(nil, nil, Grams); g.Mean != nil || g.DryG != nil || g.ToFirst != nil {
		t.Errorf("of nothing: %+v", g)
	}
}

// farm is invented: batches of two species, one of which gives three times as
// much, of bags that differ and batches that differ.
func farm(seed uint64, batches, size int, effect float64, value func(batch, bag int) string) ([]Bag, trace.Column) {
	r := rand.New(rand.NewPCG(seed, 5))
	var bags []Bag
	c := trace.Column{Key: "tried", Level: trace.BatchLevel}
	for k := range batches {
		level := 300 + 30*r.NormFloat64()
		if k%2 == 1 {
			level *= 3
		}
		for n := range size {
			v := value(k, n)
			g := level + 40*r.NormFloat64()
			if v == "new" {
				g += effect
			}
			b := bagsOf(fmt.Sprint("batch ", k), max(0, g))
			b[0].Species = []string{"one", "other"}[k%2]
			bags = append(bags, b...)
			c.Values = append(c.Values, trace.Exposure{Value: v})
		}
	}
	return bags, c
}

// TestSpeciesAreNotCompared: a value that only came with the species that gives
// more is not praised for it.
func TestSpeciesAreNotCompared(t *testing.T) {
	t.Parallel()
	bags, c := farm(1, 16, 8, 0, func(k, _ int) string {
		return []string{"old", "new"}[map[bool]int{true: 1}[k%2 == 1 && k < 14 || k == 0]]
	})
	r := rowOf(t, bags, c, "new")
	if r.Method != WholeBatches || r.Verdict == trace.PointsTo || *r.Difference.Low > 0 {
		t.Errorf("%s: %s", r.Verdict, r.Words)
	}
	bags, c = farm(1, 16, 8, 0, func(k, _ int) string { return []string{"old", "new"}[k%2] })
	r = rowOf(t, bags, c, "new")
	if r.Verdict != trace.NothingToCompare || !strings.Contains(r.Words, "no species had batches with it and without") {
		t.Errorf("%s: %s", r.Verdict, r.Words)
	}
}

// TestTheSentenceAgreesWithItself: the means that are told differ by the difference
// that is told, though the value went mostly with the species, or the batches, that
// give less; a species that had only one side is no part of it.
func TestTheSentenceAgreesWithItself(t *testing.T) {
	t.Parallel()
	var bags []Bag
	var c trace.Column
	add := func(batches int, species, value string, grams float64) {
		for k := range batches {
			for n := range 3 {
				b := bagsOf(fmt.Sprint(species, value, k), grams+float64(k+n))
				b[0].Species = species
				bags, c.Values = append(bags, b...), append(c.Values, trace.Exposure{Value: value})
			}
		}
	}
	add(8, "small", "new", 200)
	add(2, "small", "old", 100)
	add(2, "big", "new", 1000)
	add(8, "big", "old", 900)
	add(5, "only old", "old", 900)
	r := rowOf(t, bags, c, "new")
	if r.Method != WholeBatches || r.Batches != 20 || !strings.Contains(r.Words, "more with it, 603 g a bag against 503 over 20 batches (difference +100") {
		t.Errorf("whole batches: %d, %s", r.Batches, r.Words)
	}
	near(t, "the margin", *r.Margin, 50.3, 0.01) // a tenth of (101.5 + 904.5)/2

	var inside []Bag
	var values trace.Column
	for name, side := range map[string][2]int{"poor": {9, 1}, "rich": {1, 9}} {
		for i, value := range []string{"new", "old"} {
			for n := range side[i] {
				grams := map[string]float64{"poor": 100, "rich": 900}[name] + map[string]float64{"new": 100}[value]
				inside, values.Values = append(inside, bagsOf(name, grams+float64(n%2))...), append(values.Values, trace.Exposure{Value: value})
			}
		}
	}
	r = rowOf(t, inside, values, "new")
	if r.Method != InsideBatches || !strings.Contains(r.Words, "600 g a bag against 500") {
		t.Errorf("inside: %s", r.Words)
	}
}

// TestFindsWhatIsThere, inside batches and between them, and says so the right
// way round.
func TestFindsWhatIsThere(t *testing.T) {
	t.Parallel()
	for name, value := range map[string]func(k, n int) string{
		"inside":  func(_, n int) string { return []string{"old", "new"}[n%2] },
		"between": func(k, _ int) string { return []string{"old", "new"}[k/2%2] },
	} {
		bags, c := farm(2, 20, 10, -120, value)
		r := rowOf(t, bags, c, "new")
		if r.Verdict != trace.PointsTo || !strings.Contains(r.Words, "less with it") || *r.Difference.High >= 0 {
			t.Errorf("%s: %s: %s", name, r.Verdict, r.Words)
		}
		back := rowOf(t, bags, c, "old")
		if *back.P != *r.P || *back.Difference.Estimate+*r.Difference.Estimate > 1e-9 || !strings.Contains(back.Words, "more with it") {
			t.Errorf("%s, turned round: %s", name, back.Words)
		}
	}
}

// TestFalseAlarms: with no effect, few farms are pointed at anything. Nominal 5
// in 100; the interval has to agree as well.
func TestFalseAlarms(t *testing.T) {
	t.Parallel()
	const farms = 200
	called := map[string]int{}
	for seed := range uint64(farms) {
		for name, value := range map[string]func(k, n int) string{
			"inside":  func(_, n int) string { return []string{"old", "new"}[n%2] },
			"between": func(k, _ int) string { return []string{"old", "new"}[k/2%2] },
		} {
			bags, c := farm(seed, 12, 6, 0, value)
			if r := rowOf(t, bags, c, "new"); r.Verdict == trace.PointsTo || r.Verdict == trace.SmallDifference {
				called[name]++
			}
		}
	}
	for name, n := range called {
		if n > 20 { // 10 expected, standard deviation 3
			t.Errorf("%s: %d of %d farms without an effect were pointed at one", name, n, farms)
		}
	}
}

// TestTheOrderOfBagsChangesNothing.
func TestTheOrderOfBagsChangesNothing(t *testing.T) {
	t.Parallel()
	bags, c := farm(3, 10, 6, 60, func(_, n int) string { return []string{"old", "new", ""}[n%3] })
	want := rowOf(t, bags, c, "new")
	order := rand.New(rand.NewPCG(1, 2)).Perm(len(bags))
	shuffled, values := make([]Bag, len(bags)), slices.Clone(c.Values)
	for to, from := range order {
		shuffled[to], values[to] = bags[from], c.Values[from]
	}
	c.Values = values
	got := rowOf(t, shuffled, c, "new")
	for what, x := range map[string][2]float64{"difference": {*got.Difference.Estimate, *want.Difference.Estimate}, "low": {*got.Difference.Low, *want.Difference.Low}} {
		near(t, what, x[0], x[1], 1e-6)
	}
	near(t, "p", *got.P, *want.P, 0.02) // another draw of the same arrangements
	if got.Verdict != want.Verdict {
		t.Errorf("%s, %s in another order", want.Verdict, got.Verdict)
	}
}

// TestTheNormalLawStandsIn: where bags are too many to draw, the p is near the
// drawn one.
func TestTheNormalLawStandsIn(t *testing.T) {
	t.Parallel()
	bags, c := farm(4, 20, 30, 8, func(_, n int) string { return []string{"old", "new"}[n%2] })
	many := rowOf(t, bags, c, "new") // 300 drawn
	d := newDraft(bags, Count(bags, Grams).Bags, Grams, c, "new")
	var both []batch
	both = append(both, d.batches(bags)...)
	var sum, variance float64
	for _, b := range both {
		all := b.cells[0].plus(b.cells[1])
		m := b.cells[0].n
		sum += b.cells[0].sum - m*all.mean()
		variance += m * (all.n - m) / all.n * all.within() / (all.n - 1)
	}
	normal, _ := insideP(nil, sum, variance)
	near(t, "p by the normal law", *normal, *many.P, 0.015)
}

// TestTwins: what was on the same bags is named, and so is its opposite.
func TestTwins(t *testing.T) {
	t.Parallel()
	bags, c := farm(5, 12, 5, 0, func(k, _ int) string { return []string{"old", "new"}[k/2%2] })
	same, opposite, other := column(), column(), column()
	same.Key, opposite.Key, other.Key = "same", "opposite", "other"
	same.Label = "spawn lot"
	for i, v := range c.Values {
		same.Values = append(same.Values, trace.Exposure{Value: map[string]string{"old": "S-1", "new": "S-2"}[v.Value]})
		opposite.Values = append(opposite.Values, trace.Exposure{Value: map[string]string{"old": "x", "new": ""}[v.Value]})
		other.Values = append(other.Values, trace.Exposure{Value: []string{"p", "q"}[i%2]})
	}
	for _, r := range Compare(bags, Count(bags, Grams).Bags, Grams, c, []trace.Column{same, opposite, other}) {
		if diff := cmp.Diff([]string{"same", "opposite"}, r.ConfoundedWith); diff != "" {
			t.Errorf("%s (-want +got):\n%s", r.Value, diff)
		}
		if !strings.Contains(r.Words, "spawn lot on the same bags") {
			t.Errorf("%s: %s", r.Value, r.Words)
		}
	}
}

// TestEdges: one bag a side, nothing given, one batch.
func TestEdges(t *testing.T) {
	t.Parallel()
	for name, test := range map[string]struct {
		bags []Bag
		c    trace.Column
		want trace.Verdict
	}{
		"one bag against one":           {bagsOf("a", 100, 200), column("new", "old"), trace.CannotTell},
		"one batch against one":         {append(bagsOf("a", 100, 110), bagsOf("b", 300, 310)...), column("new", "new", "old", "old"), trace.CannotTell},
		"nothing given at all":          {bagsOf("a", 0, 0, 0, 0), column("new", "new", "old", "old"), trace.CannotTell},
		"every bag had it":              {bagsOf("a", 100, 200), column("new", "new"), trace.NothingToCompare},
		"two bags each, as if far away": {bagsOf("a", 1, 2, 900, 901), column("new", "new", "old", "old"), trace.CannotTell},
	} {
		r := rowOf(t, test.bags, test.c, "new")
		if r.Verdict != test.want || r.Words == "" || strings.Contains(r.Words, "NaN") || strings.Contains(r.Words, "Inf") {
			t.Errorf("%s: %s: %s", name, r.Verdict, r.Words)
		}
	}
}

func BenchmarkCompare(b *testing.B) {
	bags, c := farm(6, 1000, 100, 5, func(_, n int) string { return []string{"old", "new"}[n%2] })
	count := func(b *testing.B) {
		for b.Loop() {
			Sum(bags, Count(bags, Grams).Bags, Grams)
		}
	}
	b.Run("adding up 100,000 bags", count)
	b.Run("comparing them inside batches", func(b *testing.B) {
		for b.Loop() {
			Compare(bags, Count(bags, Grams).Bags, Grams, c, nil)
		}
	})
}
