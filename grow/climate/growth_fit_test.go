package climate_test

import (
	"math"
	"testing"

	"bagmark/grow/climate"
)

// eryngii is growth on agar in mm a day, the mean of 28 strains: Soylu, Boztok &
// Esiyok 2016, Acta Horticulturae 1123: 207-214 (abstract).
var eryngii = []climate.Measured{{C: 15, Rate: .90}, {C: 20, Rate: 2.84}, {C: 25, Rate: 3.35}, {C: 30, Rate: 2.39}}

// TestFitOfPublishedRates: least-squares fits computed independently (scipy).
func TestFitOfPublishedRates(t *testing.T) {
	t.Parallel()
	fixed := func(c float64) *float64 { return &c }
	for _, c := range []struct {
		name           string
		fixedMin       *float64
		min, opt, max  float64
		best, rmse     float64
		freedom        int
		first, residue float64
	}{
		{"all free", nil, 13.02, 24.24, 34.93, 3.367, 0, 0, 0, 0},
		{"growth begins at 10", fixed(10), 10, 24.88, 33.80, 3.433, .113, 1, .149, -.019},
		{"growth begins at 8", fixed(8), 8, 25.33, 33.11, 3.456, .180, 1, .255, -.018},
		{"growth begins at 5", fixed(5), 5, 25.99, 32.18, 3.498, .254, 1, .374, -.011},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f, err := climate.FitCurve(eryngii, c.fixedMin)
			if err != nil {
				t.Fatal(err)
			}
			lo, opt, hi := f.Curve.Cardinal()
			near(t, "min", lo, c.min, .0151)
			near(t, "optimum", opt, c.opt, .0151)
			near(t, "max", hi, c.max, .0151)
			near(t, "best", f.Best, c.best, .0011)
			near(t, "rmse", f.RMSE, c.rmse, .0006)
			near(t, "first residual", f.Residuals[0], c.first, .0011)
			near(t, "last residual", f.Residuals[3], c.residue, .0011)
			if f.Freedom != c.freedom {
				t.Errorf("freedom %d, want %d", f.Freedom, c.freedom)
			}
		})
	}
}

// TestFitOfMoulds: growth of moulds on agar at eight temperatures, rebuilt from
// the parameters printed in J. Fungi 2023, 9: 294, Table 5; the fits of our curve
// to them were computed independently (scipy). Where the valley of least squares
// is flat the tolerance is wider.
func TestFitOfMoulds(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name                        string
		a, b, min, max, best        float64 // printed
		wantMin, wantOpt, wantMax   float64
		wantBest, wantRMSE, degrees float64
	}{
		{"T. asperellum MZC-8", 2.39, .91, 7.5, 35.5, 13.3, 8.45, 27.82, 35.58, 13.30, .031, .3},
		{"T. asperellum MZC-11", 2.60, .92, 5.0, 35.5, 15.2, 6.74, 27.61, 35.56, 15.17, .053, .3},
		{"T. longibrachiatum MZC-4", 2.97, .96, 6.0, 40.5, 33.6, 9.45, 32.20, 40.50, 33.42, .213, .6},
		{"P. citrinum MZC-21", 1.24, .62, 12.0, 35.5, 1.8, 9.23, 27.36, 36.25, 1.83, .018, 1},
		{"A. flavus MZC-17", 2.27, .80, 5.0, 41.0, 5.6, 5.66, 31.62, 41.35, 5.62, .008, .3},
		{"M. fragilis MZC-1", 1.47, .73, 4.0, 35.0, 8.6, 1.34, 24.66, 35.03, 8.85, .181, 1},
		{"C. globosum MZC-2", 1.74, .99, 5.0, 35.5, 2.2, 4.26, 24.41, 35.52, 2.21, .005, .3},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var points []climate.Measured
			for at := 5.0; at <= 40; at += 5 {
				points = append(points, climate.Measured{C: at, Rate: printedBeta(c.a, c.b, c.min, c.max, c.best, at)})
			}
			f, err := climate.FitCurve(points, nil)
			if err != nil {
				t.Fatal(err)
			}
			lo, opt, hi := f.Curve.Cardinal()
			near(t, "min", lo, c.wantMin, c.degrees)
			near(t, "optimum", opt, c.wantOpt, c.degrees)
			near(t, "max", hi, c.wantMax, c.degrees)
			near(t, "best", f.Best, c.wantBest, .02*c.wantBest)
			near(t, "rmse", f.RMSE, c.wantRMSE, .002+.05*c.wantRMSE)
			if f.Freedom != 4 {
				t.Errorf("freedom %d, want 4", f.Freedom)
			}
		})
	}
}

// printedBeta is the rate by the paper's own model, highest at min + (max-min)·a/(a+b).
func printedBeta(a, b, lo, hi, best, c float64) float64 {
	if c <= lo || c >= hi {
		return 0
	}
	shape := func(q float64) float64 { return math.Pow(q, a) * math.Pow(1-q, b) }
	return best * shape((c-lo)/(hi-lo)) / shape(a/(a+b))
}

// TestMouldsOutrunMycelium: on agar at 25 °C the two Trichoderma run 3.7 to 4.3
// times as fast as king oyster, at 15 °C 3.3 to 4.9 times (the two sources above;
// different laboratories and media, so an order of size only).
func TestMouldsOutrunMycelium(t *testing.T) {
	t.Parallel()
	slow, quick := [5]float64{2.39, .91, 7.5, 35.5, 13.3}, [5]float64{2.60, .92, 5.0, 35.5, 15.2}
	rate := func(p [5]float64, c float64) float64 { return printedBeta(p[0], p[1], p[2], p[3], p[4], c) }
	near(t, "25 °C", rate(slow, 25)/3.35, 3.7, .051)
	near(t, "25 °C", rate(quick, 25)/3.35, 4.3, .051)
	near(t, "15 °C", rate(slow, 15)/.90, 3.3, .051)
	near(t, "15 °C", rate(quick, 15)/.90, 4.9, .051)
}

func TestFitRefusesTooLittle(t *testing.T) {
	t.Parallel()
	if _, err := climate.FitCurve(eryngii[:2], nil); err == nil {
		t.Error("two rates were enough for a curve")
	}
	if _, err := climate.FitCurve(eryngii[:3], nil); err == nil {
		t.Error("three rates were enough for four parameters")
	}
}
