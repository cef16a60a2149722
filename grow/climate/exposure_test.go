package climate_test

import (
	"math"
	"testing"

	"bagmark/grow/climate"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// hours is a measured track of one temperature after another, from hour 100.
func hours(celsius ...float64) climate.Track {
	var t climate.Track
	for i, c := range celsius {
		t = append(t, climate.Hour{Start: 100 + int64(i), C: c})
	}
	return t
}

func steady(c float64, n int) climate.Track {
	list := make([]float64, n)
	for i := range list {
		list[i] = c
	}
	return hours(list...)
}

// enoki is the species table's band for it, partly published.
var enoki = climate.Band{LowC: 14, TargetC: 18, HighC: 22, CeilingC: 28}

// TestExposure: one degree over a band of air for a day is one degree-day; where
// bags touch, the same air is 3 over, since the band reckons with bags that stand
// alone (2 °C and 4 °C, common practice).
func TestExposure(t *testing.T) {
	t.Parallel()
	c := curve(t, 3, 23, 33)
	alone := climate.Expose([]climate.Stay{{From: 100, To: 148, Track: steady(23, 24), OffsetC: climate.CoreAloneC}}, enoki, c)
	near(t, "known", alone.Known(), 1, 1e-9)
	near(t, "unknown", alone.Unknown, 1, 1e-9)
	near(t, "above", alone.Above, 1, 1e-9)
	near(t, "degree-days", alone.DegreeDays, 1, 1e-9)
	near(t, "past the ceiling", alone.PastCeiling, 0, 0)
	near(t, "growth", alone.Grown, c.Rate(25), 1e-9)
	near(t, "mean", alone.Mean, 23, 1e-9)
	touching := climate.Expose([]climate.Stay{{From: 100, To: 124, Track: steady(25, 24), OffsetC: climate.CoreTouchingC}}, enoki, c)
	near(t, "touching, degree-days", touching.DegreeDays, 5, 1e-9)
	near(t, "touching, past the ceiling", touching.PastCeiling, 1, 1e-9) // core 29, ceiling 28
	cold := climate.Expose([]climate.Stay{{From: 100, To: 112, Track: steady(10, 12), OffsetC: climate.CoreAloneC}}, enoki, c)
	near(t, "below", cold.Below, .5, 1e-9)
	near(t, "out", cold.Out(), .5, 1e-9)
	nothing := climate.Expose([]climate.Stay{{From: 0, To: 24, Track: steady(10, 12)}}, enoki, c)
	if nothing.Unknown != 1 || nothing.Known() != 0 || !math.IsNaN(nothing.Mean) || !math.IsNaN(nothing.Rate) {
		t.Errorf("nothing known gave %+v", nothing)
	}
}

// TestAlternatingTemperatureIsNotItsMean: half a day at 15 and half at 27 °C grows
// less than a day at 21, since the curve bends down: no average temperature stands
// for a log.
func TestAlternatingTemperatureIsNotItsMean(t *testing.T) {
	t.Parallel()
	c := curve(t, 8, 25.3, 33.1)
	swing := climate.Expose([]climate.Stay{{From: 100, To: 102, Track: hours(15, 27)}}, enoki, c)
	near(t, "growth", swing.Grown, (c.Rate(15)+c.Rate(27))/2/12, 1e-12)
	if mean := c.Rate(21) / 12; !(swing.Grown < mean) {
		t.Errorf("%v is not less than %v", swing.Grown, mean)
	}
}

// TestExposureAddsUp: cutting a bag's time into stays changes nothing.
func TestExposureAddsUp(t *testing.T) {
	t.Parallel()
	c := curve(t, 3, 23, 33)
	rapid.Check(t, func(t *rapid.T) {
		var track climate.Track
		for h := int64(0); h < 60; h++ {
			if rapid.Bool().Draw(t, "known") {
				track = append(track, climate.Hour{Start: h, C: rapid.Float64Range(5, 35).Draw(t, "c")})
			}
		}
		cut := rapid.Int64Range(0, 60).Draw(t, "cut")
		whole := climate.Expose([]climate.Stay{{0, 60, track, 2}}, enoki, c)
		parts := climate.Expose([]climate.Stay{{0, cut, track, 2}, {cut, 60, track, 2}}, enoki, c)
		for name, d := range map[string]float64{
			"above": whole.Above - parts.Above, "grown": whole.Grown - parts.Grown, "unknown": whole.Unknown - parts.Unknown, "degree-days": whole.DegreeDays - parts.DegreeDays,
		} {
			if math.Abs(d) > 1e-9 {
				t.Fatalf("%s differs by %v", name, d)
			}
		}
		if total := whole.Known() + whole.Unknown; math.Abs(total-2.5) > 1e-9 {
			t.Fatalf("known and unknown are %v days, not 2.5", total)
		}
	})
}

func TestTrackFillsNothingSilently(t *testing.T) {
	t.Parallel()
	track := climate.Track{{Start: 0, C: 20}, {Start: 4, C: 24}, {Start: 40, C: 22}, {Start: 41, C: 22}}
	typed := func(h int64) bool { return h != 41 }
	lined := track.WithLines(typed)
	want := climate.Track{
		{Start: 0, C: 20}, {Start: 1, C: 21, Basis: climate.HourBetween}, {Start: 2, C: 22, Basis: climate.HourBetween},
		{Start: 3, C: 23, Basis: climate.HourBetween}, {Start: 4, C: 24}, {Start: 40, C: 22}, {Start: 41, C: 22},
	}
	if d := cmp.Diff(want, lined); d != "" {
		t.Errorf("lines (-want +got):\n%s", d)
	}
	if d := cmp.Diff(track, track.WithLines(func(int64) bool { return false })); d != "" {
		t.Errorf("a logger's silence was bridged (-want +got):\n%s", d)
	}
	set := track.WithSettings([]climate.Setting{{From: 2, C: 19}, {From: 6, Off: true}, {From: 42, C: 18}}, 0, 44)
	want = climate.Track{
		{Start: 0, C: 20}, {Start: 2, C: 19, Basis: climate.HourSetPoint}, {Start: 3, C: 19, Basis: climate.HourSetPoint}, {Start: 4, C: 24},
		{Start: 5, C: 19, Basis: climate.HourSetPoint}, {Start: 40, C: 22}, {Start: 41, C: 22}, {Start: 42, C: 18, Basis: climate.HourSetPoint}, {Start: 43, C: 18, Basis: climate.HourSetPoint},
	}
	if d := cmp.Diff(want, set); d != "" {
		t.Errorf("settings (-want +got):\n%s", d)
	}
	shelf := climate.Track{{Start: 1, C: 25}, {Start: 4, C: 26}, {Start: 50, C: 27}}
	want = climate.Track{{Start: 0, C: 20}, {Start: 1, C: 25}, {Start: 4, C: 26}, {Start: 40, C: 22}, {Start: 41, C: 22}, {Start: 50, C: 27}}
	if d := cmp.Diff(want, shelf.Over(track)); d != "" {
		t.Errorf("a shelf over its room (-want +got):\n%s", d)
	}
	gaps := track.Unknown(0, 44)
	if len(gaps) != 3 || gaps[0].Length().Hours() != 3 || gaps[1].Length().Hours() != 35 || gaps[2].Length().Hours() != 2 {
		t.Errorf("gaps = %v", gaps)
	}
	if got := track.Between(4, 41); len(got) != 2 {
		t.Errorf("between = %v", got)
	}
	if got := track.Between(50, 10); len(got) != 0 {
		t.Errorf("a backward stretch gave %v", got)
	}
}
