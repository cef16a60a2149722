package trace

import "math"

// MantelHaenszel is the pooled odds ratio over strata with its large-sample limits, and the two-sided p of the
// score test without continuity correction (Mantel and Haenszel 1959, J Natl Cancer Inst 22:719-748; variance:
// Robins, Breslow and Greenland 1986, Biometrics 42:311-323). It stands in for Exact when there are so many bags that
// the convolution would take too long; with few bags it is not to be trusted.
func MantelHaenszel(strata []Stratum) (odds Interval, p float64) {
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
		return Interval{math.NaN(), 0, math.Inf(1)}, 1
	}
	p = math.Erfc(math.Abs(excess) / math.Sqrt(2*variance))
	switch {
	case r == 0:
		return Interval{0, 0, math.Inf(1)}, p
	case s == 0:
		return Interval{math.Inf(1), 0, math.Inf(1)}, p
	}
	se := math.Sqrt(pr/(2*r*r) + psqr/(2*r*s) + qs/(2*s*s))
	or := r / s
	return Interval{or, or * math.Exp(-z975*se), or * math.Exp(z975*se)}, p
}
