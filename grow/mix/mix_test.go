package mix_test

import (
	"math"
	"testing"

	"bagmark/grow/mix"
	"bagmark/grow/yield"
)

// near compares as printed: to half a unit of the last decimal.
func near(t *testing.T, what string, got, want float64, decimals int) {
	t.Helper()
	if math.Abs(got-want) > 0.5000001*math.Pow10(-decimals) {
		t.Errorf("%s: %.6g, want %.*f", what, got, decimals, want)
	}
}

// efficiency is what the pages of yield say of a bag that gave so much.
func efficiency(t *testing.T, fresh, dry float64) float64 {
	t.Helper()
	g := yield.Sum([]yield.Bag{{Batch: "one", Grams: fresh, DryG: dry, Fate: yield.Done}}, []int{0}, yield.Efficiency)
	if g.EfficiencyPct == nil {
		t.Fatalf("no efficiency of %g on %g", fresh, dry)
	}
	return *g.EfficiencyPct
}

// TestArithmeticOfABag works through ten cases. The formulas are the standard
// definitions and the figures follow from them, but for the published one that
// is named.
func TestArithmeticOfABag(t *testing.T) {
	t.Parallel()
	dry := mix.Dry(2500, 62)
	near(t, "1: dry in a bag of 2,500 g at 62 %", dry, 950, 6)
	near(t, "1: water in it", 2500-dry, 1550, 6)
	near(t, "2: spawn at 4 %", mix.Spawn(2500, 4), 100, 6)
	near(t, "2: for 100 bags", mix.Spawn(100*2500, 4), 10_000, 6)

	plan := mix.Plan{Materials: []mix.Material{{Name: "sawdust pellets", WetG: 800, MoisturePct: 8}, {Name: "bran", WetG: 150, MoisturePct: 12, Supplement: true}}, TargetPct: 62}
	m := mix.Make(plan)
	near(t, "3: dry", m.DryG, 868, 6)
	near(t, "3: final mass", m.FinalG, 2284.2, 1)
	near(t, "3: water to add", m.AddG, 1334.2, 1)
	near(t, "3: supplement", m.SupplementPct, 15.2, 1)

	near(t, "4: first flush", efficiency(t, 400, dry), 42.1, 1)
	near(t, "4: second flush", efficiency(t, 170, dry), 17.9, 1)
	near(t, "4: both", efficiency(t, 570, dry), 60, 1)
	near(t, "5: were it 60 %", efficiency(t, 570, mix.Dry(2500, 60)), 57, 1)
	near(t, "5: were it 64 %", efficiency(t, 570, mix.Dry(2500, 64)), 63.3, 1)
	spawned := dry + mix.Dry(100, 48)
	near(t, "6: dry with the spawn counted in", spawned, 1002, 6)
	near(t, "6: efficiency with the spawn counted in", efficiency(t, 570, spawned), 56.9, 1)
	// Published: pink oyster on rice straw, a student article from Tingo María,
	// 79.09 %.
	near(t, "7: pink oyster on rice straw", efficiency(t, 199.31, 252), 79.09, 2)
	// Yields after Stamets, Growing Gourmet and Medicinal Mushrooms (seen on a
	// copy); the moisture of 60 % is assumed.
	near(t, "8: lion's mane, 550 g of five pounds of alder", efficiency(t, 550, mix.Dry(2268, 60)), 60.6, 1)
	const pound = 453.592
	near(t, "9: nameko, a pound of a five-pound block", efficiency(t, pound, mix.Dry(5*pound, 60)), 50, 1)
	oven, ok := mix.OvenMoisture(20, 7.62)
	near(t, "10: oven-dry sample", oven, 61.9, 1)
	if !ok {
		t.Error("10: the sample was refused")
	}
}

// TestMixHoldsTogether: what goes in comes out, and doubling doubles.
func TestMixHoldsTogether(t *testing.T) {
	t.Parallel()
	plan := mix.Plan{Materials: []mix.Material{{WetG: 40_000, MoisturePct: 35}, {WetG: 6000, MoisturePct: 11, Supplement: true}}, TargetPct: 61, BagWetG: 2500, SpawnPct: 3}
	m := mix.Make(plan)
	near(t, "water and dry", m.DryG+m.WaterG+m.AddG, m.FinalG, 6)
	near(t, "its moisture", mix.Moisture(m.FinalG, m.DryG), 61, 9)
	near(t, "bags", m.Bags*2500, m.FinalG, 6)
	near(t, "spawn for all bags", m.SpawnBagG*m.Bags, m.SpawnG, 6)
	for i := range plan.Materials {
		plan.Materials[i].WetG *= 2
	}
	twice := mix.Make(plan)
	near(t, "twice the water", twice.AddG, 2*m.AddG, 6)
	near(t, "the same supplement", twice.SupplementPct, m.SupplementPct, 9)
}

// TestTooWetStaysWet: no water can be taken out, so bags and spawn are those of
// what is there.
func TestTooWetStaysWet(t *testing.T) {
	t.Parallel()
	m := mix.Make(mix.Plan{Materials: []mix.Material{{WetG: 10_000, MoisturePct: 70}}, TargetPct: 60, BagWetG: 2500, SpawnPct: 4})
	near(t, "water to add", m.AddG, 7500-10_000, 6)
	near(t, "bags", m.Bags, 4, 6)
	near(t, "spawn", m.SpawnG, 400, 6)
}

func TestPlansThatCannotBe(t *testing.T) {
	t.Parallel()
	good := mix.Plan{Materials: []mix.Material{{WetG: 1, MoisturePct: 10}}, TargetPct: 60}
	if p := good.Check(); len(p) > 0 {
		t.Fatalf("a plan that can be: %v", p)
	}
	nan := math.NaN()
	for field, p := range map[string]mix.Plan{
		"materials":                 {TargetPct: 60},
		"materials[0].wet_g":        {Materials: []mix.Material{{WetG: nan, MoisturePct: 10}}, TargetPct: 60},
		"materials[0].moisture_pct": {Materials: []mix.Material{{WetG: 1, MoisturePct: 100}}, TargetPct: 60},
		"target_pct":                {Materials: good.Materials, TargetPct: 100},
		"bag_wet_g":                 {Materials: good.Materials, TargetPct: 60, BagWetG: -1},
		"spawn_pct":                 {Materials: good.Materials, TargetPct: 60, SpawnPct: nan},
	} {
		if field == "bag_wet_g" { // nor is one that gives more bags than a number can be
			if got := (mix.Plan{Materials: p.Materials, TargetPct: 60, BagWetG: 1e-300}).Check(); len(got) != 1 {
				t.Errorf("bags of nothing: %v", got)
			}
		}
		got := p.Check()
		if len(got) != 1 || got[0].Field != field {
			t.Errorf("%s: %v", field, got)
		}
	}
	for _, w := range [][2]float64{{0, 0}, {20, 21}, {20, -1}, {nan, 1}, {20, nan}} {
		if pct, ok := mix.OvenMoisture(w[0], w[1]); ok {
			t.Errorf("a sample of %g, dried %g, has %g %%", w[0], w[1], pct)
		}
	}
	if mix.UsualSpawn.Holds(1.9) || !mix.UsualSpawn.Holds(2) || !mix.UsualSpawn.Holds(5) {
		t.Error("the usual spawn rate is 2 to 5 %, both counted in")
	}
}
