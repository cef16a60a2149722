package climate_test

import (
	"math"
	"testing"

	"bagmark/grow/climate"
)

// TestSteamRelease holds the saturation line to the check values printed in the
// release of IAPWS-IF97, tables 35 and 36 (from memory).
func TestSteamRelease(t *testing.T) {
	t.Parallel()
	near(t, "ps(300 K)", climate.SteamKPa(300-273.15), 3.53658941, 5e-8)
	near(t, "ps(500 K)", climate.SteamKPa(500-273.15), 2638.89776, 5e-6)
	near(t, "ps(600 K)", climate.SteamKPa(600-273.15), 12344.3146, 5e-5)
	near(t, "Ts(0.1 MPa)", climate.SteamTempC(100), 372.755919-273.15, 5e-7)
	near(t, "Ts(1 MPa)", climate.SteamTempC(1000), 453.035632-273.15, 5e-7)
	near(t, "Ts(10 MPa)", climate.SteamTempC(10000), 584.149488-273.15, 5e-7)
}

// TestSteamTables: the printed tables of a steam handbook (1.0 and 1.1 bar gauge)
// and of an engineering page (100 and 120 °C), the others computed independently
// (Python).
func TestSteamTables(t *testing.T) {
	t.Parallel()
	near(t, "100 °C, engineering page", climate.SteamKPa(100), 101.33, .1)
	near(t, "120 °C, engineering page", climate.SteamKPa(120), 198.5, .2)
	near(t, "1.0 bar gauge, steam handbook", climate.GaugeTempC(100, 0), 120.4, .051)
	near(t, "1.1 bar gauge, steam handbook", climate.GaugeTempC(110, 0), 122.0, .051)
	for c, want := range map[float64]float64{
		95: 84.61, 98: 94.39, 100: 101.42, 105: 120.90, 110: 143.38, 115: 169.18, 118: 186.40,
		120: 198.67, 121.1: 205.69, 122: 211.58, 125: 232.22, 130: 270.26, 134: 304.20,
	} {
		near(t, "kPa absolute", climate.SteamKPa(c), want, .0051)
	}
	for c, want := range map[float64]float64{100: .1, 105: 19.6, 110: 42.1, 115: 67.9, 118: 85.1, 120: 97.3, 121.1: 104.4, 122: 110.3, 125: 130.9, 130: 168.9, 134: 202.9} {
		near(t, "kPa gauge", climate.GaugeKPa(c, 0), want, .051)
	}
}

// TestAltitude: all columns computed independently (Python) from the standard
// atmosphere and IAPWS-IF97.
func TestAltitude(t *testing.T) {
	const psi15 = 15 * 6.894757 // kPa
	t.Parallel()
	for _, c := range []struct{ altitude, air, boils, at15psi, rate, gauge121, openRate float64 }{
		{0, 101.33, 99.97, 120.95, .967, 104.4, .00772},
		{500, 95.46, 98.31, 120.03, .782, 110.2, .00526},
		{1000, 89.87, 96.65, 119.14, .636, 115.8, .00359},
		{1500, 84.56, 94.98, 118.26, .520, 121.1, .00245},
		{2000, 79.50, 93.32, 117.41, .428, 126.2, .00167},
		{3000, 70.11, 89.97, 115.78, .294, 135.6, .00077},
	} {
		near(t, "air", climate.AirKPa(c.altitude), c.air, .0051)
		near(t, "boiling", climate.BoilingC(c.altitude), c.boils, .0051)
		near(t, "at 15 psi", climate.GaugeTempC(psi15, c.altitude), c.at15psi, .0051)
		near(t, "rate at 15 psi", climate.Lethality(climate.GaugeTempC(psi15, c.altitude)), c.rate, .0011)
		near(t, "gauge for 121.1", climate.GaugeKPa(121.1, c.altitude), c.gauge121, .051)
		near(t, "rate of open steam", climate.Lethality(climate.BoilingC(c.altitude)), c.openRate, 5.1e-6)
	}
}

func TestSteamThereAndBack(t *testing.T) {
	t.Parallel()
	for c := 1.0; c <= 369; c += 0.5 {
		near(t, "there and back", climate.SteamTempC(climate.SteamKPa(c)), c, 1e-6)
	}
	for _, c := range []float64{-1, 371, math.NaN(), math.Inf(1)} {
		if got := climate.SteamKPa(c); !math.IsNaN(got) {
			t.Errorf("SteamKPa(%v) = %v, want not a number", c, got)
		}
	}
	for _, p := range []float64{0, -1, 30000, math.NaN(), math.Inf(1)} {
		if got := climate.SteamTempC(p); !math.IsNaN(got) {
			t.Errorf("SteamTempC(%v) = %v, want not a number", p, got)
		}
	}
}
