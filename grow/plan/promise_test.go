package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// nineWeeks are weeks from a Monday two days ago.
func nineWeeks() (w Weeks) {
	for i := range 10 {
		w = append(w, 7*i-2)
	}
	return w
}

// year is one week that holds all there is to come.
var year = Weeks{0, 400}

func batchOf(name string, n int, b Bag) Batch {
	out := Batch{Name: name, Grow: oyster().Grow}
	for range n {
		out.Bags = append(out.Bags, b)
	}
	return out
}

func young() Bag { return Bag{Age: 5, Grown: Range{11, 13, 16}} }

func mean(p Plays) float64 { return meanOf(p) }

// TestSumsAgainstTheNormalLaw: with no loss and one flush the grams of some
// batches are a sum of normals, whose quantiles are known: mean N·m, variance
// (N·SD)² + Σ (n·Between)² + N·Within² (sums of independent normals). Quantiles
// of the sum, not sums of quantiles.
func TestSumsAgainstTheNormalLaw(t *testing.T) {
	t.Parallel()
	k := oyster()
	k.Flushes, k.Loss = BuiltInFlushes(1), Loss{Bad: 1e-9, Good: 1e9, Rho: 0.01, By: [2]float64{0.5, 0.8}}
	k.Crop = Crop{Mean: 700, SD: 60, Between: 80, Within: 150}
	var batches []Batch
	sizes := []float64{5, 12, 20, 8}
	bags, variance := 0.0, 0.0
	for i, n := range sizes {
		batches = append(batches, batchOf(fmt.Sprint("B", i), int(n), young()))
		bags, variance = bags+n, variance+n*n*80*80+n*150*150
	}
	law := distuv.Normal{Mu: bags * 700, Sigma: math.Sqrt(variance + bags*bags*60*60)}
	f := FigureOf(k.Promise(batches, year).Grams[0])
	// Four standard errors of a quantile of 400 draws.
	for _, q := range []struct{ p, got float64 }{{0.1, f.Low}, {0.5, f.Likely}, {0.9, f.High}} {
		se := math.Sqrt(q.p*(1-q.p)/Runs) / law.Prob(law.Quantile(q.p))
		near(t, fmt.Sprintf("%.0f %% point", 100*q.p), q.got, law.Quantile(q.p), 4*se)
	}
}

// TestLossIsBetaBinomial: of batches of n bags with a chance p that correlates by
// rho, the bags that give nothing have the mean n·p and, for a chance that is
// known, the variance n·p(1-p)(1 + (n-1)·rho) (the beta-binomial law).
func TestLossIsBetaBinomial(t *testing.T) {
	t.Parallel()
	k := oyster()
	k.Flushes, k.Crop = BuiltInFlushes(1), Crop{Mean: 1, Between: 1e-12, Within: 1e-12, SD: 1e-12}
	k.Loss = Loss{Bad: 0.2e6, Good: 0.8e6, Rho: 0.2, By: [2]float64{0, 0}}
	const n = 20
	plays := k.Promise([]Batch{batchOf("B", n, Bag{Grown: Range{11, 13, 16}})}, year).Grams[0]
	m, v := mean(plays), 0.0
	for _, x := range plays {
		v += (x - m) * (x - m) / (Runs - 1)
	}
	want := n * 0.16 * (1 + (n-1)*0.2)
	near(t, "mean", m, n*0.8, 4*math.Sqrt(want/Runs))
	near(t, "variance", v, want, 4*want*math.Sqrt(2.0/Runs))
}

// TestWhenIsLognormal: a share of bags, each a batch by itself, is picked by a day
// as the law of that one step says.
func TestWhenIsLognormal(t *testing.T) {
	t.Parallel()
	k := oyster()
	k.First = Law{Mean: math.Log(9), Within: 0.3}
	k.Flushes, k.Crop, k.Loss = BuiltInFlushes(1), Crop{Mean: 1, Within: 1e-9}, Loss{Bad: 1e-9, Good: 1e9, Rho: 0.01}
	ahead := k.Promise([]Batch{batchOf("B", 50, Bag{Stage: Fruiting})}, Weeks{0, 7, 400})
	// A picking on day 6.5 or later counts for day 7, in the second week.
	want := distuv.LogNormal{Mu: math.Log(9), Sigma: 0.3}.CDF(6.5)
	near(t, "share in the first week", mean(ahead.Grams[0])/50, want, 4*math.Sqrt(want*(1-want)/(50*Runs)))
	near(t, "all", mean(ahead.Grams[0])+mean(ahead.Grams[1]), 50, 1e-6)
}

// TestPromises holds the plan to what any grower would say of it.
func TestPromises(t *testing.T) {
	t.Parallel()
	k := oyster()
	all := func(b ...Batch) float64 { return mean(k.Promise(b, year).Grams[0]) }
	moved := func(waited float64, picked int) Bag {
		return Bag{Stage: Fruiting, Age: 30, Waited: waited, Picked: picked}
	}
	one := all(batchOf("B", 10, moved(2, 0)))
	for _, x := range []struct {
		name        string
		more, fewer float64
	}{
		{"more bags give more", all(batchOf("B", 11, moved(2, 0))), one},
		{"a flush that is picked is counted off", one, all(batchOf("B", 10, moved(2, 1)))},
		{"and the next", all(batchOf("B", 10, moved(2, 1))), all(batchOf("B", 10, moved(2, 2)))},
		{"a bag that should long have given promises less", one, all(batchOf("B", 10, moved(16, 0)))},
		{"so does one that has rested long", all(batchOf("B", 10, moved(2, 1))), all(batchOf("B", 10, moved(18, 1)))},
		{"a bag near its move has more of the losses behind it", one, all(batchOf("B", 10, young()))},
		{"a batch that has lost bags will lose more", all(batchOf("B", 10, young())), all(Batch{Name: "B", Grow: k.Grow, Lost: 10, Bags: batchOf("B", 10, young()).Bags})},
	} {
		if !(x.more > x.fewer) {
			t.Errorf("%s: %.0f and %.0f g", x.name, x.more, x.fewer)
		}
	}
	for name, b := range map[string]Batch{"all culled": {Name: "B", Grow: k.Grow, Lost: 12}, "all flushes picked": batchOf("B", 10, moved(1, 3))} {
		if got := all(b); got != 0 {
			t.Errorf("%s: %.0f g are promised", name, got)
		}
	}
	held := k.Promise([]Batch{batchOf("B", 10, Bag{Stage: Ripening, Age: 20, Waited: 3, Held: 21})}, Weeks{0, 21, 400})
	if got := mean(held.Grams[0]); got != 0 {
		t.Errorf("bags on hold give %.0f g before they are moved", got)
	}
}

// TestSameAnswer: the same farm gets the same answer, in whatever order its
// batches stand; what happens to one batch leaves another's plays as they were.
func TestSameAnswer(t *testing.T) {
	t.Parallel()
	k, weeks := oyster(), nineWeeks()
	a, b := batchOf("A", 12, young()), batchOf("B", 9, Bag{Stage: Fruiting, Age: 25, Waited: 3})
	both, back := k.Promise([]Batch{a, b}, weeks), k.Promise([]Batch{b, a}, weeks)
	alone := k.Promise([]Batch{a}, weeks).Plus(k.Promise([]Batch{b}, weeks))
	for i := range both.Grams {
		for run := range both.Grams[i] {
			got := both.Grams[i][run]
			if math.Abs(got-back.Grams[i][run]) > 1e-6 || math.Abs(got-alone.Grams[i][run]) > 1e-6 {
				t.Fatalf("week %d, play %d: %v, %v and %v", i, run, got, back.Grams[i][run], alone.Grams[i][run])
			}
		}
	}
}

// TestBatchesGoTogether: the same bags in one batch are less certain than in ten.
func TestBatchesGoTogether(t *testing.T) {
	t.Parallel()
	k := oyster()
	width := func(batches, each int) float64 {
		var list []Batch
		for i := range batches {
			list = append(list, batchOf(fmt.Sprint(i), each, young()))
		}
		f := FigureOf(k.Promise(list, year).Grams[0])
		return f.High - f.Low
	}
	if one, ten := width(1, 40), width(10, 4); !(one > 1.2*ten) {
		t.Errorf("forty bags of one batch spread over %.0f g, of ten batches over %.0f", one, ten)
	}
}

// TestNoFigureIsAbsurd plays farms of any kind.
func TestNoFigureIsAbsurd(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		k := oyster()
		k.Ripen = FromRange(rapid.Float64Range(0, 60).Draw(t, "low"), rapid.Float64Range(0, 90).Draw(t, "high"), 1)
		k.Flushes = BuiltInFlushes(rapid.IntRange(0, 5).Draw(t, "flushes"))
		k.Crop = BuiltInCrop(rapid.Float64Range(1, 3000).Draw(t, "dry"), 20, rapid.Float64Range(20, 150).Draw(t, "efficiency"))
		b := Batch{Name: "B", Grow: k.Grow, Lost: rapid.IntRange(0, 30).Draw(t, "lost")}
		for range rapid.IntRange(0, 5).Draw(t, "bags") {
			b.Bags = append(b.Bags, Bag{Stage: Stage(rapid.IntRange(0, 2).Draw(t, "stage")), Age: rapid.Float64Range(0, 900).Draw(t, "age"),
				Grown: Range{5, rapid.Float64Range(5, 60).Draw(t, "likely"), 90}, Waited: rapid.Float64Range(0, 900).Draw(t, "waited"), Picked: rapid.IntRange(0, 6).Draw(t, "picked")})
		}
		for _, w := range k.Promise([]Batch{b}, nineWeeks()).Grams {
			f := FigureOf(w)
			if !(f.Low >= 0 && f.Low <= f.Likely && f.Likely <= f.High && f.High < 1e7) {
				t.Fatalf("a week gives %+v", f)
			}
		}
	})
}

// TestCoverage draws farms from laws that the plan does not know, lets it learn
// from eight batches of each and holds its range for five batches against what
// they then gave: 80 in 100 should lie inside.
func TestCoverage(t *testing.T) {
	t.Parallel()
	const farms = 150
	inside := 0
	for seed := range farms {
		r := rand.New(rand.NewPCG(uint64(seed), 7))
		crop := Crop{Mean: 950 * (75 + 55*r.Float64()) / 100}
		crop.Between, crop.Within = 0.18*crop.Mean, 0.3*crop.Mean
		bad := 0.04 + 0.12*r.Float64()
		// Grams of each bag of a batch, by the farm's own law.
		batch := func(n int) (out PastBatch) {
			chance := distuv.Beta{Alpha: bad * 6, Beta: (1 - bad) * 6, Src: r}.Rand()
			m := crop.Mean + crop.Between*r.NormFloat64()
			for range n {
				if r.Float64() < chance {
					out = append(out, PastBag{})
					continue
				}
				g := math.Max(1, m+crop.Within*r.NormFloat64())
				out = append(out, PastBag{Flushes: []float64{0.6 * g, 0.4 * g}})
			}
			return out
		}
		k := oyster()
		k.Name = fmt.Sprint("farm ", seed)
		var past []PastBatch
		for range 8 {
			past = append(past, batch(16))
		}
		k, ok := k.Learn(past)
		if !ok {
			t.Fatal("eight batches teach nothing")
		}
		var alive []Batch
		truth := 0.0
		for i := range 5 {
			alive = append(alive, batchOf(fmt.Sprint(i), 16, Bag{Grown: Range{11, 13, 16}}))
			for _, g := range batch(16) {
				truth += g.grams()
			}
		}
		if f := FigureOf(k.Promise(alive, year).Grams[0]); truth >= f.Low && truth <= f.High {
			inside++
		}
	}
	share := float64(inside) / farms
	t.Logf("%.0f in 100 of the farms lie inside", 100*share)
	if share < 0.7 || share > 0.92 { // three standard errors of 150 farms
		t.Errorf("%.2f of the farms lie inside a range that promises 0.80", share)
	}
}

func BenchmarkPromise(b *testing.B) {
	k := oyster()
	var batches []Batch
	for i := range 120 {
		batches = append(batches, batchOf(fmt.Sprint(i), 25, young()))
	}
	for b.Loop() {
		k.Promise(batches, nineWeeks())
	}
}

// TestStanding: each bag stands on the racks until it is moved, then in fruiting
// until it is spent: counted on the first day of each week, with sure days.
func TestStanding(t *testing.T) {
	t.Parallel()
	sure := func(days float64) Law { return Law{Mean: math.Log(days)} }
	k := oyster()
	k.Ripen, k.First, k.Next = sure(10), sure(10), sure(10)
	k.Flushes, k.Loss = BuiltInFlushes(2), Loss{Bad: 1e-9, Good: 1e9, Rho: 0.01}
	a := k.Promise([]Batch{
		batchOf("A", 3, Bag{Stage: Ripening, Age: 20}),            // moved on day 10, picked on 20 and 30
		batchOf("B", 2, Bag{Stage: Fruiting, Age: 30}),            // picked on day 10 and 20
		batchOf("C", 1, Bag{Stage: Fruiting, Age: 40, Picked: 1}), // on day 10
	}, Weeks{-2, 5, 12, 19, 26, 33})
	for i, want := range []struct{ racks, fruiting float64 }{{3, 3}, {3, 3}, {0, 5}, {0, 5}, {0, 3}} {
		near(t, fmt.Sprint("racks in week ", i), a.OnRacks[i], want.racks, 1e-9)
		near(t, fmt.Sprint("fruiting in week ", i), a.InFruiting[i], want.fruiting, 0.05) // C gives its last flush in 98 of 100
	}
}
