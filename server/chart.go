package server

import (
	"fmt"
	"math"
	"strings"
)

// Charts are drawn in a box of 360 by 260 units, the width of a phone, so that
// their words are as large as the page's. Ink only: lines are told apart by
// their dashes and by the name at their end, intervals are bands, axes begin at
// zero.
const (
	chartWidth  = 360.0
	chartHeight = 260.0
	chartLeft   = 34.0
	chartRight  = 268.0 // what lies right of it is for the names of lines
	chartTop    = 14.0
	chartBottom = 222.0
	nameGap     = 15.0 // between names, so that they do not overlap
	nameMost    = 14   // letters
)

// chart is one drawing, in words as well.
type chart struct {
	ID, Title, Desc string
	XName           string
	X, Y            []tick
	Bands           []box
	Lines           []chartLine
	Marks           []mark
	xMost, yMost    float64
}

// tick is a number on an axis.
type tick struct{ At, Word string }

// box is a band over an interval.
type box struct{ X, Y, Width, Height string }

// chartLine is a line and its name.
type chartLine struct {
	Path string
	Dash int // which of the dashes
	Name string
	X, Y string // of the name

	end float64
}

// mark is a point; Out ones are drawn as diamonds.
type mark struct {
	X, Y string
	Out  bool
}

// newChart is an empty drawing of shares up to yMost over x from 0 to xMost.
func newChart(id, title, xName string, xMost, yMost float64) *chart {
	c := &chart{ID: id, Title: title, XName: xName, xMost: math.Max(xMost, 1), yMost: yMost}
	for _, v := range ticks(yMost) {
		c.Y = append(c.Y, tick{units(c.y(v)), numberWords(math.Round(100 * v))})
	}
	return c
}

// days numbers the axis below.
func (c *chart) days() {
	for _, v := range ticks(c.xMost) {
		c.X = append(c.X, tick{units(c.x(v)), numberWords(v)})
	}
}

func (c *chart) x(v float64) float64 { return chartLeft + (chartRight-chartLeft)*v/c.xMost }

func (c *chart) y(v float64) float64 {
	return chartBottom - (chartBottom-chartTop)*math.Min(v, c.yMost)/c.yMost
}

// line adds a line through points of x and share.
func (c *chart) line(points [][2]float64, dash int, name string) {
	if len(points) == 0 {
		return
	}
	var path strings.Builder
	for i, p := range points {
		fmt.Fprintf(&path, "%s%s %s", map[bool]string{true: "M", false: "L"}[i == 0], units(c.x(p[0])), units(c.y(p[1])))
	}
	last := points[len(points)-1]
	c.Lines = append(c.Lines, chartLine{Path: path.String(), Dash: dash, Name: shortened(name), X: units(math.Min(c.x(last[0])+6, chartRight+6)), end: c.y(last[1])})
}

// band marks an interval of x within which the share rises from low to high.
func (c *chart) band(from, to, low, high float64) {
	c.Bands = append(c.Bands, box{units(c.x(from)), units(c.y(high)), units(c.x(to) - c.x(from)), units(c.y(low) - c.y(high))})
}

// names puts the lines' names beside their ends, apart from each other.
func (c *chart) names() {
	order := make([]int, len(c.Lines))
	for i := range order {
		order[i] = i
		for k := i; k > 0 && c.Lines[order[k]].end < c.Lines[order[k-1]].end; k-- {
			order[k], order[k-1] = order[k-1], order[k]
		}
	}
	at := math.Inf(-1)
	for _, i := range order {
		at = math.Max(at+nameGap, c.Lines[i].end+4)
		c.Lines[i].Y = units(at)
	}
}

func shortened(name string) string {
	if r := []rune(name); len(r) > nameMost {
		return string(r[:nameMost-1]) + "…"
	}
	return name
}

// ticks are round numbers from 0 up to most.
func ticks(most float64) []float64 {
	step := math.Pow(10, math.Floor(math.Log10(most)))
	switch {
	case most/step < 2:
		step /= 4
	case most/step < 5:
		step /= 2
	}
	if most >= 4 {
		step = math.Max(1, math.Round(step))
	}
	var out []float64
	for i := 0; float64(i)*step <= most*(1+1e-9); i++ {
		out = append(out, float64(i)*step)
	}
	return out
}

func units(v float64) string { return fmt.Sprintf("%.1f", v) }
