package mix

import "fmt"

// Material is one thing that goes into a mix, as it lies there.
type Material struct {
	Name        string
	WetG        float64
	MoisturePct float64
	Supplement  bool // bran, hulls, flour: what feeds, beside what carries
}

// Plan is a mix to be made up.
type Plan struct {
	Materials []Material
	TargetPct float64 // moisture of the mix
	BagWetG   float64 // in each bag; 0 if bags are not asked for
	SpawnPct  float64 // wet spawn on wet substrate
}

// Mix is what a plan gives.
type Mix struct {
	DryG          float64 // of all materials
	WaterG        float64 // in them as they lie there
	FinalG        float64 // the mix at its target
	AddG          float64 // water to add; below 0: so much too wet already
	SupplementPct float64 // dry supplement on all dry
	Bags          float64 // not a whole number: the last one is part full
	SpawnG        float64 // for all of it
	SpawnBagG     float64 // for one bag
}

// Problem is a field of a plan that cannot be, by its path, and why.
type Problem struct{ Field, Message string }

// Check names every field of a plan that cannot be.
func (p Plan) Check() (out []Problem) {
	add := func(field, message string) { out = append(out, Problem{field, message}) }
	if len(p.Materials) == 0 {
		add("materials", "is missing: what goes into the mix")
	}
	for i, m := range p.Materials {
		field := fmt.Sprintf("materials[%d].", i)
		if !(m.WetG > 0 && m.WetG <= mostG) {
			add(field+"wet_g", "must be more than 0 and at most 100000000 grams")
		}
		if !(m.MoisturePct >= 0 && m.MoisturePct < 100) {
			add(field+"moisture_pct", "must be 0 or more and under 100")
		}
	}
	if !(p.TargetPct > 0 && p.TargetPct < 100) {
		add("target_pct", "must be more than 0 and under 100")
	}
	switch bag := p.BagWetG; {
	case bag > 0 && bag < leastBagG:
		add("bag_wet_g", "is under 50 grams: two and a half kilograms are 2.5 kg, or 2500")
	case bag != 0 && !(bag >= leastBagG && bag <= mostBagG):
		add("bag_wet_g", "must be 0, or 50 to 100000 grams")
	}
	if !(p.SpawnPct >= 0 && p.SpawnPct <= 100) {
		add("spawn_pct", "must be 0 to 100")
	}
	return out
}

// What a mix and a bag may weigh at most, a hundred tonnes and a hundred kilograms, and a bag at least.
const (
	mostG    = 1e8
	mostBagG = 1e5
	// leastBagG tells a bag from kilograms typed where grams are meant.
	leastBagG = 50
)

// Make works out a plan that passed Check.
func Make(p Plan) Mix {
	var m Mix
	supplement := 0.0
	for _, x := range p.Materials {
		dry := Dry(x.WetG, x.MoisturePct)
		m.DryG += dry
		m.WaterG += x.WetG - dry
		if x.Supplement {
			supplement += dry
		}
	}
	m.FinalG = Wet(m.DryG, p.TargetPct)
	m.AddG = m.FinalG - m.DryG - m.WaterG
	if m.DryG > 0 {
		m.SupplementPct = 100 * supplement / m.DryG
	}
	made := m.FinalG
	if m.AddG < 0 { // water cannot be taken out: it stays as wet as it is
		made = m.DryG + m.WaterG
	}
	if p.BagWetG > 0 {
		m.Bags = made / p.BagWetG
	}
	m.SpawnG, m.SpawnBagG = Spawn(made, p.SpawnPct), Spawn(p.BagWetG, p.SpawnPct)
	return m
}

// For is the same mix made large enough to fill so many bags, every material in
// proportion. The plan must have passed Check and say what a bag weighs.
func (p Plan) For(bags int) Plan {
	made := Make(p).Bags
	if bags <= 0 || made <= 0 {
		return p
	}
	materials := make([]Material, len(p.Materials))
	for i, m := range p.Materials {
		m.WetG *= float64(bags) / made
		materials[i] = m
	}
	p.Materials = materials
	return p
}

// Spawn is the wet spawn for wet substrate at a rate.
func Spawn(substrateG, ratePct float64) float64 { return substrateG * ratePct / 100 }

// Band is a range in which most growers stay, and where it was seen.
type Band struct {
	Low, High float64
	Mark      string // published, common practice or from memory
	Source    string
}

// Usual ranges: moisture of sawdust bags, dry supplement, spawn wet on wet.
var (
	UsualMoisture   = Band{60, 65, "common practice", ""}
	UsualSupplement = Band{5, 20, "common practice", ""}
	UsualSpawn      = Band{2, 5, "common practice", ""}
)

// Holds tells whether a value lies in the range.
func (b Band) Holds(x float64) bool { return x >= b.Low && x <= b.High }
