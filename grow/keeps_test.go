package grow_test

import (
	"testing"

	"bagmark/grow"
)

// TestKeeps: pins in the plastic first, then thin and fast species, then king
// oyster, then shiitake (common practice).
func TestKeeps(t *testing.T) {
	t.Parallel()
	species := map[grow.Slug]grow.Species{}
	for _, s := range grow.BuiltInSpecies() {
		species[s.Slug] = s
	}
	for _, test := range []struct {
		slug grow.Slug
		want grow.Keeps
	}{
		{"pleurotus-ostreatus", grow.KeepsDays}, {"pleurotus-pulmonarius", grow.KeepsDays}, {"pleurotus-citrinopileatus", grow.KeepsDays},
		{"pleurotus-djamor", grow.KeepsDays}, {"hericium-erinaceus", grow.KeepsDays},
		{"pleurotus-eryngii", grow.KeepsWeeks}, {"flammulina-filiformis", grow.KeepsWeeks}, {"cyclocybe-aegerita", grow.KeepsWeeks}, {"stropharia-rugosoannulata", grow.KeepsWeeks},
		{"lentinula-edodes", grow.KeepsLong}, {"hypsizygus-marmoreus", grow.KeepsLong}, {"pholiota-microspora", grow.KeepsLong}, {"grifola-frondosa", grow.KeepsLong},
	} {
		s := species[test.slug]
		if got := s.Keeps(false); got != test.want {
			t.Errorf("%s keeps %s, want %s", test.slug, got, test.want)
		}
		if got := s.Keeps(true); got != grow.KeepsNot {
			t.Errorf("%s with pins keeps %s", test.slug, got)
		}
	}
	for k := grow.KeepsNot; k < grow.KeepsLong; k++ {
		if k.Words() == (k+1).Words() || k.String() == (k+1).String() {
			t.Errorf("two keepings say the same: %s", k.Words())
		}
	}
}
