package climate_test

import (
	"math"
	"testing"

	"bagmark/grow"
	"bagmark/grow/climate"

	"pgregory.net/rapid"
)

func curve(t testing.TB, minC, optC, maxC float64) climate.Curve {
	t.Helper()
	c, err := climate.NewCurve(grow.Cardinal{MinC: minC, OptC: optC, MaxC: maxC})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestPublishedCurve: the values printed in the manual of the R package macrogrow
// (function T_lim) for 5, 20 and 30 °C.
func TestPublishedCurve(t *testing.T) {
	t.Parallel()
	c := curve(t, 5, 20, 30)
	for at, want := range map[float64]float64{
		7: .07216, 10: .33333, 15: .80000, 18: .96571, 20: 1, 22: .96333, 25: .76190, 28: .37123, 29: .19692,
		5: 0, 30: 0, -10: 0, 45: 0,
	} {
		near(t, "rate", c.Rate(at), want, 5.1e-6)
	}
}

func TestCurvesThatAreRefused(t *testing.T) {
	t.Parallel()
	for name, c := range map[string][3]float64{
		"not rising": {20, 10, 30}, "alike": {5, 5, 30}, "optimum in the middle": {0, 15, 30}, "optimum low": {0, 10, 30}, "not a number": {math.NaN(), 20, 30},
	} {
		if _, err := climate.NewCurve(grow.Cardinal{MinC: c[0], OptC: c[1], MaxC: c[2]}); err == nil {
			t.Errorf("%s: %v was taken", name, c)
		}
	}
	for _, s := range grow.BuiltInSpecies() {
		if _, err := climate.NewCurve(s.Growth); err != nil {
			t.Errorf("%s: %v", s.Slug, err)
		}
	}
}

// TestCurveProperties: between its limits a curve lies in (0, 1], is highest at
// its optimum and flat there.
func TestCurveProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.Float64Range(-5, 15).Draw(t, "min")
		above := rapid.Float64Range(1, 20).Draw(t, "above")
		below := above * rapid.Float64Range(1.01, 4).Draw(t, "ratio")
		c, err := climate.NewCurve(grow.Cardinal{MinC: lo, OptC: lo + below, MaxC: lo + below + above})
		if err != nil {
			t.Fatal(err)
		}
		x := lo + (below+above)*rapid.Float64Range(.001, .999).Draw(t, "at")
		if r := c.Rate(x); !(r > 0 && r <= 1+1e-9) {
			t.Fatalf("rate at %v is %v", x, r)
		}
		if r := c.Rate(lo + below); math.Abs(r-1) > 1e-9 {
			t.Fatalf("rate at the optimum is %v", r)
		}
		if slope := c.Rate(lo+below+1e-4) - c.Rate(lo+below-1e-4); math.Abs(slope) > 1e-6 {
			t.Fatalf("slope at the optimum is %v", slope)
		}
	})
}

// TestBuiltInCurves: values computed independently (Python) from the built-in
// cardinal temperatures, which are from memory except where the species table
// says otherwise.
func TestBuiltInCurves(t *testing.T) {
	t.Parallel()
	at := []float64{15, 18, 20, 22, 24, 26, 28, 30}
	for slug, want := range map[grow.Slug][]float64{
		"pleurotus-ostreatus":       {.438, .625, .747, .856, .942, .993, .992, .920},
		"pleurotus-pulmonarius":     {.345, .532, .659, .779, .883, .960, .998, .983},
		"pleurotus-eryngii":         {.336, .592, .757, .895, .982, .994, .905, .683},
		"pleurotus-citrinopileatus": {.243, .450, .600, .746, .873, .964, 1, .955},
		"pleurotus-djamor":          {.164, .370, .526, .681, .821, .929, .991, .991},
		"hericium-erinaceus":        {.500, .705, .827, .924, .985, .998, .951, .830},
		"flammulina-filiformis":     {.648, .844, .939, .993, .992, .926, .781, .547},
		"hypsizygus-marmoreus":      {.556, .793, .917, .990, .989, .888, .658, .267},
		"lentinula-edodes":          {.450, .674, .812, .924, .991, .989, .894, .670},
		"pholiota-microspora":       {.564, .784, .903, .980, .998, .934, .765, .464},
		"cyclocybe-aegerita":        {.368, .585, .728, .854, .950, .998, .978, .867},
		"grifola-frondosa":          {.475, .697, .829, .932, .992, .991, .912, .735},
		"ganoderma-lingzhi":         {.149, .346, .500, .657, .803, .921, .990, .989},
	} {
		c, err := climate.NewCurve(builtIn(t, slug).Growth)
		if err != nil {
			t.Fatal(err)
		}
		for i, x := range at {
			near(t, string(slug), c.Rate(x), want[i], .00051)
		}
	}
}

func builtIn(t testing.TB, slug grow.Slug) grow.Species {
	t.Helper()
	for _, s := range grow.BuiltInSpecies() {
		if s.Slug == slug {
			return s
		}
	}
	t.Fatalf("no built-in species %s", slug)
	return grow.Species{}
}
