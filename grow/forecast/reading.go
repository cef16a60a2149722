package forecast

import "math"

// A Reading is one look at a bag's wall: on which day, and what share of it (0-1) was grown over.
type Reading struct {
	Day, Share float64
}

// Growth of the white share of the wall follows Avrami, X = 1 - exp(-k tⁿ) (J Chem Phys 7:1103, 1939; 8:212,
// 1940; 9:177, 1941); exponent 3 is growth in all directions from points that start together. The error of the
// exponent, the error of the eye and what counts as full are common practice without a source.
const (
	exponent      = 3.0
	exponentError = 0.5
	eyeError      = 0.10
	full          = 0.99
	leastShare    = 0.05 // readings outside 5-95 % say too little about the day
	mostShare     = 0.95
)

// Full tells whether the reading counts as grown over: 99 % or more.
func (r Reading) Full() bool { return r.Share >= full }

// Usable tells whether the reading says something about the day of the end.
func (r Reading) Usable() bool {
	return r.Day > 0 && r.Share >= leastShare && r.Share <= mostShare
}

// End is the log day on which a bag read so will be full, and its standard error, carried from the error of the
// eye and of the exponent. The reading must be Usable.
func (r Reading) End() (logDay, sd float64) {
	bare := -math.Log1p(-r.Share)
	d := math.Log(-math.Log1p(-full)) - math.Log(bare)
	eye := eyeError / ((1 - r.Share) * bare) / exponent
	shape := d / (exponent * exponent) * exponentError
	return math.Log(r.Day) + d/exponent, math.Hypot(eye, shape)
}

// Expected is the share of the wall grown over on a day in a bag that is full on day end.
func Expected(day, end float64) float64 {
	if !(day > 0) || !(end > 0) {
		return 0
	}
	return -math.Expm1(math.Log1p(-full) * math.Pow(day/end, exponent))
}

// A bell is a normal law of log days.
type bell struct{ mean, sd float64 }

// with is the product of two normal laws.
func (b bell) with(o bell) bell {
	p, q := 1/(b.sd*b.sd), 1/(o.sd*o.sd)
	return bell{(b.mean*p + o.mean*q) / (p + q), 1 / math.Sqrt(p+q)}
}

// quantile is the day reached with probability p by a bag that was not done on day after.
func (b bell) quantile(p, after float64) float64 {
	if !(after > 0) {
		return math.Exp(b.mean + b.sd*normalQuantile(p))
	}
	t := (math.Log(after) - b.mean) / b.sd
	if t < 5 {
		f := lower(t)
		return math.Max(after, math.Exp(b.mean+b.sd*normalQuantile(f+p*(1-f))))
	}
	// Far in the tail: solve on the logarithm of what is left.
	target := logUpper(t) + math.Log1p(-p)
	z := bisect(t, t+40, func(z float64) bool { return logUpper(z) <= target })
	return math.Exp(b.mean + b.sd*z)
}

func (b bell) days(after float64) Days {
	return Days{b.quantile(0.1, after), b.quantile(0.5, after), b.quantile(0.9, after)}
}
