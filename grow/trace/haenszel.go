package trace

import "math"

// Pooled is an odds ratio over strata by Mantel and Haenszel.
type Pooled struct {
	Interval
	ChiSquared float64 // of the score test, one degree of freedom, no continuity correction
	P          float64
}

// MantelHaenszel is the pooled odds ratio over strata with its large-sample limits and the score test (Mantel and Haenszel 1959, J Natl Cancer Inst 22:719-748; variance:
// Robins, Breslow and Greenland 1986, Biometrics 42:311-323). It stands in for Exact when there are so many bags that
// the convolution would take too long; with few bags it is not to be trusted.
func MantelHaenszel(strata []Stratum) Pooled {
	var r, s, pr, psqr, qs, excess, variance float64
	for _, t := range strata {
		t = t.legal()
		if !t.informs() {
			continue
		}
		a, b, c, d := t.cells()
		n := float64(t.Bags)
		ri, si, pi, qi := a*d/n, b*c/n, (a+d)/n, (b+c)/n
		r += ri
		s += si
		pr += pi * ri
		psqr += pi*si + qi*ri
		qs += qi * si
		m, y := float64(t.Exposed), float64(t.Bad)
		excess += a - m*y/n
		variance += m * (n - m) * y * (n - y) / (n * n * (n - 1))
	}
	if variance == 0 {
		return Pooled{Interval{math.NaN(), 0, math.Inf(1)}, 0, 1}
	}
	out := Pooled{ChiSquared: excess * excess / variance}
	out.P = math.Erfc(math.Sqrt(out.ChiSquared / 2))
	switch {
	case r == 0:
		out.Interval = Interval{0, 0, math.Inf(1)}
		return out
	case s == 0:
		out.Interval = Interval{math.Inf(1), 0, math.Inf(1)}
		return out
	}
	se := math.Sqrt(pr/(2*r*r) + psqr/(2*r*s) + qs/(2*s*s))
	or := r / s
	out.Interval = Interval{or, or * math.Exp(-z975*se), or * math.Exp(z975*se)}
	return out
}
