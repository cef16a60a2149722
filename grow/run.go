package grow

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// RunMethod is how a steriliser run treats its load.
type RunMethod string

// The methods. Only steam has a lethality: hot water and lime leave spores alive
// and work by what they favour.
const (
	PressureSteam RunMethod = "pressure"
	OpenSteam     RunMethod = "open_steam"
	HotWater      RunMethod = "hot_water"
	Lime          RunMethod = "lime"
)

// RunMethods are all of them, the hottest first.
var RunMethods = []RunMethod{PressureSteam, OpenSteam, HotWater, Lime}

// Steam tells whether the method has a lethality at all.
func (m RunMethod) Steam() bool { return m == PressureSteam || m == OpenSteam }

// HoldC is the temperature in the load that counts as held, where the run itself
// names none: 121 °C under pressure, in open steam 95 °C, or a degree less than
// water boils at where that is lower, since no load gets hotter than its steam.
// Common practice.
func (m RunMethod) HoldC(boilsC float64) float64 {
	if m == OpenSteam {
		return min(95, boilsC-1)
	}
	return 121
}

// Spots are where a probe may sit.
var Spots = []string{"core", "chamber"}

// LoadPlace is one position of a load and what stood there.
type LoadPlace struct {
	Position string  `json:"position"`
	What     *string `json:"what"`
	Bags     *int    `json:"bags"`
}

// mostLoadPlaces is how many positions one load plan may have.
const mostLoadPlaces = 100

// RunFields are what is known of a run beside its readings. A nil field was not
// given; TargetF0 nil is the farm's own target.
type RunFields struct {
	Name      string      `json:"name"`
	Method    *RunMethod  `json:"method"`
	StartedAt *time.Time  `json:"started_at"`
	Vessel    *string     `json:"vessel"`
	HoldC     *float64    `json:"hold_c"`
	TargetF0  *float64    `json:"target_f0"`
	GaugeKPa  *float64    `json:"gauge_kpa"`
	Recipe    *string     `json:"recipe"`
	Load      []LoadPlace `json:"load"`
	Note      *string     `json:"note"`
}

// RunDraft is a run to be put on record.
type RunDraft struct {
	ID *ID `json:"id"`
	RunFields
}

// Validate names every faulty field.
func (f RunFields) Validate(p *Problems, now time.Time) {
	CheckName(p, "name", f.Name)
	if f.Method != nil && !slices.Contains(RunMethods, *f.Method) {
		p.Add("method", "must be one of %s", strings.Join(runMethodWords(), ", "))
	}
	if at := f.StartedAt; at != nil && (at.Year() < earliestInoculation || at.After(now.Add(24*time.Hour))) {
		p.Add("started_at", "must be from the year 2000 to a day ahead")
	}
	for field, text := range map[string]*string{"vessel": f.Vessel, "recipe": f.Recipe} {
		if text != nil {
			CheckName(p, field, *text)
		}
	}
	if f.Note != nil {
		checkText(p, "note", *f.Note, 0, 2000)
	}
	between(p, "hold_c", f.HoldC, 30, 150)
	between(p, "target_f0", f.TargetF0, 0, 1000)
	between(p, "gauge_kpa", f.GaugeKPa, 0, 500)
	f.validateLoad(p)
}

func between(p *Problems, field string, v *float64, low, high float64) {
	if v != nil && !(*v >= low && *v <= high) {
		p.Add(field, "must be %g to %g", low, high)
	}
}

func (f RunFields) validateLoad(p *Problems) {
	if len(f.Load) > mostLoadPlaces {
		p.Add("load", "may have at most %d positions", mostLoadPlaces)
	}
	for i, l := range f.Load {
		at := fmt.Sprintf("load[%d].", i)
		CheckName(p, at+"position", l.Position)
		if l.What != nil {
			CheckName(p, at+"what", *l.What)
		}
		if l.Bags != nil && (*l.Bags < 0 || *l.Bags > MostBags) {
			p.Add(at+"bags", "must be 0 to %d", MostBags)
		}
	}
}

// Validate names every faulty field of the draft.
func (d RunDraft) Validate(now time.Time) error {
	var p Problems
	if d.ID != nil {
		if _, err := ParseID(string(*d.ID)); err != nil {
			p.Add("id", "%s", messageOf(err))
		}
	}
	d.RunFields.Validate(&p, now)
	return p.Err("this run cannot be kept as it is")
}

func runMethodWords() []string {
	out := make([]string, len(RunMethods))
	for i, m := range RunMethods {
		out[i] = string(m)
	}
	return out
}
