package forecast

import "math"

const (
	gridPoints = 401
	gridWidth  = 6.0 // standard deviations either way
)

// A Batch is what is believed of one batch under way: weights over a grid of its mean log day.
type Batch struct {
	theta, weight []float64
	within        float64
	basis         Basis
}

// Observe updates the law for one batch by the spans of its bags, finished or not.
func (l Law) Observe(spans []Span) Batch {
	sd := math.Sqrt(l.SD*l.SD + l.Between*l.Between)
	ws := collapse(spans)
	b := Batch{theta: make([]float64, gridPoints), weight: make([]float64, gridPoints), within: l.Within, basis: l.Basis}
	most := math.Inf(-1)
	for i := range b.theta {
		u := gridWidth * (2*float64(i)/(gridPoints-1) - 1)
		b.theta[i] = l.Mean + sd*u
		b.weight[i] = -u*u/2 + logLikelihood(ws, b.theta[i], l.Within)
		most = math.Max(most, b.weight[i])
	}
	sum := 0.0
	for i, w := range b.weight {
		b.weight[i] = math.Exp(w - most)
		sum += b.weight[i]
	}
	for i := range b.weight {
		b.weight[i] /= sum
	}
	return b
}

// Moments are the mean and standard deviation of the batch's own mean log day.
func (b Batch) Moments() (mean, sd float64) {
	for i, w := range b.weight {
		mean += w * b.theta[i]
	}
	v := 0.0
	for i, w := range b.weight {
		d := b.theta[i] - mean
		v += w * d * d
	}
	return mean, math.Sqrt(v)
}

// negligible is the weight below which a point of the grid changes no answer.
const negligible = 1e-13

// DoneBy is the probability that a bag of the batch is grown over by the given day, knowing that it was not by
// day after (0: nothing known). The bag's own "not by day after" must be among the spans given to Observe.
func (b Batch) DoneBy(day, after float64) float64 {
	if !(day > after) || !(day > 0) {
		return 0
	}
	return b.given(after).doneBy(math.Log(day))
}

// unfinished is a batch seen from a bag that is not grown over by some day: the points of the grid that matter,
// and at each the logarithm of the chance of having come so far.
type unfinished struct {
	Batch
	start float64 // log of that day
	far   []float64
}

func (b Batch) given(after float64) unfinished {
	out := unfinished{Batch: Batch{within: b.within}, start: math.Inf(-1)}
	if after > 0 {
		out.start = math.Log(after)
	}
	for i, w := range b.weight {
		if w > negligible {
			out.theta, out.weight = append(out.theta, b.theta[i]), append(out.weight, w)
			out.far = append(out.far, logUpper((out.start-b.theta[i])/b.within))
		}
	}
	return out
}

func (u unfinished) doneBy(logDay float64) float64 {
	p := 0.0
	for i, w := range u.weight {
		p -= w * math.Expm1(logUpper((logDay-u.theta[i])/u.within)-u.far[i])
	}
	return math.Min(1, math.Max(0, p))
}

func (u unfinished) quantile(p float64) float64 {
	from := math.Max(u.start, u.theta[0]-10*u.within)
	to := math.Max(from, u.theta[len(u.theta)-1]) + 10*u.within + 1
	return math.Exp(bisect(from, to, func(x float64) bool { return u.doneBy(x) >= p }))
}

// Quantile is the day by which a bag, not grown over by day after, is so with probability p.
func (b Batch) Quantile(p, after float64) float64 { return b.given(after).quantile(p) }

// Days are the 10, 50 and 90 % points of Quantile.
func (b Batch) Days(after float64) Days {
	u := b.given(after)
	return Days{u.quantile(0.1), u.quantile(0.5), u.quantile(0.9)}
}
