package yield

import (
	"maps"
	"math"
	"slices"

	"bagmark/grow/trace"

	"gonum.org/v1/gonum/stat/distuv"
)

// stratum are the batches of one species on both sides.
type stratum struct{ sides [2][]cell }

// testBatches compares whole batches: bags of one batch share their fate, so a
// batch is one voice. The difference is taken inside each species that has batches
// on both sides, and weighed by how many it has; so are the means that the sentence
// gives. Its limits are Student's t with the spread between batches and between
// bags. The p exchanges batches inside their species.
func (d *draft) testBatches(batches []batch) {
	names, strata := strataOf(batches)
	batches = slices.DeleteFunc(batches, func(b batch) bool { return strata[slices.Index(names, b.species)].weight() == 0 })
	d.difference = trace.Interval{Estimate: math.NaN(), Low: math.NaN(), High: math.NaN()}
	if len(batches) == 0 { // no species has it on both sides
		return
	}
	d.row.Method, d.row.Batches = WholeBatches, len(batches)
	d.used = [2]int{}
	var groups [][]cell
	for _, s := range strata {
		if s.weight() > 0 {
			groups = append(groups, s.sides[0], s.sides[1])
			d.used[0], d.used[1] = d.used[0]+len(s.sides[0]), d.used[1]+len(s.sides[1])
		}
	}
	spread := spreadOf(groups...)
	var sums [2]float64
	var bags, weights, variance float64
	for _, s := range strata {
		w := s.weight()
		if w == 0 {
			continue
		}
		for side, g := range s.sides {
			sums[side] += w * meanOnly(g)
			variance += w * w * spread.variance(g)
			bags += bagsIn(g)
		}
		weights += w
	}
	d.seen = [2]float64{sums[0] / weights, sums[1] / weights}
	estimate := d.seen[0] - d.seen[1]
	d.difference.Estimate = estimate
	if half := t975(spread.Free) * math.Sqrt(variance) / weights; !math.IsNaN(half) {
		d.difference.Low, d.difference.High = estimate-half, estimate+half
	}
	d.row.P, d.smallest = permuted(batchUnits(batches, names, strata))
	d.need = 2 * math.Pow(z975+power, 2) * (spread.Between + spread.Within/(bags/float64(len(batches))))
}

func bagsIn(g []cell) (n float64) {
	for _, c := range g {
		n += c.n
	}
	return n
}

func strataOf(batches []batch) (names []string, out []stratum) {
	for _, b := range batches {
		k := slices.Index(names, b.species)
		if k < 0 {
			k = len(names)
			names, out = append(names, b.species), append(out, stratum{})
		}
		for side, c := range b.cells {
			if c.n > 0 {
				out[k].sides[side] = append(out[k].sides[side], c)
			}
		}
	}
	return names, out
}

func (s stratum) weight() float64 {
	a, b := float64(len(s.sides[0])), float64(len(s.sides[1]))
	if a == 0 || b == 0 {
		return 0
	}
	return a * b / (a + b)
}

func meanOnly(g []cell) float64 {
	var all cell
	for _, c := range g {
		all = all.plus(c)
	}
	return all.mean()
}

// batchUnits are the batches with their species' mean taken out, so that a
// species that gives more does not speak for what its batches had.
func batchUnits(batches []batch, names []string, strata []stratum) []trace.Batch {
	means := make([]float64, len(names))
	for k, s := range strata {
		means[k] = meanOnly(append(slices.Clone(s.sides[0]), s.sides[1]...))
	}
	units := make([]trace.Batch, len(batches))
	for i, b := range batches {
		c := b.cells[0].plus(b.cells[1])
		mean := means[slices.Index(names, b.species)]
		units[i] = trace.Batch{Counts: trace.Counts{Bad: c.sum - c.n*mean, Bags: c.n}, Exposed: b.cells[0].n > 0, Stratum: b.species}
	}
	return scaled(units)
}

// permuted exchanges batches inside their species. Where they are too many to be
// drawn ten thousand times their sum is as good as normal, with the variance that
// exchanging gives it.
func permuted(units []trace.Batch) (*float64, float64) {
	byStratum := map[string]*cell{}
	marked := map[string]float64{}
	sum := 0.0
	for _, u := range units {
		if byStratum[u.Stratum] == nil {
			byStratum[u.Stratum] = &cell{}
		}
		byStratum[u.Stratum].add(u.Bad)
		if u.Exposed {
			marked[u.Stratum]++
			sum += u.Bad
		}
	}
	var expected, variance, drawn float64
	for _, name := range slices.Sorted(maps.Keys(byStratum)) {
		c, m := byStratum[name], marked[name]
		drawn += math.Min(m, c.n-m)
		expected += m * c.mean()
		if c.n > 1 {
			variance += m * (c.n - m) / c.n * c.within() / (c.n - 1)
		}
	}
	if drawn <= mostDrawn || !(variance > 0) {
		p := trace.Permute(units)
		return &p.P, p.Smallest
	}
	p := 2 * distuv.UnitNormal.Survival(math.Abs(sum-expected)/math.Sqrt(variance))
	return &p, 0
}
