package climate_test

import (
	"math"
	"testing"

	"bagmark/grow/climate"
)

// TestAirOfAFullRoom: 9 g of carbon dioxide an hour from 100 kg of compost at 25 °C
// is a trade figure (a forum post of 2010); the rest was computed independently
// from it, from the heat of burning glucose (from memory) and from a bag that
// loses 12 % of 950 g dry matter in 14 days (common practice).
func TestAirOfAFullRoom(t *testing.T) {
	t.Parallel()
	near(t, "g/h of 100 kg of compost", climate.CO2GramsPerHour(100, climate.HeatLowWPerKg), 9, .15)
	near(t, "heat of lost dry matter, W a bag", 950*.12*16e3/(14*86400), 1.5, .01)
	near(t, "the same a kilogram", 950*.12*16e3/(14*86400)/2.5, .6, .005)
	b := climate.Breathe(750, .63, 30, 5000)
	near(t, "g/h", b.GramsPerHour, 160, .5)
	near(t, "L/h", b.LitresPerHour, 87, .5)
	near(t, "ppm/h", b.RisePPMPerHour, 2900, 15)
	near(t, "hours to 5,000", b.HoursToWarn, 1.6, .05)
	near(t, "fresh air", b.FreshM3PerHour, 19, .1)
}

func TestAirOfAnEmptyRoom(t *testing.T) {
	t.Parallel()
	b := climate.Breathe(0, .63, 30, 5000)
	if !math.IsInf(b.HoursToWarn, 1) || b.FreshM3PerHour != 0 || b.LitresPerHour != 0 {
		t.Errorf("empty room: %+v", b)
	}
	if !math.IsInf(climate.FreshAir(10, 400), 1) {
		t.Error("no fresh air brings a room under the open air")
	}
}

func TestAirLevels(t *testing.T) {
	t.Parallel()
	for ppm, want := range map[float64]climate.Air{420: climate.AirFine, 4999: climate.AirFine, 5000: climate.AirWarn, 14999: climate.AirWarn, 15000: climate.AirLeave} {
		if got := climate.AirAt(ppm); got != want {
			t.Errorf("%v ppm: %s, want %s", ppm, got, want)
		}
	}
}
