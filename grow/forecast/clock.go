package forecast

import (
	"math"
	"sort"
)

// A Clock turns a bag's calendar days since inoculation into days as its law counts them: a day in a room that
// lets it grow by a tenth faster is 1.1 days. It rises everywhere, so there is a way back. A nil Clock leaves days
// as they are.
//
// How fast each step went by comes from outside; a step of which nothing is known goes at pace 1.
type Clock struct {
	step  float64   // length of a step in days
	gone  []float64 // law's days at the end of each step, gone[0] being 0
	ahead float64   // pace after the last step
}

// No bag is taken to stand still, lest dates run off the calendar, and none to grow beyond reason: a curve is a
// guess there. Both bounds are common practice.
const (
	SlowestPace = 0.05
	FastestPace = 4.0
)

// NewClock makes a clock from the pace of each step since inoculation and the pace from then on. It is nil where
// all of them are 1.
func NewClock(stepDays float64, paces []float64, ahead float64) *Clock {
	c := &Clock{step: stepDays, gone: make([]float64, len(paces)+1), ahead: withinReason(ahead)}
	usual := c.ahead == 1
	for i, p := range paces {
		p = withinReason(p)
		usual = usual && p == 1
		c.gone[i+1] = c.gone[i] + p*stepDays
	}
	if usual {
		return nil
	}
	return c
}

func withinReason(pace float64) float64 {
	if math.IsNaN(pace) {
		return 1
	}
	return min(FastestPace, max(SlowestPace, pace))
}

// At is what the law counts on a calendar day.
func (c *Clock) At(day float64) float64 {
	if c == nil || !(day > 0) || math.IsInf(day, 1) {
		return day
	}
	last := len(c.gone) - 1
	i := day / c.step
	if i >= float64(last) {
		return c.gone[last] + (day-float64(last)*c.step)*c.ahead
	}
	k := int(i)
	return c.gone[k] + (i-float64(k))*(c.gone[k+1]-c.gone[k])
}

// Day is the way back from At.
func (c *Clock) Day(at float64) float64 {
	if c == nil || !(at > 0) || math.IsInf(at, 1) {
		return at
	}
	last := len(c.gone) - 1
	if at >= c.gone[last] {
		return float64(last)*c.step + (at-c.gone[last])/c.ahead
	}
	k := sort.Search(last, func(k int) bool { return c.gone[k+1] > at })
	return (float64(k) + (at-c.gone[k])/(c.gone[k+1]-c.gone[k])) * c.step
}

// Span is a span in the law's days.
func (c *Clock) Span(s Span) Span {
	if c == nil {
		return s
	}
	s = s.legal()
	return Span{c.At(s.Left), c.At(s.Right)}
}

// BagBy is Bag by the bag's own clock: its looks and its age come in calendar days and so does the answer. The
// sisters' spans must be in the law's days already, each by its own clock. A nil clock gives what Bag gives.
func (l Law) BagBy(c *Clock, bag Bag, sisters []Span) Forecast {
	if c == nil || bag.legal().Span.Finished() {
		return l.Bag(bag, sisters)
	}
	timed := Bag{Span: c.Span(bag.Span), Today: c.At(bag.Today)}
	if r := bag.Reading; r != nil {
		timed.Reading = &Reading{Day: c.At(r.Day), Share: r.Share}
	}
	out := l.Bag(timed, sisters)
	out.Colonised = Days{c.Day(out.Colonised.Early), c.Day(out.Colonised.Likely), c.Day(out.Colonised.Late)}
	return out
}

// OverdueAfter is the last calendar day on which a bag that is not grown over is not overdue.
func (l Law) OverdueAfter(c *Clock) float64 { return math.Floor(c.Day(l.Quantile(0.95))) }
