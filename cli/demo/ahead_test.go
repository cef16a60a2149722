package demo

import (
	"bagmark/grow"
	"bagmark/store"
)

// testAhead: each of the six species is promised in some week, oyster by the farm's
// own figures and shiitake by built-in ones; eight kilograms of oyster six weeks on
// are partly promised and can be made, and forty find no room to fruit.
func testAhead(m made) {
	week := grow.DateOf(m.Now(), m.Zone(m.t.Context())) + 42
	ask := func(kg float64) store.WeekAhead {
		grams := 1000 * kg
		got, err := m.WeekAhead(m.t.Context(), store.WeekAheadQuery{Starts: grow.FromMonday, Species: "pleurotus-ostreatus", Grams: &grams, Week: &week})
		if err != nil {
			m.t.Fatal(err)
		}
		return got
	}
	eight := ask(8)
	if len(eight.Species) != len(kinds) || eight.Sterile == 0 || eight.Load.From != store.LoadPlan {
		m.t.Errorf("%d species, %d sterile bags, a load by %q", len(eight.Species), eight.Sterile, eight.Load.From)
	}
	for _, s := range eight.Species {
		if own := s.Basis.Own(); s.Species == "pleurotus-ostreatus" && !own || s.Species == "lentinula-edodes" && own {
			m.t.Errorf("%s rests on %+v", s.Species, s.Basis)
		}
	}
	if next := eight.Weeks[1].Grams; next.Low < 10_000 || next.High > 60_000 {
		m.t.Errorf("next week promises %+v g", next)
	}
	if w := eight.Want; w.Late || w.Promised.Likely <= 0 || w.Promised.Likely >= 8000 || w.Likely == nil || w.Likely.Bags < 5 || w.Likely.Bags > 40 || w.Likely.Racks.Short > 0 {
		m.t.Errorf("eight kilograms: %+v, %+v", w, w.Likely)
	}
	if w := ask(40).Want; w.Likely == nil || w.Likely.Tiers.Short == 0 {
		m.t.Errorf("forty kilograms: %+v", w.Likely)
	}
}
