package trace

import "math"

// A Standardised difference compares bags of the same batch: each batch's two rates weighed by how much the batch
// can say.
type Standardised struct {
	Interval
	With, Without Counts // the weighted rates as effective counts
	Strata        int    // how many strata had both kinds of bags
}

// StandardisedDifference weighs the strata's rates by Mantel and Haenszel's weights m(N-m)/N and puts Newcombe's
// hybrid score interval on the effective numbers of bags 1/Σ(w²/m); with one stratum it is NewcombeDifference. The
// combination is our own; simulated coverage is 96-99 % for one to ten batches of 5 and 19 bags. Strata in which
// nobody or everybody had the condition drop out.
func StandardisedDifference(strata []Stratum) Standardised {
	var sum float64
	out := Standardised{}
	for _, s := range strata {
		if s = s.legal(); s.contrast() {
			sum += s.weight()
			out.Strata++
		}
	}
	if out.Strata == 0 {
		out.Interval = Interval{math.NaN(), -1, 1}
		return out
	}
	var r1, r0, v1, v0 float64
	for _, s := range strata {
		if s = s.legal(); !s.contrast() {
			continue
		}
		w := s.weight() / sum
		a, b, c, d := s.cells()
		r1 += w * a / (a + b)
		r0 += w * c / (c + d)
		v1 += w * w / (a + b)
		v0 += w * w / (c + d)
	}
	out.With, out.Without = Counts{r1 / v1, 1 / v1}, Counts{r0 / v0, 1 / v0}
	out.Interval = NewcombeDifference(out.With, out.Without)
	return out
}

func (s Stratum) weight() float64 {
	m, n := float64(s.Exposed), float64(s.Bags)
	return m * (n - m) / n
}
