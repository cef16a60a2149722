package grow_test

import (
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func slugsOf(list []grow.Species) []grow.Slug {
	var slugs []grow.Slug
	for _, s := range list {
		slugs = append(slugs, s.Slug)
	}
	return slugs
}

func TestFindSpecies(t *testing.T) {
	t.Parallel()
	tests := []struct {
		text  string
		first grow.Slug
	}{
		{"pleurotus-eryngii", "pleurotus-eryngii"},
		{"PLEUROTUS ERYNGII", "pleurotus-eryngii"},
		{"P. eryngii", "pleurotus-eryngii"},
		{"king", "pleurotus-eryngii"},
		{"King-Trumpet", "pleurotus-eryngii"},
		{"lion's mane", "hericium-erinaceus"},
		{"Lions Mane", "hericium-erinaceus"},
		{"lion’s mane", "hericium-erinaceus"},
		{"pompom", "hericium-erinaceus"},
		{"Shiitaké", "lentinula-edodes"},
		{"Lentinus edodes", "lentinula-edodes"},
		{"Agrocybe aegerita", "cyclocybe-aegerita"},
		{"F. velutipes", "flammulina-filiformis"},
		{"sajor caju", "pleurotus-pulmonarius"},
		{"oyster", "pleurotus-ostreatus"}, // exact before the many that only contain it
		{"white beech", "hypsizygus-marmoreus"},
		{"SHII", "lentinula-edodes"},
		{"hen of", "grifola-frondosa"},
		{"trump", "pleurotus-eryngii"},
		{"iitak", "lentinula-edodes"},
	}
	for _, test := range tests {
		got := slugsOf(grow.FindSpecies(grow.BuiltInSpecies(), test.text))
		if len(got) == 0 || got[0] != test.first {
			t.Errorf("%q finds %v, want %s first", test.text, got, test.first)
		}
	}
	if got := grow.FindSpecies(grow.BuiltInSpecies(), " - "); len(got) != 15 {
		t.Errorf("blank text finds %d, want all", len(got))
	}
	if got := grow.FindSpecies(grow.BuiltInSpecies(), "truffle"); len(got) != 0 {
		t.Errorf("truffle finds %v", slugsOf(got))
	}
}

// Every name of every species finds it, whatever its case and hyphens.
func TestEverySpeciesIsFoundByEveryName(t *testing.T) {
	t.Parallel()
	list := grow.BuiltInSpecies()
	for _, s := range list {
		names := append([]string{string(s.Slug), s.Name, s.Short, s.Latin}, append(s.Names, s.Older...)...)
		for _, name := range names {
			for _, typed := range []string{name, strings.ToUpper(name), strings.ReplaceAll(name, " ", "-"), " " + strings.ReplaceAll(name, "-", " ") + " "} {
				got, err := grow.SpeciesNamed(list, typed)
				if err != nil || got.Slug != s.Slug {
					t.Errorf("%q: got %s (%v), want %s", typed, got.Slug, err, s.Slug)
				}
			}
		}
	}
}

func TestSpeciesNamedSaysWhatItCouldBe(t *testing.T) {
	t.Parallel()
	list := grow.BuiltInSpecies()
	twice := append(list, list[5].With(grow.Override{Name: new("oyster")}))
	twice[len(twice)-1].Slug = "another"
	for _, test := range []struct {
		name, text, want string
		list             []grow.Species
	}{
		{"missing", "", "is missing", list},
		{"near", "mane", "perhaps hericium-erinaceus", list},
		{"unknown", "truffle", "pleurotus-ostreatus, pleurotus-pulmonarius", list},
		{"called the same", "oyster", "more than one species", twice},
	} {
		_, err := grow.SpeciesNamed(test.list, test.text)
		if err == nil || !strings.Contains(err.Error(), test.want) || grow.KindOf(err) != grow.Invalid {
			t.Errorf("%s: got %v, want %q in it", test.name, err, test.want)
		}
	}
	if diff := cmp.Diff([]grow.Slug{"hericium-erinaceus"}, slugsOf(grow.FindSpecies(list, "erinaceus"))); diff != "" {
		t.Error(diff)
	}
}
