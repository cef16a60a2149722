package store

import (
	"testing"

	"bagmark/grow"
)

// TestPutSpecies: the farm's own figures over the built-in ones, a strain's over
// the species'; figures left out stay.
func TestPutSpecies(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	put := func(o grow.Override) {
		t.Helper()
		if err := f.PutSpecies(t.Context(), f.by, o); err != nil {
			t.Fatal(err)
		}
	}
	days := func(strain *string) (float64, float64) {
		t.Helper()
		farm, err := f.Farm(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		s, ok := farm.SpeciesOf("pleurotus-eryngii", strain)
		if !ok {
			t.Fatal("the species is gone")
		}
		return s.SpawnRun.Days.Typical, s.SpawnRun.TempC.Typical
	}
	_, temp := days(nil)
	put(grow.Override{Slug: "pleurotus-eryngii", Days: &[3]float64{10, 15, 20}})
	put(grow.Override{Slug: "pleurotus-eryngii", Strain: "K7", Days: &[3]float64{8, 9, 10}})
	put(grow.Override{Slug: "pleurotus-eryngii", Strain: "k7 ", TempC: &[3]float64{1, 2, 3}})
	if d, c := days(nil); d != 15 || c != temp {
		t.Errorf("the species takes %v days at %v °C, want 15 at %v", d, c, temp)
	}
	if d, c := days(new("K7")); d != 9 || c != 2 {
		t.Errorf("the strain takes %v days at %v °C, want 9 at 2: both changes of it, in any letter case", d, c)
	}
	if d, _ := days(new("other")); d != 15 {
		t.Errorf("another strain takes %v days, want the species' 15", d)
	}
	own := grow.Override{Slug: "cellar-cap", Name: new("cellar cap"), Short: new("CELLAR"), Days: &[3]float64{20, 30, 40}, TempC: &[3]float64{18, 20, 22}}
	put(own)
	if b, _ := f.make(f.king(1, func(d *grow.BatchDraft) { d.Species = "cellar-cap" })); b.SpeciesName != "cellar cap" || b.Code != "CELLAR-261122" {
		t.Errorf("a batch of the farm's own species is %s, %s", b.SpeciesName, b.Code)
	}
	wantFields(t, "days that fall", f.PutSpecies(t.Context(), f.by, grow.Override{Slug: "pleurotus-eryngii", Days: &[3]float64{3, 2, 1}}), "spawn_run.days")
	wantFields(t, "a species of its own without days", f.PutSpecies(t.Context(), f.by, grow.Override{Slug: "attic-cap", Name: new("attic cap"), Short: new("ATTIC"), TempC: &[3]float64{18, 20, 22}}), "spawn_run.days")
	if err := f.PutSpecies(t.Context(), f.by, grow.Override{Slug: "attic-cap", Strain: "A"}); grow.KindOf(err) != grow.NotFound {
		t.Errorf("a strain of a species nobody knows: %v", err)
	}
}
