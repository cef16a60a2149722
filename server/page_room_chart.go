package server

import (
	"fmt"
	"math"
	"strings"

	"bagmark/grow"
	"bagmark/store"
)

// roomChart is one value of a room's days: a band from the lowest to the highest
// reading of each day, a line of the days' means that breaks where nothing is
// known.
type roomChart struct {
	id, title string
	of        func(store.AirDay) (mean, low, high float64)
	number    func(float64) string
}

func (p *airPage) tempChart(farm *store.Farm) *chart {
	convert := farm.Degrees
	return p.roomChart(roomChart{id: "temp", title: "Temperature in " + p.U.DegreeSign() + ", day by day",
		of: func(d store.AirDay) (float64, float64, float64) {
			return convert(d.Temp), convert(d.Low), convert(d.High)
		}, number: numberWords})
}

func (p *airPage) co2Chart() *chart {
	return p.roomChart(roomChart{id: "co2", title: "Carbon dioxide in ppm, day by day",
		of: func(d store.AirDay) (float64, float64, float64) { return d.CO2, d.CO2, d.CO2Worst }, number: numberWords})
}

// roomChart draws the days; nil where none has the value.
func (p *airPage) roomChart(r roomChart) *chart {
	days := p.RoomClimate.Days
	low, high, any := math.Inf(1), math.Inf(-1), false
	for _, d := range days {
		if mean, l, h := r.of(d); !math.IsNaN(mean) {
			low, high, any = math.Min(low, l), math.Max(high, h), true
		}
	}
	if !any {
		return nil
	}
	first, last := days[0].On, days[len(days)-1].On
	step := niceStep((high - low) / 4)
	low, high = math.Floor(low/step)*step, math.Ceil(high/step)*step
	if high == low {
		high += step
	}
	c := &chart{ID: r.id, Title: r.title, XName: "day", xMost: float64(last-first) + 1, yMost: high - low}
	for v := low; v <= high+step/1000; v += step {
		c.Y = append(c.Y, tick{units(c.y(v - low)), r.number(math.Round(v*100) / 100)})
	}
	names := min(4, int(last-first)+1)
	for i := range names {
		at := first + grow.Date(float64(i)*(float64(last-first)+1)/float64(names))
		c.X = append(c.X, tick{units(c.x(float64(at - first))), at.Time().Format("2 Jan")})
	}
	c.roomDays(days, first, low, r)
	c.Desc = fmt.Sprintf("From %s to %s between %s and %s.", dateWords(first), dateWords(last), r.number(low), r.number(high))
	return c
}

// roomDays draws the bands and the line, which breaks at days without readings.
func (c *chart) roomDays(days []store.AirDay, first grow.Date, floor float64, r roomChart) {
	var path strings.Builder
	last, lastMean := grow.Date(math.MinInt32), 0.0
	for _, d := range days {
		mean, l, h := r.of(d)
		if math.IsNaN(mean) {
			continue
		}
		at := float64(d.On - first)
		if h > l {
			c.band(at, at+1, l-floor, h-floor)
		}
		fmt.Fprintf(&path, "%s%s %s", map[bool]string{true: "L", false: "M"}[d.On == last+1], units(c.x(at+0.5)), units(c.y(mean-floor)))
		if d.On != last+1 {
			path.WriteString("h0.1") // a lone day is still seen
		}
		last, lastMean = d.On, mean
	}
	c.Lines = append(c.Lines, chartLine{Path: path.String(), Name: "mean " + r.number(math.Round(lastMean*10)/10), X: units(c.x(float64(last-first)+0.5) + 6), end: c.y(lastMean - floor)})
	c.names()
}

// niceStep is the next round number at or above a width.
func niceStep(width float64) float64 {
	if !(width > 0) {
		return 1
	}
	power := math.Pow(10, math.Floor(math.Log10(width)))
	for _, m := range []float64{1, 2, 5, 10} {
		if m*power >= width*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}
