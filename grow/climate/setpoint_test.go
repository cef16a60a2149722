package climate_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"bagmark/grow"
	"bagmark/grow/climate"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// guests are built-in species in equal shares.
func guests(t testing.TB, offsetC float64, slugs ...grow.Slug) []climate.Guest {
	t.Helper()
	var out []climate.Guest
	for _, slug := range slugs {
		s := builtIn(t, slug)
		c, err := climate.NewCurve(s.Growth)
		if err != nil {
			t.Fatal(err)
		}
		run := s.SpawnRun
		out = append(out, climate.Guest{Name: s.Name, Weight: 1, Growth: c, OffsetC: offsetC, Band: climate.Band{
			LowC: run.TempC.Low, TargetC: run.TempC.Typical, HighC: run.TempC.High, CeilingC: run.CeilingC.Value,
		}})
	}
	return out
}

var six = []grow.Slug{"pleurotus-ostreatus", "pleurotus-eryngii", "hericium-erinaceus", "flammulina-filiformis", "lentinula-edodes", "ganoderma-lingzhi"}

// TestSixSpeciesInOneRoom: computed independently (Python) from the built-in
// curves and bands.
func TestSixSpeciesInOneRoom(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ offset, days, fairest float64 }{{0, 25.7, 26}, {2, 23.7, 24}, {4, 21.7, 22}} {
		s := climate.Suit(guests(t, c.offset, six...))
		near(t, "fewest days at", s.FewestDays.C, c.days, 1e-9)
		near(t, "relative days", s.FewestDays.Cost, 1.0312, 5.1e-5)
		near(t, "fairest at", s.Fairest.C, c.fairest, 1e-9)
		near(t, "least rate", s.Fairest.Cost, .921, 5.1e-4)
		near(t, "in band at", s.InBand.C, 22, 1e-9)
		near(t, "degrees out of band", s.InBand.Cost, 0, 0)
		if !s.Possible {
			t.Error("not possible")
		}
	}
}

// TestWhoIsOut: at 22.0 all six are in their bands, at 24 enoki alone is out, by 2.
func TestWhoIsOut(t *testing.T) {
	t.Parallel()
	list := guests(t, 2, six...)
	for _, s := range climate.At(list, 22) {
		if s.OffC != 0 || s.Past {
			t.Errorf("at 22: %s is %v out", s.Guest.Name, s.OffC)
		}
	}
	for _, s := range climate.At(list, 24) {
		if want := map[bool]float64{true: 2}[s.Guest.Name == builtIn(t, "flammulina-filiformis").Name]; s.OffC != want {
			t.Errorf("at 24: %s is %v out, want %v", s.Guest.Name, s.OffC, want)
		}
	}
}

// TestSixSpeciesInTwoRooms: computed independently (Python). Speed gains 2.3 in
// 100 and no more.
func TestSixSpeciesInTwoRooms(t *testing.T) {
	t.Parallel()
	s := climate.Share(guests(t, 2, six...)).FewestDays
	if d := cmp.Diff([]int{1, 2, 3, 4}, s.Cool); d != "" {
		t.Errorf("cool room (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]int{0, 5}, s.Warm); d != "" {
		t.Errorf("warm room (-want +got):\n%s", d)
	}
	near(t, "cool", s.CoolC, 22.7, 1e-9)
	near(t, "warm", s.WarmC, 26.1, 1e-9)
	near(t, "two rooms", s.Two, 1.0084, 5.1e-5)
	near(t, "one room", s.One, 1.0312, 5.1e-5)
	// the next best: reishi alone at 27.0, the rest at 23.1
	alone := climate.Suit(guests(t, 2, "ganoderma-lingzhi")).FewestDays
	rest := climate.Suit(guests(t, 2, six[:5]...)).FewestDays
	near(t, "reishi alone", alone.C, 27, 1e-9)
	near(t, "the rest", rest.C, 23.1, 1e-9)
	near(t, "next best", (alone.Cost+5*rest.Cost)/6, 1.0106, 5.1e-5)
}

// TestCeilingsComeFirst: no answer takes a core past its ceiling, however much
// the other guests would gain.
func TestCeilingsComeFirst(t *testing.T) {
	t.Parallel()
	list := guests(t, 4, "pleurotus-djamor", "flammulina-filiformis")
	list[0].Weight = 1000
	s := climate.Suit(list)
	for _, c := range []climate.Choice{s.InBand, s.FewestDays, s.Fairest} {
		if c.C+4 > list[1].Band.CeilingC {
			t.Errorf("%v °C takes enoki past %v", c.C, list[1].Band.CeilingC)
		}
	}
	list[1].Band.CeilingC = 10
	if s := climate.Suit(list); s.Possible || !math.IsNaN(s.InBand.C) || !math.IsNaN(s.FewestDays.C) {
		t.Errorf("nothing is possible, got %+v", s)
	}
	if s := climate.Share(list); s.InBand.Possible || s.FewestDays.Possible {
		t.Errorf("two rooms do not help, got %+v", s)
	}
	if s := climate.Suit(nil); s.Possible {
		t.Error("an empty room was given a set-point")
	}
	if s := climate.Share(list[:1]); s.InBand.Possible {
		t.Error("one guest was shared out")
	}
}

// bruteForce tries every split of the guests by the definition, without tables.
func bruteForce(list []climate.Guest) (days, band float64) {
	days, band = math.Inf(1), math.Inf(1)
	for mask := 1; mask < 1<<len(list)-1; mask++ {
		if mask&1 == 0 {
			continue
		}
		var sides [2][]climate.Guest
		for i, g := range list {
			sides[mask>>i&1] = append(sides[mask>>i&1], g)
		}
		d0, b0 := cheapest(sides[0])
		d1, b1 := cheapest(sides[1])
		days, band = min(days, d0+d1), min(band, b0+b1)
	}
	return days, band
}

func cheapest(list []climate.Guest) (days, band float64) {
	days, band = math.Inf(1), math.Inf(1)
	for tenth := 120; tenth <= 300; tenth++ {
		c := float64(tenth) / 10
		var d, b float64
		for _, g := range list {
			if c+g.OffsetC > g.Band.CeilingC {
				d, b = math.Inf(1), math.Inf(1)
				break
			}
			d += g.Weight / g.Growth.Rate(c+g.OffsetC)
			b += g.Weight * math.Abs(g.Band.Off(c))
		}
		days, band = min(days, d), min(band, b)
	}
	return days, band
}

func TestSplitIsTheBestOfAll(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var list []climate.Guest
		var weight float64
		for i := range rapid.IntRange(2, 6).Draw(t, "guests") {
			low := rapid.Float64Range(10, 25).Draw(t, "low")
			lo := rapid.Float64Range(0, 12).Draw(t, "min")
			opt := rapid.Float64Range(18, 30).Draw(t, "opt")
			c, err := climate.NewCurve(grow.Cardinal{MinC: lo, OptC: opt, MaxC: opt + rapid.Float64Range(2, .9*(opt-lo)).Draw(t, "above")})
			if err != nil {
				t.Fatal(err)
			}
			g := climate.Guest{Name: fmt.Sprint(i), Weight: float64(rapid.IntRange(1, 80).Draw(t, "bags")), Growth: c, OffsetC: rapid.SampledFrom([]float64{2, 4}).Draw(t, "offset"),
				Band: climate.Band{LowC: low, TargetC: low + 2, HighC: low + rapid.Float64Range(3, 7).Draw(t, "width"), CeilingC: low + rapid.Float64Range(8, 20).Draw(t, "ceiling")}}
			list, weight = append(list, g), weight+g.Weight
		}
		got := climate.Share(list)
		days, band := bruteForce(list)
		same(t, "days", got.FewestDays, days/weight)
		same(t, "bands", got.InBand, band/weight)
		oneDays, oneBand := cheapest(list)
		one := climate.Suit(list)
		if one.Possible && (math.Abs(one.InBand.Cost-oneBand/weight) > 1e-9 || math.Abs(one.FewestDays.Cost-oneDays/weight) > 1e-9) {
			t.Fatalf("one room: %+v, want %v and %v", one, oneDays/weight, oneBand/weight)
		}
	})
}

func same(t *rapid.T, name string, got climate.Split, want float64) {
	if got.Possible == math.IsInf(want, 1) {
		t.Fatalf("%s: possible %v, want cost %v", name, got.Possible, want)
	}
	if got.Possible && math.Abs(got.Two-want) > 1e-9 {
		t.Fatalf("%s: %v, want %v", name, got.Two, want)
	}
}

// fifteen are all built-in species, in shares of 1, 2, 3 and so on.
func fifteen(t testing.TB) []climate.Guest {
	var slugs []grow.Slug
	for _, s := range grow.BuiltInSpecies() {
		slugs = append(slugs, s.Slug)
	}
	list := guests(t, 2, slugs...)
	for i := range list {
		list[i].Weight = float64(i + 1)
	}
	return list
}

// TestFifteenSpecies: all 16,383 ways by the definition, and no better one.
func TestFifteenSpecies(t *testing.T) {
	t.Parallel()
	list := fifteen(t)
	got := climate.Share(list)
	days, band := bruteForce(list)
	near(t, "days", got.FewestDays.Two, days/120, 1e-9)
	near(t, "bands", got.InBand.Two, band/120, 1e-9)
	everyone := slices.Sorted(slices.Values(slices.Concat(got.InBand.Cool, got.InBand.Warm)))
	if len(everyone) != 15 || everyone[14] != 14 {
		t.Errorf("shared out: %v", everyone)
	}
}

// TestMoreThanFifteen: strains of one target stay together then, and nobody is
// left out.
func TestMoreThanFifteen(t *testing.T) {
	t.Parallel()
	list := slices.Concat(fifteen(t), fifteen(t))
	got := climate.Share(list)
	if everyone := slices.Sorted(slices.Values(slices.Concat(got.FewestDays.Cool, got.FewestDays.Warm))); len(everyone) != 30 || everyone[29] != 29 {
		t.Errorf("shared out: %v", everyone)
	}
}

func BenchmarkFifteenSpecies(b *testing.B) {
	list := fifteen(b)
	for b.Loop() {
		climate.Suit(list)
		climate.Share(list)
	}
}
