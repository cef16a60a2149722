package server

import (
	"strconv"
	"testing"
	"time"

	"bagmark/grow/trace"

	"github.com/google/go-cmp/cmp"
)

func TestTicks(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		most float64
		want []float64
	}{
		{1, []float64{0, .25, .5, .75, 1}},
		{.1, []float64{0, .025, .05, .075, .1}},
		{.3, []float64{0, .05, .1, .15, .2, .25, .3}},
		{7, []float64{0, 1, 2, 3, 4, 5, 6, 7}},
		{28, []float64{0, 5, 10, 15, 20, 25}},
		{60, []float64{0, 10, 20, 30, 40, 50, 60}},
	} {
		got := ticks(c.most)
		if diff := cmp.Diff(c.want, got, cmp.Comparer(func(a, b float64) bool { return a-b < 1e-9 && b-a < 1e-9 })); diff != "" {
			t.Errorf("up to %g (-want +got):\n%s", c.most, diff)
		}
	}
}

// Names at the ends of lines keep apart, in the order of the ends.
func TestChartNames(t *testing.T) {
	t.Parallel()
	c := newChart("x", "t", "days", 30, 1)
	for i, share := range []float64{.5, .51, 0, 1} {
		c.line([][2]float64{{0, 0}, {30, share}}, i, "group")
	}
	c.names()
	var ys []float64
	for _, l := range []int{3, 1, 0, 2} {
		y, err := strconv.ParseFloat(c.Lines[l].Y, 64)
		if err != nil {
			t.Fatal(err)
		}
		ys = append(ys, y)
	}
	for i := 1; i < len(ys); i++ {
		if ys[i]-ys[i-1] < nameGap-.1 {
			t.Errorf("names at %v are closer than %g", ys, nameGap)
		}
	}
	if c.Lines[2].Path != "M34.0 222.0L268.0 222.0" || c.Lines[3].Path != "M34.0 222.0L268.0 14.0" {
		t.Errorf("axes do not begin at zero: %s and %s", c.Lines[2].Path, c.Lines[3].Path)
	}
}

// TestWeekChart: thirty samples of fifty cans have the centre .2313 and the
// limits .0524 and .4102, and samples 15 and 23 lie above (Montgomery,
// Introduction to Statistical Quality Control, orange juice cans). Here the
// first eighteen are the base, so only the drawing is looked at.
func TestWeekChart(t *testing.T) {
	t.Parallel()
	bad := []float64{12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6}
	var weeks []trace.Week
	for i, x := range bad {
		weeks = append(weeks, trace.Week{Start: time.Date(2026, 1, 5+7*i, 0, 0, 0, 0, time.UTC), Counts: trace.Counts{Bad: x, Bags: 50}})
	}
	w, ok := trace.ControlChart(weeks, 12)
	if !ok {
		t.Fatal("there is no chart")
	}
	c := weekChart(w, "words")
	if len(c.Marks) != 30 || len(c.Bands) != 30 || len(c.Lines) != 2 || c.Lines[1].Name != "each week" || len(c.X) != 4 {
		t.Errorf("%d marks, %d bands, %d lines, %d dates", len(c.Marks), len(c.Bands), len(c.Lines), len(c.X))
	}
	for i, p := range w.Points {
		if c.Marks[i].Out != p.Out {
			t.Errorf("week %d: out %t", i+1, c.Marks[i].Out)
		}
	}
}
