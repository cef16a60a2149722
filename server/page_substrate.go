package server

import (
	"cmp"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"bagmark/grow"
	"bagmark/grow/mix"

	"github.com/labstack/echo/v4"
)

// substratePage makes up a mix: what to add, how much spawn, how many bags. It
// writes nothing; what comes out goes on into a lab day.
type substratePage struct {
	frame
	Form     form
	Rows     []int
	Mix      *mix.Mix
	Plan     mix.Plan
	Wanted   int    // bags to be filled, 0 for what comes out
	Oven     string // the moisture of the dried sample, "" before one was weighed
	LabDay   string // the lab day with what came out
	Cautions []string
}

// materialRows is how many materials a mix has room for.
const materialRows = 4

func (s *Server) showSubstrate(c echo.Context) error {
	f, _, err := s.frame(c, "Substrate")
	if err != nil {
		return err
	}
	p := substratePage{frame: f, Form: newForm(c.QueryParams())}
	for i := range materialRows {
		p.Rows = append(p.Rows, i)
	}
	status := http.StatusOK
	if len(p.Form.values) == 0 {
		p.Form = substrateStart(f.U)
	} else if err := p.work(); err != nil {
		p.Form, _ = p.Form.refused(err)
		status = http.StatusBadRequest
	}
	return s.show(c, status, "substrate", p)
}

// Shown is how many materials the form begins with: those that are weighed, one at
// least. The others are a tap away.
func (p substratePage) Shown() int {
	for i := materialRows - 1; i > 0; i-- {
		if typed(p.Form.values, fmt.Sprint("wet", i)) != "" {
			return i + 1
		}
	}
	return 1
}

// substrateStart is a mix to be changed: the usual figures of sawdust bags
// (common practice).
func substrateStart(u grow.Units) form {
	bag := "2500"
	if u.Weight == grow.ImperialWeight {
		bag = "5" // pounds
	}
	return formOf("name0", "sawdust", "moisture0", "12", "name1", "bran", "moisture1", "12", "supplement1", "yes", "target_pct", "62", "bag_wet_g", bag, "spawn_pct", "3")
}

// work fills in what comes out.
func (p *substratePage) work() error {
	v, problems := p.Form.values, grow.Problems{}
	p.Oven = ovenWords(v, p.U, &problems)
	p.Plan = planOf(v, p.U, &problems)
	if typed(v, "bags") != "" {
		if p.Wanted = countField(v, "bags", &problems); p.Wanted < 1 || p.Wanted > grow.MostBags {
			problems.Add("bags", "must be 1 to %d", grow.MostBags)
		} else if p.Plan.BagWetG == 0 {
			problems.Add("bag_wet_g", "is missing: how much goes into each bag?")
		}
	}
	if len(p.Plan.Materials) == 0 && p.Oven != "" {
		return problems.Err("this cannot be worked out as it is")
	}
	for _, x := range p.Plan.Check() {
		if field := formField(x.Field); problems[field] == "" {
			problems.Add(field, "%s", x.Message)
		}
	}
	if err := problems.Err("this mix cannot be worked out as it is"); err != nil {
		return err
	}
	if p.Wanted > 0 {
		p.Plan = p.Plan.For(p.Wanted)
	}
	m := mix.Make(p.Plan)
	p.Mix, p.Cautions = &m, mixCautions(p.Plan, m)
	p.LabDay = p.labDay()
	return nil
}

// planOf reads the rows that have a weight.
func planOf(v url.Values, u grow.Units, p *grow.Problems) mix.Plan {
	var plan mix.Plan
	number := func(name string) float64 {
		if n := numberField(v, name, p); n != nil {
			return *n
		}
		return 0
	}
	mass := func(name string) float64 {
		if g := typedGrams(u, grow.Bucket, v, name, p); g != nil {
			return *g
		}
		return 0
	}
	for i := range materialRows {
		row := fmt.Sprint(i)
		if typed(v, "wet"+row) == "" {
			continue
		}
		plan.Materials = append(plan.Materials, mix.Material{Name: typed(v, "name"+row), WetG: mass("wet" + row), MoisturePct: number("moisture" + row), Supplement: v.Get("supplement"+row) != ""})
	}
	plan.TargetPct, plan.BagWetG, plan.SpawnPct = number("target_pct"), mass("bag_wet_g"), number("spawn_pct")
	return plan
}

// formField is a plan's field as the form has it; rows without a weight are not
// in the plan, so only the kind of field can be named there.
func formField(path string) string {
	if _, name, ok := strings.Cut(path, "."); ok {
		return map[string]string{"wet_g": "wet0", "moisture_pct": "moisture0"}[name]
	}
	return map[string]string{"materials": "wet0"}[path] + onlyIf(path != "materials", path)
}

func ovenWords(v url.Values, u grow.Units, p *grow.Problems) string {
	before, after := typedGrams(u, grow.Kitchen, v, "oven_before", p), typedGrams(u, grow.Kitchen, v, "oven_after", p)
	if before == nil || after == nil {
		return ""
	}
	pct, ok := mix.OvenMoisture(*before, *after)
	if !ok {
		p.Add("oven_after", "must be no more than before, and before more than nothing")
		return ""
	}
	return fmt.Sprintf("%.1f", pct)
}

// made is the moisture that the mix really gets: no water can be taken out.
func made(plan mix.Plan, m mix.Mix) float64 {
	if m.AddG < 0 {
		return mix.Moisture(m.DryG+m.WaterG, m.DryG)
	}
	return plan.TargetPct
}

// labDay leads on with the recipe as dry shares, so that the same mix made twice
// as large bears the same name, and with what was weighed out as a note.
func (p substratePage) labDay() string {
	var parts []string
	for _, x := range p.Plan.Materials {
		parts = append(parts, fmt.Sprintf("%s %.0f", materialName(x), 100*mix.Dry(x.WetG, x.MoisturePct)/p.Mix.DryG))
	}
	recipe := []rune(strings.Join(parts, ", "))
	note := "Weighed out: " + strings.Join(p.Weighing(), ", ")
	if p.Mix.AddG > 0 {
		note += ", water " + p.U.Bulk(p.Mix.AddG)
	}
	v := url.Values{"recipe": {string(recipe[:min(len(recipe), 60)])}, "moisture_pct": {numberWords(math.Round(10*made(p.Plan, *p.Mix)) / 10)}, "note": {note}}
	if p.Plan.BagWetG > 0 {
		v.Set("bag_wet_g", numberWords(p.Plan.BagWetG))
	}
	if p.Plan.SpawnPct > 0 {
		v.Set("spawn_rate_pct", numberWords(p.Plan.SpawnPct))
	}
	if p.Wanted > 0 {
		v.Set("bags", strconv.Itoa(p.Wanted))
	}
	return "/lab-day?" + v.Encode()
}

func materialName(m mix.Material) string { return cmp.Or(m.Name, "material") }

// Weighing is what to weigh out of each material.
func (p substratePage) Weighing() (out []string) {
	for _, m := range p.Plan.Materials {
		out = append(out, materialName(m)+" "+p.U.Bulk(m.WetG))
	}
	return out
}

// mixCautions say where a mix lies outside what most growers do.
func mixCautions(plan mix.Plan, m mix.Mix) (out []string) {
	for _, x := range []struct {
		what  string
		value float64
		band  mix.Band
		asked bool
	}{{"Moisture", made(plan, m), mix.UsualMoisture, true}, {"Supplement", m.SupplementPct, mix.UsualSupplement, m.SupplementPct > 0}, {"Spawn", plan.SpawnPct, mix.UsualSpawn, plan.SpawnPct > 0}} {
		if x.asked && !x.band.Holds(x.value) {
			out = append(out, fmt.Sprintf("%s is %.1f %%; usual is %s to %s %% (%s).", x.what, x.value, numberWords(x.band.Low), numberWords(x.band.High), x.band.Mark))
		}
	}
	return out
}

// Water is what is to be done about water.
func (p substratePage) Water() string {
	if p.Mix.AddG < 0 {
		return fmt.Sprintf("%s too wet already", p.U.Bulk(-p.Mix.AddG))
	}
	return "add " + p.U.Bulk(p.Mix.AddG) + " of water"
}

// Full is how many bags are full.
func (p substratePage) Full() int { return int(p.Mix.Bags + 1e-9) }

// Rest is what is left for a part full one.
func (p substratePage) Rest() string {
	rest := (p.Mix.Bags - float64(p.Full())) * p.Plan.BagWetG
	return onlyIf(rest >= 1, p.U.Bulk(rest))
}

// postMix works out a mix for programs.
func (s *Server) postMix(c echo.Context) error {
	var body struct {
		Materials []struct {
			Name        string  `json:"name"`
			WetG        float64 `json:"wet_g"`
			MoisturePct float64 `json:"moisture_pct"`
			Supplement  bool    `json:"supplement"`
		} `json:"materials"`
		TargetPct float64 `json:"target_pct"`
		BagWetG   float64 `json:"bag_wet_g"`
		SpawnPct  float64 `json:"spawn_pct"`
	}
	if err := readJSON(c, &body); err != nil {
		return err
	}
	plan := mix.Plan{TargetPct: body.TargetPct, BagWetG: body.BagWetG, SpawnPct: body.SpawnPct}
	for _, m := range body.Materials {
		plan.Materials = append(plan.Materials, mix.Material(m))
	}
	var p grow.Problems
	for _, x := range plan.Check() {
		p.Add(x.Field, "%s", x.Message)
	}
	if err := p.Err("this mix cannot be worked out as it is"); err != nil {
		return err
	}
	m := mix.Make(plan)
	return answer(c, http.StatusOK, map[string]float64{"dry_g": m.DryG, "water_g": m.WaterG, "final_g": m.FinalG, "add_water_g": m.AddG,
		"supplement_pct": m.SupplementPct, "bags": m.Bags, "spawn_g": m.SpawnG, "spawn_bag_g": m.SpawnBagG})
}
