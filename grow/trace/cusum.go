package trace

import (
	"math"
	"slices"
)

// The cumulative sum alarms when what lies above half a standard error a week has added up to four: without any change
// once in about six and a half years of weeks on each side, with a change of one standard error after eight weeks
// (run lengths 335 and 8.4: Brook and Evans 1972, Biometrika 59:539-549; tabled in Montgomery, Introduction to
// Statistical Quality Control).
const (
	sumSlack = 0.5
	sumAlarm = 4.0
)

// accumulated is one step of a one-sided sum.
func accumulated(sum, z float64) float64 { return math.Max(0, sum+z-sumSlack) }

// accumulate fills in both sums and the alarms; after an alarm a sum starts again at 0.
func (c Chart) accumulate() {
	worse, better := 0.0, 0.0
	scale := math.Sqrt(c.Spread)
	for i := range c.Points {
		p := &c.Points[i]
		worse, better = accumulated(worse, p.Z/scale), accumulated(better, -p.Z/scale)
		p.Worse, p.Better = worse, better
		switch {
		case worse > sumAlarm:
			p.Alarm, worse = WorseAlarm, 0
		case better > sumAlarm:
			p.Alarm, better = BetterAlarm, 0
		}
	}
}

// Since is the first point of the change that an alarm at point i speaks of: the one after the sum was last 0. Alarms
// that follow each other without such a point between them are one change.
func (c Chart) Since(i int) int {
	k := i
	for k > 0 && c.sum(i, c.Points[k-1]) > 0 {
		k--
	}
	return k
}

// over tells whether the change that an alarm at point i speaks of has ended: a later week brought its sum back to 0.
func (c Chart) over(i int) bool {
	return slices.ContainsFunc(c.Points[i+1:], func(p ChartPoint) bool { return c.sum(i, p) == 0 })
}

// sum is a point's cumulative sum on the side of the alarm at point i.
func (c Chart) sum(i int, p ChartPoint) float64 {
	if c.Points[i].Alarm == BetterAlarm {
		return p.Better
	}
	return p.Worse
}

// LastAlarm is the latest point with an alarm among those after the base; ok is false without one.
func (c Chart) LastAlarm() (i int, ok bool) {
	for i := len(c.Points) - 1; i >= c.Base; i-- {
		if c.Points[i].Alarm != NoAlarm {
			return i, true
		}
	}
	return 0, false
}
