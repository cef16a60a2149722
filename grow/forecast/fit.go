package forecast

import "math"

// Log days outside this range are no bag's: a third of a day to eight years.
const (
	leastLog = -1.0
	mostLog  = 8.0
)

// A Fit is the mean log day of one batch by maximum likelihood, the spread between bags being known.
type Fit struct {
	Mean     float64
	Variance float64 // of Mean: one over the curvature of the log-likelihood
}

// FitMean fits the mean of a batch's log days to interval-censored spans. The log-likelihood is concave in the
// mean, so its slope has one root. ok is false where the spans do not bound the mean from both sides.
func FitMean(spans []Span, within float64) (fit Fit, ok bool) {
	ws := collapse(spans)
	if !bounded(ws) || !(within > 0) {
		return Fit{}, false
	}
	mean := fitMean(ws, within)
	_, info := slope(ws, mean, within)
	if !(info > 1e-9) || mean <= leastLog || mean >= mostLog {
		return Fit{}, false
	}
	return Fit{Mean: mean, Variance: 1 / info}, true
}

// bounded tells whether some bag was seen not yet grown over and some bag grown over: without both the most
// likely mean is infinitely early or late.
func bounded(ws []weighted) bool {
	var below, above bool
	for _, w := range ws {
		below = below || !math.IsInf(w.a, -1)
		above = above || !math.IsInf(w.b, 1)
	}
	return below && above
}

// fitMean is the root of the slope, by Newton's steps kept inside a bracket that shrinks with every step.
func fitMean(ws []weighted, sd float64) float64 {
	low, high := leastLog, mostLog
	m := centre(ws)
	for range 100 {
		first, info := slope(ws, m, sd)
		if first > 0 {
			low = m
		} else {
			high = m
		}
		next := m + first/info
		if !(next > low && next < high) {
			next = (low + high) / 2
		}
		if math.Abs(next-m) < 1e-13*(1+math.Abs(m)) {
			break
		}
		m = next
	}
	return m
}

// centre is where the search starts: the mean of the ends that are finite.
func centre(ws []weighted) float64 {
	sum, n := 0.0, 0.0
	for _, w := range ws {
		for _, x := range []float64{w.a, w.b} {
			if !math.IsInf(x, 0) {
				sum += w.n * x
				n += w.n
			}
		}
	}
	return math.Max(leastLog+0.01, math.Min(mostLog-0.01, sum/n))
}

// FitBoth fits mean and standard deviation of log days by maximum likelihood, the latter held in [least, most].
// In 1/sd and mean/sd the log-likelihood is concave (Burridge 1981, J R Stat Soc B 43:41-45), so the profile
// over the standard deviation has one peak and a golden-section search finds it, also at an end.
func FitBoth(spans []Span, least, most float64) (mean, sd, logLik float64, ok bool) {
	ws := collapse(spans)
	if !bounded(ws) {
		return 0, 0, 0, false
	}
	profile := func(logSD float64) float64 {
		s := math.Exp(logSD)
		return logLikelihood(ws, fitMean(ws, s), s)
	}
	sd = math.Exp(peak(math.Log(least), math.Log(most), profile))
	mean = fitMean(ws, sd)
	return mean, sd, logLikelihood(ws, mean, sd), true
}

// peak is where a function with one maximum on [a, b] has it, an end included.
func peak(a, b float64, f func(float64) float64) float64 {
	const golden = 0.6180339887498949
	lo, hi := a, b
	x, y := hi-golden*(hi-lo), lo+golden*(hi-lo)
	fx, fy := f(x), f(y)
	for hi-lo > 1e-7 {
		if fx >= fy {
			hi, y, fy = y, x, fx
			x = hi - golden*(hi-lo)
			fx = f(x)
		} else {
			lo, x, fx = x, y, fy
			y = lo + golden*(hi-lo)
			fy = f(y)
		}
	}
	best := (lo + hi) / 2
	for _, end := range []float64{a, b} {
		if f(end) > f(best) {
			best = end
		}
	}
	return best
}
