package grow_test

import (
	"errors"
	"maps"
	"math"
	"slices"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func TestOverrideValidate(t *testing.T) {
	t.Parallel()
	rule := grow.ReadyRule("when it feels right")
	browning := grow.ReadyBrowning
	tests := []struct {
		name string
		in   grow.Override
		want []string // faulty fields
	}{
		{"nothing but a slug", grow.Override{Slug: "lentinula-edodes"}, nil},
		{"everything", grow.Override{Slug: "lentinula-edodes", Strain: "early 3", Name: new("forest"), Short: new("FOREST"), Days: &[3]float64{18, 24, 30},
			TempC: &[3]float64{20, 20, 24}, RipeningDays: &[2]float64{20, 20}, Ready: &browning}, nil},
		{"slug", grow.Override{Slug: "Lentinula edodes"}, []string{"slug"}},
		{"short in small letters", grow.Override{Slug: "x", Short: new("king")}, []string{"short"}},
		{"short too long", grow.Override{Slug: "x", Short: new("SHIITAKE")}, []string{"short"}},
		{"short empty", grow.Override{Slug: "x", Short: new("")}, []string{"short"}},
		{"days alike", grow.Override{Slug: "x", Days: &[3]float64{10, 10, 12}}, []string{"spawn_run.days"}},
		{"days falling", grow.Override{Slug: "x", Days: &[3]float64{20, 14, 10}}, []string{"spawn_run.days"}},
		{"days over a year", grow.Override{Slug: "x", Days: &[3]float64{20, 40, 366}}, []string{"spawn_run.days"}},
		{"days under one", grow.Override{Slug: "x", Days: &[3]float64{0, 4, 6}}, []string{"spawn_run.days"}},
		{"days not numbers", grow.Override{Slug: "x", Days: &[3]float64{4, math.NaN(), 6}}, []string{"spawn_run.days"}},
		{"temperatures falling", grow.Override{Slug: "x", TempC: &[3]float64{24, 20, 26}}, []string{"spawn_run.temp_c"}},
		{"too hot", grow.Override{Slug: "x", TempC: &[3]float64{24, 26, 61}}, []string{"spawn_run.temp_c"}},
		{"ripening backwards", grow.Override{Slug: "x", RipeningDays: &[2]float64{9, 3}}, []string{"ripening_days"}},
		{"all at once", grow.Override{Slug: "", Strain: " ", Name: new(""), Short: new("?"), Ready: &rule}, []string{"name", "ready", "short", "slug", "strain"}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			var got []string
			var problem *grow.Error
			if errors.As(test.in.Validate(), &problem) {
				got = slices.Sorted(maps.Keys(problem.Fields))
			}
			if diff := cmp.Diff(test.want, got); diff != "" {
				t.Errorf("faulty fields (-want +got):\n%s", diff)
			}
		})
	}
}

func TestWithMarksTheFarmsOwn(t *testing.T) {
	t.Parallel()
	before := species(t, "hericium-erinaceus")
	pins := grow.ReadyAllGrown
	after := before.With(grow.Override{Slug: before.Slug, Strain: "white 2", Name: new("monkey head"), Short: new("MONKEY"),
		Days: &[3]float64{3, 11, 15}, RipeningDays: &[2]float64{1, 2}, Ready: &pins})
	if got := after.SpawnRun.Days; got.Mark != grow.FarmsOwn || got.Typical != 11 || got.Source != "" {
		t.Errorf("days %+v", got)
	}
	if after.SpawnRun.TempC != before.SpawnRun.TempC {
		t.Errorf("temperatures changed to %+v", after.SpawnRun.TempC)
	}
	if after.RipeningDays != (grow.Span{Low: 1, High: 2, Mark: grow.FarmsOwn}) || after.Ready != pins || after.Strain != "white 2" {
		t.Errorf("ripening %+v, ready %s, strain %q", after.RipeningDays, after.Ready, after.Strain)
	}
	if after.FirstSignDay > 3 {
		t.Errorf("first sign on day %d, after the farm's lowest day", after.FirstSignDay)
	}
	if found := grow.FindSpecies([]grow.Species{after}, "Monkey-Head"); len(found) != 1 {
		t.Error("not found by the farm's own name")
	}
	if diff := cmp.Diff(species(t, "hericium-erinaceus"), before); diff != "" {
		t.Errorf("the species it was laid over changed:\n%s", diff)
	}
}

func TestSpeciesOf(t *testing.T) {
	t.Parallel()
	overrides := []grow.Override{
		{Slug: "pleurotus-eryngii", Strain: "Long Stem", Days: &[3]float64{14, 19, 27}},
		{Slug: "pleurotus-eryngii", Days: &[3]float64{11, 15, 20}, Short: new("KONIG")},
		{Slug: "agrocybe-farmi", Name: new("field cap"), Short: new("FIELD"), Days: &[3]float64{10, 15, 20}, TempC: &[3]float64{18, 20, 24}},
	}
	for _, test := range []struct {
		name, strain string
		slug         grow.Slug
		typical      float64
		short        string
	}{
		{"whole species", "", "pleurotus-eryngii", 15, "KONIG"},
		{"unknown strain", "short", "pleurotus-eryngii", 15, "KONIG"},
		{"strain over species, any case and spaces", " long  stem", "pleurotus-eryngii", 19, "KONIG"},
		{"the farm's own species", "", "agrocybe-farmi", 15, "FIELD"},
		{"untouched", "", "flammulina-filiformis", 16, "ENOKI"},
	} {
		s, ok := grow.SpeciesOf(grow.OwnSpecies(overrides), overrides, test.slug, test.strain)
		if !ok || s.SpawnRun.Days.Typical != test.typical || s.Short != test.short {
			t.Errorf("%s: got %v %v %s", test.name, ok, s.SpawnRun.Days, s.Short)
		}
	}
	if _, ok := grow.SpeciesOf(grow.OwnSpecies(overrides), overrides, "agaricus-nowhere", ""); ok {
		t.Error("found a species that nobody has")
	}
	if n := len(grow.OwnSpecies(overrides)); n != 16 {
		t.Errorf("%d species, want the 15 built in and one", n)
	}
}

func TestNewSpeciesNeedsItsFigures(t *testing.T) {
	t.Parallel()
	_, err := grow.NewSpecies(grow.Override{Slug: "agrocybe-farmi", Name: new("field cap"), Strain: "a"})
	var problem *grow.Error
	if !errors.As(err, &problem) {
		t.Fatalf("got %v", err)
	}
	want := []string{"short", "spawn_run.days", "spawn_run.temp_c", "strain"}
	if got := slices.Sorted(maps.Keys(problem.Fields)); !slices.Equal(got, want) {
		t.Errorf("faulty fields %v, want %v", got, want)
	}
}

// A species of the farm's own is never taken for a fast one.
func TestNewSpeciesIsJudgedPatiently(t *testing.T) {
	t.Parallel()
	for typical, want := range map[float64]grow.Pace{9: grow.Thin, 23: grow.Thin, 30: grow.Slow} {
		s, err := grow.NewSpecies(grow.Override{Slug: "agrocybe-farmi", Name: new("field cap"), Short: new("FIELD"),
			Days: &[3]float64{typical - 2, typical, typical + 5}, TempC: &[3]float64{18, 20, 24}})
		if err != nil || s.Pace != want || s.Latin != "Agrocybe farmi" || s.SpawnRun.Days.Mark != grow.FarmsOwn {
			t.Errorf("typically %v days: got %+v (%v), want pace %s", typical, s, err, want)
		}
	}
}
