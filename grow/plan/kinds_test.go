package plan

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// oyster is a kind near what a farm of grey oysters sees.
func oyster() Kind {
	return Kind{Name: "oyster",
		Grow:    Law{Mean: math.Log(13), SD: 0.05, Between: 0.12, Within: 0.12},
		Ripen:   Law{Mean: math.Log(4), SD: 0.05, Between: 0.15, Within: 0.15, Shift: 1},
		First:   Law{Mean: math.Log(9), SD: 0.05, Between: 0.1, Within: 0.12},
		Next:    Law{Mean: math.Log(10), SD: 0.05, Between: 0.1, Within: 0.15},
		Flushes: BuiltInFlushes(3), Crop: BuiltInCrop(950, 75, 130), Loss: BuiltInLoss()}
}

func near(t *testing.T, what string, got, want, by float64) {
	t.Helper()
	if !(math.Abs(got-want) <= by) {
		t.Errorf("%s: %.5g, want %.5g within %.2g", what, got, want, by)
	}
}

// TestBuiltInCrop: biological efficiency is fresh mushrooms in per cent of the
// dry substrate. Published: 199.31 g from 252 g dry is 79.09 % (Pleurotus djamor
// on rice straw, Tingo María); about 60.6 % for 550 g from 5 lb of alder (Stamets,
// Growing Gourmet and Medicinal Mushrooms), at 60 % moisture, which is assumed.
// The 2.5 kg bag at 62 % is a worked case of our own.
func TestBuiltInCrop(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		name            string
		dry, pct, grams float64
	}{
		{"djamor on straw", 252, 79.09, 199.31},
		{"lion's mane on alder", 2268 * 0.4, 60.6, 550},
		{"2.5 kg at 62 %: 400 + 170 g", 950, 60, 570},
	} {
		near(t, x.name, BuiltInCrop(x.dry, x.pct, x.pct).Mean, x.grams, 0.5)
	}
	c := BuiltInCrop(950, 75, 130)
	near(t, "one farm in twenty is below 75 %", c.Mean-1.644854*c.SD, 950*0.75, 0.01)
}

// TestFromRange: a range of 14 to 28 days is a mean of 2.98563 and an error of
// 0.21070 in log days (lognormal, central 90 %; worked out with R's qnorm).
func TestFromRange(t *testing.T) {
	t.Parallel()
	l := FromRange(14, 28, 0)
	near(t, "mean", l.Mean, 2.98563, 5e-6)
	near(t, "error", l.SD, 0.21070, 5e-6)
	for _, ends := range [][2]float64{{14, 14}, {0, 0}, {0, 3}} {
		if l := FromRange(ends[0], ends[1], 1); !(l.SD > 0) || math.IsNaN(l.Mean) || math.IsInf(l.Mean, 0) {
			t.Errorf("%v gives %+v", ends, l)
		}
	}
}

// TestSpread: the correlation between pups of one litter is .0291 among the
// controls and .3721 among the treated (Weil 1970, data set rats of R package
// aod, which gives both by its icc from an analysis of variance).
func TestSpread(t *testing.T) {
	t.Parallel()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "statistics", "litters.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for group, want := range map[string]float64{"ctrl": 0.0291, "treat": 0.3721} {
		var litters [][]float64
		for _, row := range rows[1:] {
			if row[0] != group {
				continue
			}
			pups, _ := strconv.Atoi(row[1])
			alive, _ := strconv.Atoi(row[2])
			one := make([]float64, pups)
			for i := range pups - alive {
				one[i] = 1
			}
			litters = append(litters, one)
		}
		if len(litters) != 16 {
			t.Fatalf("%d litters in %s", len(litters), group)
		}
		s := spreadOf(litters)
		near(t, group, s.between/(s.between+s.within), want, 5e-5)
	}
}

// TestLearnFlushes: what bags gave is told again by chances and shares: a bag
// made gives its records' mean, flush by flush.
func TestLearnFlushes(t *testing.T) {
	t.Parallel()
	past := []PastBatch{
		{{Flushes: []float64{400, 170}}, {Flushes: []float64{380, 160}}, {Ended: Growing}},
		{{Flushes: []float64{420}}, {Flushes: []float64{410, 0, 90}}},
		{{Flushes: []float64{390, 150}}, {Ended: Fruiting}},
		{{Flushes: []float64{405, 165}}, {Flushes: []float64{}, Ended: Ripening}},
	}
	flushes := flushesOf(past)
	want := []float64{400 + 380 + 420 + 410 + 390 + 405, 170 + 160 + 0 + 150 + 165, 90} // grams by flush
	reach := 1.0
	for k, f := range flushes {
		reach *= f.Chance
		near(t, "flush "+strconv.Itoa(k+1), reach*f.Share, want[k]/(want[0]+want[1]+want[2]), 1e-12)
	}
	near(t, "chance of a second flush", flushes[1].Chance, 5.0/6, 1e-12)
	k, ok := oyster().Learn(past)
	if !ok {
		t.Fatal("four batches are too few")
	}
	if rate := k.Loss.Bad / (k.Loss.Bad + k.Loss.Good); !(rate > 1.0/12 && rate < 3.0/9) {
		t.Errorf("a loss of %.3f lies not between the built-in 1 of 12 and 3 of 9", rate)
	}
	if grams, lost := k.Usual(); !(grams.Low < grams.Likely && grams.Likely < grams.High && lost.Low < 3.0/9 && lost.High > 1.0/12) {
		t.Errorf("a batch gives %+v a bag, %+v of its bags nothing", grams, lost)
	}
	if _, ok := oyster().Learn(past[:3]); ok {
		t.Error("three batches are enough")
	}
}

// TestLearnMean: with batches alike, a mean learnt is the mean of range and
// batches weighed by their precision (Morris 1983): here with all batches at 20
// days the spreads are the shrunk defaults, 0.15² · 20 / (20 + 36) and
// 0.15² · 4 / (4 + 3).
func TestLearnMean(t *testing.T) {
	t.Parallel()
	var batches [][]float64
	for range 4 {
		batches = append(batches, []float64{20, 20, 20, 20, 20, 20, 20, 20, 20, 20})
	}
	prior := FromRange(7, 14, 0)
	l, ok := prior.LearnDays(batches)
	if !ok {
		t.Fatal("not learnt")
	}
	within, between := 0.0225*20/56, 0.0225*4/7
	near(t, "within", l.Within*l.Within, within, 1e-12)
	near(t, "between", l.Between*l.Between, between, 1e-12)
	v := 1/(prior.SD*prior.SD) + 4/(between+within/10)
	near(t, "mean", l.Mean, (prior.Mean/(prior.SD*prior.SD)+4*math.Log(20)/(between+within/10))/v, 1e-12)
	near(t, "error", l.SD*l.SD, 1/v, 1e-12)
}

// TestDials: what a dial says is the law's own conditional distribution: the
// chance to wait longer than its day is the normal's upper tail.
func TestDials(t *testing.T) {
	t.Parallel()
	for _, l := range []Law{oyster().Grow, oyster().Ripen, FromRange(30, 60, 1)} {
		for _, waited := range []float64{0, 3, 12, 40} {
			d := l.after(waited)
			for _, z := range []float64{-2, -1, 0, 1, 2.5} {
				days := d.at(z)
				if days <= 0 {
					continue
				}
				got := l.beyond(waited+days) / l.beyond(waited)
				near(t, "tail", got, 0.5*math.Erfc(z/math.Sqrt2), 2e-3)
			}
		}
	}
	d := Range{10, 14, 20}.after(0)
	near(t, "early", d.at(-z90), 10, 0.02)
	near(t, "likely", d.at(0), 14, 1e-9)
	near(t, "late", d.at(z90), 20, 0.02)
}
