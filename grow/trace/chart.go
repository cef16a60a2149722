package trace

import (
	"math"
	"slices"
	"time"

	"bagmark/grow"
)

// Weeks of the base period and what a week must hold. Common practice, no source.
const (
	baseWeeks      = 26
	leastBaseWeeks = 8
	fullWeek       = 20.0 // bags that make a week count towards the least
	leastExpected  = 3.0  // contaminated bags expected in a point of the chart
)

// A Week is the counted bags inoculated in one week.
type Week struct {
	Start time.Time // its first day
	Counts
}

// ByWeek counts bags by the week in which they were inoculated, weeks starting as u has them, in order. inoculated
// holds one day a bag, in the farm's time zone. A week counts once all its batches have reached their species' day.
func ByWeek(bags []Bag, inoculated []time.Time, u grow.Units) []Week {
	weeks := make(map[time.Time]Counts)
	young := make(map[time.Time]bool)
	for i, b := range bags[:min(len(bags), len(inoculated))] {
		start := u.WeekStartOf(grow.DateOn(inoculated[i].Date())).Time()
		if b.Age < b.Horizon {
			young[start] = true
			continue
		}
		switch b.OutcomeBy(b.Horizon) {
		case Bad:
			weeks[start] = weeks[start].plus(Counts{1, 1})
		case Clean:
			weeks[start] = weeks[start].plus(Counts{0, 1})
		}
	}
	var out []Week
	for start, c := range weeks {
		if !young[start] {
			out = append(out, Week{start, c})
		}
	}
	slices.SortFunc(out, func(a, b Week) int { return a.Start.Compare(b.Start) })
	return out
}

// A ChartPoint is one week, or several merged because they were small.
type ChartPoint struct {
	Week
	Weeks     int
	Z         float64 // standardised distance from the centre
	Low, High float64 // limits for a week of its size
	Out       bool
	Worse     float64 // cumulative sum of what is above the centre, before any restart
	Better    float64
	Alarm     Alarm
}

// An Alarm says that a change has built up.
type Alarm string

const (
	NoAlarm     Alarm = ""
	WorseAlarm  Alarm = "worse"
	BetterAlarm Alarm = "better"
)

// A Chart is contamination by inoculation week against what is usual for the farm.
type Chart struct {
	Centre float64
	Spread float64 // variance of the base weeks over that of independent bags, at least 1
	Points []ChartPoint
	Base   int // how many points the centre was made from
}

// ControlChart makes a p-chart whose limits follow the week's bags and the spread from week to week (in the manner of
// Laney 2002, Quality Engineering 14:531-537, in its plainest form: with big weeks and bags that share their fate
// ordinary limits cry wolf), and one-sided cumulative sums for the alarm. weeks are in order and hold only bags that
// reached the species' day; the last judged of them are judged by the 26 before. ok is false where there is no chart
// to be had: fewer than eight base weeks of 20 bags, or nothing contaminated in them; then show the counts.
func ControlChart(weeks []Week, judged int) (c Chart, ok bool) {
	judged = min(max(0, judged), len(weeks))
	cut := len(weeks) - judged
	from := max(0, cut-baseWeeks)
	full := 0
	var base Counts
	for _, w := range weeks[from:cut] {
		base = base.plus(w.Counts)
		if w.Bags >= fullWeek {
			full++
		}
	}
	if full < leastBaseWeeks || !(base.Bad > 0) || base.Bad >= base.Bags {
		return Chart{}, false
	}
	before := merge(weeks[from:cut], base.Rate())
	points := append(before, merge(weeks[cut:], base.Rate())...)
	return chart(points, func(i int) bool { return i < len(before) }), true
}

// merge joins each week in which fewer than three contaminated bags are expected with the next one.
func merge(weeks []Week, rate float64) []ChartPoint {
	var out []ChartPoint
	open := false
	for _, w := range weeks {
		if open {
			last := &out[len(out)-1]
			last.Counts = last.Counts.plus(w.Counts)
			last.Weeks++
		} else {
			out = append(out, ChartPoint{Week: w, Weeks: 1})
		}
		open = out[len(out)-1].Bags*rate < leastExpected
	}
	if n := len(out); open && n > 1 { // the last one stayed small: it goes to the one before
		out[n-2].Counts = out[n-2].Counts.plus(out[n-1].Counts)
		out[n-2].Weeks += out[n-1].Weeks
		out = out[:n-1]
	}
	return out
}

// chart fills in centre, limits and sums, the centre from the points of the base.
func chart(points []ChartPoint, inBase func(int) bool) Chart {
	c := Chart{Points: points, Spread: 1}
	var base Counts
	for i, p := range points {
		if inBase(i) {
			base = base.plus(p.Counts)
			c.Base++
		}
	}
	c.Centre = base.Rate()
	squares := 0.0
	for i := range points {
		p := &points[i]
		if p.Bags > 0 {
			p.Z = (p.Rate() - c.Centre) / c.error(p.Bags)
		}
		if inBase(i) {
			squares += p.Z * p.Z
		}
	}
	if c.Base > 1 {
		c.Spread = math.Max(1, squares/float64(c.Base-1))
	}
	for i := range points {
		points[i].Low, points[i].High = c.limits(points[i].Bags, c.Spread)
		points[i].Out = points[i].Rate() > points[i].High || points[i].Rate() < points[i].Low
	}
	c.accumulate()
	return c
}

func (c Chart) error(bags float64) float64 { return math.Sqrt(c.Centre * (1 - c.Centre) / bags) }

// limits are three standard errors either way.
func (c Chart) limits(bags, spread float64) (low, high float64) {
	if !(bags > 0) {
		return 0, 1
	}
	h := 3 * math.Sqrt(spread) * c.error(bags)
	return math.Max(0, c.Centre-h), math.Min(1, c.Centre+h)
}
