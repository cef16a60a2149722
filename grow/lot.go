package grow

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// LotKind says what a lot is.
type LotKind string

// The kinds of lots. Spawn is grain spawn unless its note says otherwise.
const (
	CultureLot   LotKind = "culture"
	SpawnLot     LotKind = "spawn"
	SubstrateLot LotKind = "substrate"
)

// LotKinds are all kinds, in the order in which one is made from the other.
var LotKinds = []LotKind{CultureLot, SpawnLot, SubstrateLot}

// Words is what people call a kind of lot.
func (k LotKind) Words() string {
	if k == SpawnLot {
		return "grain spawn"
	}
	return string(k)
}

// MostJars is how many jars, bags or plates one lot may hold.
const MostJars = 500

// mostSources is how many lots and jars one lot may be made from.
const mostSources = 50

// LotFields are what is known of a lot beside its name. A nil field was not
// given. MadeFrom names lots and jars, by name or code.
type LotFields struct {
	Kind          LotKind  `json:"kind"`
	Name          string   `json:"name"`
	MadeFrom      []string `json:"made_from"`
	Species       *Slug    `json:"species"`
	Strain        *string  `json:"strain"`
	MadeOn        *Date    `json:"made_on"`
	ExpiresOn     *Date    `json:"expires_on"`
	Amount        *string  `json:"amount"`
	Look          *string  `json:"look"`
	Recipe        *string  `json:"recipe"`
	SteriliserRun *string  `json:"steriliser_run"`
	Note          *string  `json:"note"`
}

// LotDraft is a lot to be made, with so many jars.
type LotDraft struct {
	ID *ID `json:"id"`
	LotFields
	Jars int `json:"jars"`
}

// Validate names every faulty field of the lot's own fields.
func (f LotFields) Validate(p *Problems, today Date, known func(Slug) bool) {
	optionalWord(p, "kind", string(f.Kind), lotKindWords())
	if f.Kind == "" {
		p.Add("kind", "is missing: one of %s", strings.Join(lotKindWords(), ", "))
	}
	CheckName(p, "name", f.Name)
	if f.Species != nil && !known(*f.Species) {
		p.Add("species", "%q is not a species this farm knows; the species page lists them", *f.Species)
	}
	for field, text := range map[string]*string{"strain": f.Strain, "amount": f.Amount, "recipe": f.Recipe, "steriliser_run": f.SteriliserRun} {
		if text != nil {
			CheckName(p, field, *text)
		}
	}
	for field, text := range map[string]*string{"look": f.Look, "note": f.Note} {
		if text != nil {
			checkText(p, field, *text, 0, 2000)
		}
	}
	if f.MadeOn != nil && (*f.MadeOn > today+1 || f.MadeOn.Time().Year() < earliestInoculation) {
		p.Add("made_on", "must be from the year 2000 to a day ahead")
	}
	if f.MadeOn != nil && f.ExpiresOn != nil && *f.ExpiresOn < *f.MadeOn {
		p.Add("expires_on", "is before the lot was made")
	}
	f.validateSources(p)
}

func (f LotFields) validateSources(p *Problems) {
	if len(f.MadeFrom) > mostSources {
		p.Add("made_from", "may name at most %d lots and jars", mostSources)
	}
	for i, name := range f.MadeFrom {
		field := fmt.Sprintf("made_from[%d]", i)
		CheckName(p, field, name)
		if slices.ContainsFunc(f.MadeFrom[:i], func(s string) bool { return strings.EqualFold(strings.TrimSpace(s), strings.TrimSpace(name)) }) {
			p.Add(field, "stands twice")
		}
	}
}

// Validate names every faulty field of the draft.
func (d LotDraft) Validate(now time.Time, zone *time.Location, known func(Slug) bool) error {
	var p Problems
	if d.ID != nil {
		if _, err := ParseID(string(*d.ID)); err != nil {
			p.Add("id", "%s", messageOf(err))
		}
	}
	d.LotFields.Validate(&p, DateOf(now, zone), known)
	if d.Jars < 0 || d.Jars > MostJars {
		p.Add("jars", "must be 0 to %d", MostJars)
	}
	return p.Err("this lot cannot be made as it is")
}

func lotKindWords() []string {
	out := make([]string, len(LotKinds))
	for i, k := range LotKinds {
		out[i] = string(k)
	}
	return out
}
