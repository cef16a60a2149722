package trace

import "math"

// mostLogOdds bounds the search for an odds ratio.
const mostLogOdds = 40

// Tails are the probabilities of the observed sum or more, the observed sum or fewer, and of exactly it.
type Tails struct {
	Upper, Lower, Point float64
}

// MidUpper and MidLower count half of the observed point (Lancaster 1961, J Am Stat Assoc 56:223-234): the plain
// exact tails are far too cautious with a handful of bags.
func (t Tails) MidUpper() float64 { return t.Upper - t.Point/2 }

// MidLower is the other side of MidUpper.
func (t Tails) MidLower() float64 { return t.Lower - t.Point/2 }

// MidP is twice the smaller mid tail, at most 1: the two-sided p that agrees with the mid-p interval.
func (t Tails) MidP() float64 { return math.Min(1, 2*math.Min(t.MidUpper(), t.MidLower())) }

// Informs tells whether more than one outcome was possible.
func (e Exact) Informs() bool { return len(e.logw) > 1 }

// at gives the probabilities of the support at a log odds ratio, in p (made if nil).
func (e Exact) at(logOdds float64, p []float64) []float64 {
	if p == nil {
		p = make([]float64, len(e.logw))
	}
	most := math.Inf(-1)
	for i, w := range e.logw {
		p[i] = w + float64(i)*logOdds
		most = math.Max(most, p[i])
	}
	sum := 0.0
	for i := range p {
		p[i] = math.Exp(p[i] - most)
		sum += p[i]
	}
	for i := range p {
		p[i] /= sum
	}
	return p
}

// Tails at an odds ratio given by its logarithm; 0 tests "no difference".
func (e Exact) Tails(logOdds float64) Tails { return e.tails(e.at(logOdds, nil)) }

func (e Exact) tails(p []float64) Tails {
	k := e.observed - e.low
	t := Tails{Point: p[k]}
	for i := range k {
		t.Lower += p[i]
	}
	for i := len(p) - 1; i > k; i-- {
		t.Upper += p[i]
	}
	t.Lower += t.Point
	t.Upper += t.Point
	return t
}

// OddsRatio is the conditional maximum-likelihood odds ratio with its mid-p limits: the odds ratios at which a mid
// tail is 2.5 % (Agresti 1992, Stat Sci 7:131-153). With one possible outcome there is none: NaN, 0 to +Inf.
func (e Exact) OddsRatio() Interval { return e.oddsRatio(0.5) }

// oddsRatio counts the given part of the observed point: a half for mid tails, 1 for the whole tails of the plain
// exact test.
func (e Exact) oddsRatio(half float64) Interval {
	if !e.Informs() {
		return Interval{math.NaN(), 0, math.Inf(1)}
	}
	p := make([]float64, len(e.logw))
	k := e.observed - e.low
	solve := func(reached func() bool) float64 {
		return math.Exp(bisect(-mostLogOdds, mostLogOdds, func(l float64) bool {
			e.at(l, p)
			return reached()
		}))
	}
	out := Interval{0, 0, math.Inf(1)}
	if k > 0 {
		out.Low = solve(func() bool { t := e.tails(p); return t.Upper-(1-half)*t.Point >= 0.025 })
	}
	if k < len(p)-1 {
		out.High = solve(func() bool { t := e.tails(p); return t.Lower-(1-half)*t.Point <= 0.025 })
	}
	switch k {
	case 0:
	case len(p) - 1:
		out.Estimate = math.Inf(1)
	default:
		out.Estimate = solve(func() bool { return mean(p) >= float64(k) })
	}
	return out
}

func mean(p []float64) float64 {
	m := 0.0
	for i, x := range p {
		m += float64(i) * x
	}
	return m
}
