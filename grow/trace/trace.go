// Package trace asks of a farm's records which conditions go with contamination, and says how much they can tell.
//
// Start at Compare: it takes plain records of bags (Bag) and of what happened to them (Column), decides which bags
// count (Count), compares bags of the same batch where a condition differs inside batches and whole batches where
// it does not, and answers one Row for each value, with intervals, a verdict and a sentence. Near and AtRisk find
// the living bags that share something with a bad one. The methods stand one a file and can be used by themselves:
// Wilson, NewcombeDifference, Exact, Permute and the rest; their sources are named there.
//
// Intervals are 95 % ones, rates and probabilities 0 to 1, times whole days since inoculation.
//
// The package never reads a clock or storage; where it draws at random the draw is fixed by the data. It must never
// say that something causes contamination, is proved or is safe: records point to things, no more.
package trace

import "math"

// z975 is the 97.5 % point of the normal law.
var z975 = math.Sqrt2 * math.Erfinv(0.95)

// Counts are bad bags out of bags looked at. Both may be fractions where bags of one batch are not worth a whole
// bag each (effective numbers).
type Counts struct {
	Bad, Bags float64
}

// Rate is the share of bad bags, NaN of no bags.
func (c Counts) Rate() float64 {
	if !(c.Bags > 0) {
		return math.NaN()
	}
	return math.Max(0, math.Min(1, c.Bad/c.Bags))
}

func (c Counts) plus(o Counts) Counts { return Counts{c.Bad + o.Bad, c.Bags + o.Bags} }

// An Interval is an estimate with its 95 % limits. A limit may be infinite, an estimate NaN where there is none.
type Interval struct {
	Estimate, Low, High float64
}

// bisect finds where reached turns from false to true on [a, b].
func bisect(a, b float64, reached func(float64) bool) float64 { return bisectTo(0, a, b, reached) }

// bisectTo stops when the interval is shorter than width.
func bisectTo(width, a, b float64, reached func(float64) bool) float64 {
	for range 200 {
		m := a + (b-a)/2
		if m == a || m == b || b-a < width {
			break
		}
		if reached(m) {
			b = m
		} else {
			a = m
		}
	}
	return a + (b-a)/2
}
