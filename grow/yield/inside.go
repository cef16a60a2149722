package yield

import (
	"math"

	"bagmark/grow/trace"

	"gonum.org/v1/gonum/stat/combin"
	"gonum.org/v1/gonum/stat/distuv"
)

// mostDrawn bounds the work of drawing arrangements at random: beyond it their
// sum is as good as normal, and the normal law stands in.
const (
	mostDrawn  = 400          // bags drawn in each arrangement
	mostListed = 200_000      // arrangements that trace.Permute lists whole
	power      = 0.8416212336 // normal quantile of 80 %
	z975       = 1.9599639845
)

// testInside compares bags of the same batch: everything that a batch has in
// common cancels. The difference is that of a two-way layout with batches as
// blocks: each batch's difference weighed by m(N-m)/N, as are the means that the
// sentence gives; its limits by Student's t with the residual spread. The p
// exchanges bags inside their batches (Fisher 1935, The Design of Experiments).
func (d *draft) testInside(bags []Bag, batches []batch) {
	d.row.Method, d.row.Batches = InsideBatches, len(batches)
	var sxx, sxv, svv, variance, drawn, ways, n float64
	ways = 1
	var sums [2]float64
	for _, b := range batches {
		all := b.cells[0].plus(b.cells[1])
		m := b.cells[0].n
		weight := m * (all.n - m) / all.n
		sxx += weight
		sxv += b.cells[0].sum - m*all.mean()
		svv += all.within()
		variance += weight * all.within() / (all.n - 1)
		drawn += math.Min(m, all.n-m)
		ways *= combin.GeneralizedBinomial(all.n, m)
		n += all.n
		sums[0], sums[1] = sums[0]+weight*b.cells[0].mean(), sums[1]+weight*b.cells[1].mean()
	}
	d.seen = [2]float64{sums[0] / sxx, sums[1] / sxx}
	free := n - float64(len(batches)) - 1
	residual := math.Max(0, svv-sxv*sxv/sxx) / free
	d.difference = trace.Interval{Estimate: sxv / sxx, Low: math.NaN(), High: math.NaN()}
	if half := t975(free) * math.Sqrt(residual/sxx); !math.IsNaN(half) {
		d.difference.Low, d.difference.High = sxv/sxx-half, sxv/sxx+half
	}
	var units []trace.Batch // none where they are too many
	if ways <= mostListed || drawn <= mostDrawn {
		units = d.bagUnits(bags, batches)
	}
	d.row.P, d.smallest = insideP(units, sxv, variance)
	d.need = 2 * math.Pow(z975+power, 2) * residual
}

// bagUnits are the bags with their batch's mean taken out.
func (d *draft) bagUnits(bags []Bag, batches []batch) (out []trace.Batch) {
	for _, b := range batches {
		mean := b.cells[0].plus(b.cells[1]).mean()
		for _, k := range b.bags {
			v, _ := d.measure.of(bags[d.known[k]])
			out = append(out, trace.Batch{Counts: trace.Counts{Bad: v - mean, Bags: 1}, Exposed: d.with[k], Stratum: b.name})
		}
	}
	return out
}

// insideP lists or draws arrangements of the units; without any it takes the
// normal law with the variance that all arrangements together have.
func insideP(units []trace.Batch, sum, variance float64) (*float64, float64) {
	if !(variance > 0) {
		one := 1.0
		return &one, 1
	}
	if len(units) > 0 {
		p := trace.Permute(scaled(units))
		return &p.P, p.Smallest
	}
	p := 2 * distuv.UnitNormal.Survival(math.Abs(sum)/math.Sqrt(variance))
	return &p, 0
}

// scaled brings values near 1, so that what counts as a tie does not depend on
// the unit.
func scaled(units []trace.Batch) []trace.Batch {
	total := 0.0
	for _, u := range units {
		total += math.Abs(u.Bad)
	}
	if total > 0 {
		for i := range units {
			units[i].Bad /= total
		}
	}
	return units
}
