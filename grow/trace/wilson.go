package trace

import "math"

// countSlack is how near to none or all an effective (fractional) count is taken to be none or all.
const countSlack = 1e-12

// Wilson is a rate with its score interval: right coverage on average, never outside 0 to 1, and something sensible
// for none of n (Wilson 1927, J Am Stat Assoc 22:209-212; Newcombe 1998, Stat Med 17:857-872, method 3). Of no bags
// there is no rate (NaN) and the interval is 0 to 1.
func Wilson(c Counts) Interval { return WilsonAt(c, z975) }

// WilsonAt is Wilson with another quantile in place of 1.96, such as Student's t.
func WilsonAt(c Counts, z float64) Interval {
	if !(c.Bags > 0) {
		return Interval{math.NaN(), 0, 1}
	}
	n, p := c.Bags, c.Rate()
	if math.IsInf(z, 1) {
		return Interval{p, 0, 1}
	}
	d := 1 + z*z/n
	centre := (p + z*z/(2*n)) / d
	half := z / d * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	out := Interval{p, math.Max(0, centre-half), math.Min(1, centre+half)}
	if c.Bad <= countSlack {
		out.Low = 0
	}
	if c.Bad >= n-countSlack {
		out.High = 1
	}
	return out
}
