package grow

import (
	"fmt"
	"regexp"
	"slices"
	"time"
)

// BatchCode names a batch for people: capitals, digits and hyphens.
type BatchCode string

var batchCode = regexp.MustCompile(`^[A-Z0-9-]{3,16}$`)

// Legal tells whether the code has the shape of a batch's code.
func (c BatchCode) Legal() bool { return batchCode.MatchString(string(c)) }

// longestBatchCode is how many characters a batch's code may have.
const longestBatchCode = 16

// NewBatchCode makes a batch's code of its species' short name and its date,
// such as KING-260314; the second of a day is KING-260314-2. Where that grows
// too long, the short name gives way.
func NewBatchCode(short string, on Date, nth int) BatchCode {
	rest := "-" + on.Time().Format("060102")
	if nth > 1 {
		rest += fmt.Sprintf("-%d", nth)
	}
	return BatchCode(short[:min(len(short), longestBatchCode-len(rest))] + rest)
}

// MostGrams is what a bag, or one picking from it, may weigh at most.
const MostGrams = 100_000

// MostBags is how many bags one batch may have.
const MostBags = 2000

// earliestInoculation is the first year that a batch may be dated in, by the
// clock it was written by.
const earliestInoculation = 2000

// BatchFields are what a batch was made with. A nil field was not given. Mass
// is in grams, moisture and spawn rate in per cent of wet mass.
type BatchFields struct {
	Species       Slug               `json:"species"`
	InoculatedAt  time.Time          `json:"inoculated_at"`
	LabDay        *string            `json:"lab_day"`
	Strain        *string            `json:"strain"`
	BagWetG       *float64           `json:"bag_wet_g"`
	MoisturePct   *float64           `json:"moisture_pct"`
	SpawnLot      *string            `json:"spawn_lot"`
	SpawnRatePct  *float64           `json:"spawn_rate_pct"`
	SteriliserRun *string            `json:"steriliser_run"`
	SubstrateLot  *string            `json:"substrate_lot,omitempty"` // left out, so that bodies sent before it keep their sum
	Recipe        *string            `json:"recipe"`
	Operator      *string            `json:"operator"`
	Place         *string            `json:"place"`
	Conditions    map[string]*string `json:"conditions"`
	LabelsLater   *Date              `json:"labels_later"`
	Note          *string            `json:"note"`
}

// BatchDraft is a batch to be made.
type BatchDraft struct {
	ID *ID `json:"id"`
	BatchFields
	Bags          int             `json:"bags"`
	BagConditions []BagConditions `json:"bag_conditions"`
	Blanks        []Code          `json:"blanks"`
}

// BagConditions are conditions of some bags of a batch: those named by a range
// like 7-11, or about so many of them, not known which.
type BagConditions struct {
	Bags       string             `json:"bags,omitempty"`
	About      int                `json:"about,omitempty"`
	Conditions map[string]*string `json:"conditions"`
}

// Validate names every faulty field of the batch's own fields. known tells
// whether the farm knows a species.
func (f BatchFields) Validate(p *Problems, now time.Time, known func(Slug) bool, conditions Conditions) {
	if f.Species == "" {
		p.Add("species", "is missing")
	} else if !known(f.Species) {
		p.Add("species", "%q is not a species this farm knows; the species page lists them", f.Species)
	}
	switch {
	case f.InoculatedAt.IsZero():
		p.Add("inoculated_at", "is missing: a time like 2026-03-14T15:00:00+00:00")
	case f.InoculatedAt.Year() < earliestInoculation:
		p.Add("inoculated_at", "is before the year 2000")
	case f.InoculatedAt.After(now.Add(24 * time.Hour)):
		p.Add("inoculated_at", "is more than a day ahead")
	}
	for field, text := range map[string]*string{"strain": f.Strain, "spawn_lot": f.SpawnLot, "steriliser_run": f.SteriliserRun,
		"substrate_lot": f.SubstrateLot, "recipe": f.Recipe, "operator": f.Operator, "lab_day": f.LabDay} {
		if text != nil {
			CheckName(p, field, *text)
		}
	}
	if f.Place != nil {
		checkPlaceName(p, "place", *f.Place)
	}
	if f.Note != nil {
		checkText(p, "note", *f.Note, 0, 2000)
	}
	if f.BagWetG != nil && !(*f.BagWetG > 0 && *f.BagWetG <= MostGrams) {
		p.Add("bag_wet_g", "must be more than 0 and at most %d grams", MostGrams)
	}
	percent(p, "moisture_pct", f.MoisturePct)
	percent(p, "spawn_rate_pct", f.SpawnRatePct)
	conditions.Parse(f.Conditions, "conditions", p)
}

// Validate names every faulty field of the draft.
func (d BatchDraft) Validate(now time.Time, known func(Slug) bool, conditions Conditions) error {
	var p Problems
	if d.ID != nil {
		if _, err := ParseID(string(*d.ID)); err != nil {
			p.Add("id", "%s", messageOf(err))
		}
	}
	d.BatchFields.Validate(&p, now, known, conditions)
	if d.Bags < 1 || d.Bags > MostBags {
		p.Add("bags", "must be 1 to %d", MostBags)
	}
	for i, bc := range d.BagConditions {
		bc.validate(&p, fmt.Sprintf("bag_conditions[%d]", i), d.Bags, conditions)
	}
	if len(d.Blanks) > max(0, d.Bags) {
		p.Add("blanks", "are more than the %d bags of the batch", d.Bags)
	}
	checkBlanks(&p, d.Blanks)
	return p.Err("this batch cannot be made as it is")
}

func checkBlanks(p *Problems, blanks []Code) {
	for i, c := range blanks {
		field := fmt.Sprintf("blanks[%d]", i)
		checkCode(p, field, c)
		if slices.Contains(blanks[:i], c) {
			p.Add(field, "stands twice")
		}
	}
}

func (b BagConditions) validate(p *Problems, field string, bags int, conditions Conditions) {
	switch {
	case b.Bags != "" && b.About != 0:
		p.Add(field+".about", "stands in place of bags; give one of the two")
	case b.Bags != "":
		if _, err := ParseBagRange(b.Bags, bags); err != nil {
			p.Add(field+".bags", "%s", messageOf(err))
		}
	case b.About < 1 || b.About > bags:
		if b.About == 0 {
			p.Add(field+".bags", "is missing: bags like 7-11, or about how many")
		} else {
			p.Add(field+".about", "must be 1 to %d", bags)
		}
	}
	if len(b.Conditions) == 0 {
		p.Add(field+".conditions", "is missing")
	}
	conditions.Parse(b.Conditions, field+".conditions", p)
}
