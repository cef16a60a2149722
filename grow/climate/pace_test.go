package climate_test

import (
	"math"
	"strings"
	"testing"

	"bagmark/grow"
	"bagmark/grow/climate"

	"pgregory.net/rapid"
)

// TestPaces: growth at 20 and 26 °C in the core of king oyster (8, 25.3 and 33.1 °C
// after Soylu et al. 2016 with growth fixed to begin at 8) is .757 and .994 of the
// best, computed independently; an hour not known goes by as usual.
func TestPaces(t *testing.T) {
	t.Parallel()
	c := curve(t, 8, 25.3, 33.1)
	usual := c.Rate(25)
	p := climate.PacesOf([]climate.Stay{{From: 98, To: 103, Track: hours(18, 24), OffsetC: 2}, {From: 103, To: 105}}, c, usual)
	want := []float64{1, 1, .757 / usual, .994 / usual, 1, 1, 1}
	for i := range want {
		near(t, "pace", p.Hours[i], want[i], .001)
	}
	if len(p.Hours) != len(want) || p.Known != 2 || p.Ahead.Known != 0 || p.Ahead.Pace != 1 {
		t.Errorf("paces: %+v", p)
	}
	p = climate.PacesOf([]climate.Stay{{From: 124, To: 130, Track: steady(18, 30), OffsetC: 2}}, c, usual)
	near(t, "ahead", p.Ahead.Pace, .757/usual, .001)
	near(t, "core", p.Ahead.CoreC, 20, 1e-9)
	if p.Ahead.Known != 30 {
		t.Errorf("%d hours ahead are known: those before the bag came count too", p.Ahead.Known)
	}
}

// TestPacesAgreeWithGrowth: the hours' paces add up to what Expose calls growth.
func TestPacesAgreeWithGrowth(t *testing.T) {
	t.Parallel()
	c := curve(t, 3, 23, 33)
	rapid.Check(t, func(t *rapid.T) {
		track := hours(rapid.SliceOfN(rapid.Float64Range(-5, 40), 1, 60).Draw(t, "air")...)
		stay := climate.Stay{From: 100, To: 100 + int64(len(track)), Track: track, OffsetC: 2}
		usual := rapid.Float64Range(.2, 1).Draw(t, "usual")
		var sum float64
		for _, pace := range climate.PacesOf([]climate.Stay{stay}, c, usual).Hours {
			sum += pace
		}
		e := climate.Expose([]climate.Stay{stay}, enoki, c)
		rate, core, known, all := climate.RateOf([]climate.Stay{stay}, c)
		if math.Abs(sum*usual/24-e.Grown) > 1e-9 || math.Abs(rate-e.Rate) > 1e-9 || math.Abs(core-e.Mean-2) > 1e-9 || known != len(track) || all != known {
			t.Fatalf("paces add up to %v days, growth is %v; rate %v and %v", sum*usual/24, e.Grown, rate, e.Rate)
		}
	})
}

func TestPaceWords(t *testing.T) {
	t.Parallel()
	c := curve(t, 8, 25.3, 33.1)
	for _, w := range []struct {
		air  float64
		want string
	}{
		{18, "about 24 in 100 slower than at 23.0 °C"}, {23, "no faster or slower"}, {4, "too cold"}, {32, "too hot"},
	} {
		p := climate.PacesOf([]climate.Stay{{From: 100, To: 148, Track: steady(w.air, 48), OffsetC: 2}}, c, c.Rate(25))
		if got := climate.PaceWords(p, "at 23.0 °C", grow.Units{}); !strings.Contains(got, w.want) || !strings.HasPrefix(got, "Counted with the room") {
			t.Errorf("%v °C: %q lacks %q", w.air, got, w.want)
		}
	}
	half := climate.PacesOf([]climate.Stay{{From: 52, To: 148, Track: steady(18, 48), OffsetC: 2}}, c, c.Rate(25))
	if got := climate.PaceWords(half, "at 23.0 °C", grow.Units{}); !strings.Contains(got, "2 of 4 days known") {
		t.Errorf("half known: %q", got)
	}
	if got := climate.PaceWords(climate.PacesOf([]climate.Stay{{From: 0, To: 48}}, c, 1), "", grow.Units{}); got != "" {
		t.Errorf("nothing known: %q", got)
	}
}
