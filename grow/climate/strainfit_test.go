package climate_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"bagmark/grow"
	"bagmark/grow/climate"
)

// drawBatches are batches at random temperatures of a strain that grows fastest at
// 24 °C, on average 16 days there, each off by a lognormal error.
func drawBatches(rng *rand.Rand, c climate.Curve, n int, error float64) []climate.Measured {
	out := make([]climate.Measured, n)
	for i := range out {
		at := 18 + 10*rng.Float64()
		out[i] = climate.Measured{C: at, Rate: c.Rate(at) / 16 * math.Exp(error*rng.NormFloat64())}
	}
	return out
}

// TestStrainFitHoldsTheTruth: the 80 % range of the optimum holds the true one about
// as often as it says, among all farms and among those whose range is narrow enough
// to be used. Simulated, 250 farms each, common random numbers in every run.
func TestStrainFitHoldsTheTruth(t *testing.T) {
	t.Parallel()
	c := curve(t, 8, 24, 32)
	for _, s := range []struct {
		name    string
		batches int
		error   float64
	}{{"nine batches off by a twentieth", 9, .05}, {"fifteen off by a tenth", 15, .10}} {
		t.Run(s.name, func(t *testing.T) {
			t.Parallel()
			rng := rand.New(rand.NewPCG(11, 7))
			var fitted, held, used, heldUsed float64
			for range 250 {
				f, err := climate.FitStrain(drawBatches(rng, c, s.batches, s.error), 8)
				if errors.Is(err, climate.ErrTooFewBatches) {
					continue
				}
				if err != nil {
					t.Fatal(err)
				}
				in := f.OptLowC <= 24 && f.OptHighC >= 24
				fitted++
				if in {
					held++
				}
				if f.Usable() {
					used++
					if in {
						heldUsed++
					}
				}
			}
			t.Logf("%.0f fitted, %.2f hold the truth; %.0f used, %.2f", fitted, held/fitted, used, heldUsed/used)
			for of, share := range map[string]float64{"all": held / fitted, "those used": heldUsed / used} {
				if share < .72 || share > .92 {
					t.Errorf("of %s %.2f hold the truth, at a nominal .80", of, share)
				}
			}
		})
	}
}

// TestStrainFitOfPublishedRates: the means of 28 strains of king oyster on agar
// (Soylu et al. 2016, see eryngii) with growth fixed to begin at 8 °C are fastest at
// 25.33 °C, computed independently (scipy); here each temperature stands for two
// batches, which moves no least square.
func TestStrainFitOfPublishedRates(t *testing.T) {
	t.Parallel()
	f, err := climate.FitStrain(append(append([]climate.Measured{}, eryngii...), eryngii...), 8)
	if err != nil {
		t.Fatal(err)
	}
	_, opt, _ := f.Curve.Cardinal()
	near(t, "optimum", opt, 25.33, .0151)
	if !f.Usable() || f.Batches != 8 || f.FromC != 15 || f.ToC != 30 || !(f.OptLowC <= opt && opt <= f.OptHighC) {
		t.Errorf("fit: %+v", f)
	}
	if got := f.Cardinal().Mark; got != "fitted from your 8 batches" {
		t.Errorf("marked %q", got)
	}
	if words := climate.FitWords(f, grow.Cardinal{OptC: 25.3, Mark: grow.Published}, grow.Units{}); !strings.HasPrefix(words, "Your 8 batches with cores between 15.0 and 30.0 °C grow fastest at 25.3 °C, 80 % range ") || !strings.HasSuffix(words, "; built in 25.3 (published).") {
		t.Errorf("words: %s", words)
	}
}

// TestStrainFitRefusesTooLittle: fewer than six batches, or all within four degrees,
// bear no curve; batches that scatter bear one that is not used.
func TestStrainFitRefusesTooLittle(t *testing.T) {
	t.Parallel()
	c := curve(t, 8, 24, 32)
	narrow := make([]climate.Measured, 12)
	for i := range narrow {
		at := 20 + float64(i)/3.01
		narrow[i] = climate.Measured{C: at, Rate: c.Rate(at)}
	}
	for name, list := range map[string][]climate.Measured{"five": narrow[:5], "narrow": narrow} {
		if f, err := climate.FitStrain(list, 8); !errors.Is(err, climate.ErrTooFewBatches) {
			t.Errorf("%s: %+v, %v", name, f, err)
		}
	}
	wild := []climate.Measured{{C: 18, Rate: .06}, {C: 20, Rate: .03}, {C: 21, Rate: .07}, {C: 23, Rate: .035}, {C: 24, Rate: .07}, {C: 26, Rate: .05}}
	f, err := climate.FitStrain(wild, 8)
	if err == nil && f.Usable() {
		t.Errorf("a curve through scatter is used: %+v", f)
	}
	if err == nil {
		if words := climate.FitWords(f, grow.Cardinal{OptC: 25.3, Mark: grow.Published}, grow.Units{}); !strings.Contains(words, "do not tell yet") {
			t.Errorf("words: %s", words)
		}
	}
}
