package grow_test

import (
	"math"
	"testing"
	"time"

	"bagmark/grow"

	"pgregory.net/rapid"
)

func TestReadingProblems(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	num := func(v float64) *float64 { return &v }
	for _, c := range []struct {
		name string
		r    grow.AirReading
		ok   bool
	}{
		{"temperature", grow.AirReading{At: now, TempC: num(21.5)}, true},
		{"all three", grow.AirReading{At: now, TempC: num(21.5), RHPct: num(93), CO2ppm: num(1800)}, true},
		{"only carbon dioxide", grow.AirReading{At: now, CO2ppm: num(412)}, true},
		{"four minutes ahead", grow.AirReading{At: now.Add(4 * time.Minute), TempC: num(20)}, true},
		{"six minutes ahead", grow.AirReading{At: now.Add(6 * time.Minute), TempC: num(20)}, false},
		{"a clock never set", grow.AirReading{At: time.Unix(0, 0), TempC: num(20)}, false},
		{"no time", grow.AirReading{TempC: num(20)}, false},
		{"nothing in it", grow.AirReading{At: now}, false},
		{"Fahrenheit of a warm day", grow.AirReading{At: now, TempC: num(98.6)}, false},
		{"not a number", grow.AirReading{At: now, TempC: num(math.NaN())}, false},
		{"humidity over 100", grow.AirReading{At: now, RHPct: num(101)}, false},
		{"carbon dioxide below nothing", grow.AirReading{At: now, CO2ppm: num(-1)}, false},
	} {
		if got := c.r.Problem(now); (got == "") != c.ok {
			t.Errorf("%s: problem %q", c.name, got)
		}
	}
}

// TestScaledIsExact: tenths of °C, sixteenths as cheap sensors give, and tenths of
// °F come back as they went in.
func TestScaledIsExact(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(-400, 850).Draw(t, "tenths")
		for _, v := range []float64{float64(n) / 10, float64(n) / 16} {
			if got := *grow.Unscaled(grow.Scaled(&v)); got != v {
				t.Fatalf("%v came back as %v", v, got)
			}
		}
		f := float64(n) / 10
		c := (f - 32) / 1.8
		if back := *grow.Unscaled(grow.Scaled(&c))*1.8 + 32; math.Round(back*10) != float64(n) {
			t.Fatalf("%v °F came back as %v", f, back)
		}
	})
}
