package forecast

import "math"

// lower is the normal distribution function.
func lower(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// normalQuantile is the inverse of lower; p is held inside (0, 1) so that the answer is finite.
func normalQuantile(p float64) float64 {
	const edge = 1e-16
	p = math.Max(edge, math.Min(1-edge, p))
	if p < 0.5 {
		return -math.Sqrt2 * math.Erfcinv(2*p)
	}
	return math.Sqrt2 * math.Erfinv(2*p-1)
}

// logUpper is the logarithm of the upper tail, by its asymptotic series where the tail itself underflows.
func logUpper(z float64) float64 {
	if z < 30 {
		return math.Log(math.Erfc(z/math.Sqrt2) / 2)
	}
	if math.IsInf(z, 1) {
		return math.Inf(-1)
	}
	q := 1 / (z * z)
	return -z*z/2 - math.Log(z*math.Sqrt(2*math.Pi)) + math.Log1p(-q*(1-3*q))
}

// logBetween is the logarithm of the normal probability of (a, b], taken in the tail where it is not a
// difference of two numbers near 1.
func logBetween(a, b float64) float64 {
	switch {
	case !(a < b):
		return math.Inf(-1)
	case math.IsInf(b, 1):
		return logUpper(a)
	case math.IsInf(a, -1):
		return logUpper(-b)
	case a > 0:
		return logUpperBetween(a, b)
	case b < 0:
		return logUpperBetween(-b, -a)
	}
	return math.Log(lower(b) - lower(a))
}

// logUpperBetween needs 0 <= a < b.
func logUpperBetween(a, b float64) float64 {
	la := logUpper(a)
	return la + math.Log(-math.Expm1(logUpper(b)-la))
}

// bisect finds where rising turns from false to true in [a, b].
func bisect(a, b float64, reached func(float64) bool) float64 {
	for b-a > 1e-11 {
		m := a + (b-a)/2
		if reached(m) {
			b = m
		} else {
			a = m
		}
	}
	return a + (b-a)/2
}
