package grow

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"time"
)

// The words that entries use, in the order in which pages offer them.
var (
	LookSeens    = []string{"glance", "in_hand", "turned"}
	BareParts    = []string{"top", "middle", "side", "bottom", "corners"}
	Bases        = []string{"recorded", "remembered", "guess"}
	AgainFors    = []string{"look", "fruiting"}
	CullWhys     = []string{"contaminated", "precaution", "stalled", "no_fruit", "leak", "burst", "damaged", "dried_out", "overheated", "pests", "old", "mistake", "other"}
	Openings     = []string{"slit", "top_cut", "holes", "unwrapped"}
	FinishWhys   = []string{"spent", "sold", "given", "used_as_spawn", "sample", "lost"}
	uses         = kindUses()
	detailFields = jsonFields(reflect.TypeFor[Details]())
)

// kindUses lists the detail fields that each kind of entry may have; those it
// must have are checked one by one below.
func kindUses() map[EntryKind][]string {
	return map[EntryKind][]string{
		KindMarked:       {"bench"},
		KindLook:         {"seen"},
		KindColonised:    {"pct", "full", "bare"},
		KindContaminated: {"what", "where", "extent_pct"},
		KindSign:         {"sign"},
		KindCondition:    {"key", "value", "basis"},
		KindWatch:        {"because", "of"},
		KindUnwatch:      {"because", "of"},
		KindAgain:        {"on", "for", "because"},
		KindMove:         {"place"},
		KindShake:        {},
		KindIsolate:      {},
		KindRelease:      {},
		KindCull:         {"why"},
		KindFruiting:     {"place", "opening"},
		KindHarvest:      {"grams", "flush"},
		KindFinish:       {"why", "to"},
		KindPhoto:        {"photo"},
		KindNote:         {"text"},
		KindVoid:         {"entry"},
	}
}

// Validate names every field of the draft that is wrong by itself; whether the
// bag's state allows it is [Judge]'s business.
func (d Draft) Validate(conditions Conditions) error {
	var p Problems
	if _, err := ParseID(string(d.ID)); err != nil {
		p.Add("id", "%s", messageOf(err))
	}
	for field, at := range map[string]*time.Time{"at": d.At, "sent_at": d.SentAt} {
		if at != nil && !writable(*at) {
			p.Add(field, "is not a time that can be kept")
		}
	}
	allowed, ok := uses[d.Kind]
	if !ok {
		p.Add("kind", "is not a kind of entry; one of %s", kindList())
		return p.Err("this entry cannot be read")
	}
	for _, f := range detailFields {
		if !slices.Contains(allowed, f.name) && !reflect.ValueOf(d.Details).Field(f.index).IsZero() {
			p.Add(f.name, "does not belong to an entry of kind %s", d.Kind)
		}
	}
	d.validateDetails(&p, conditions)
	return p.Err("this entry cannot be kept as it is")
}

func (d Draft) validateDetails(p *Problems, conditions Conditions) {
	switch d.Kind {
	case KindLook:
		optionalWord(p, "seen", d.Seen, LookSeens)
	case KindColonised:
		d.validateColonised(p)
	case KindContaminated:
		neededWord(p, "what", d.What, Whats())
		optionalWord(p, "where", d.Where, Wheres())
		percent(p, "extent_pct", d.ExtentPct)
	case KindSign:
		neededWord(p, "sign", d.Sign, Signs())
	case KindCondition:
		d.validateCondition(p, conditions)
	case KindWatch, KindUnwatch:
		checkText(p, "because", d.Because, 0, 200)
		if d.Of != "" {
			checkCode(p, "of", d.Of)
		}
	case KindAgain:
		if d.On == nil {
			p.Add("on", "is missing: the date to come back on, like 2026-03-14")
		}
		optionalWord(p, "for", d.For, AgainFors)
		checkText(p, "because", d.Because, 0, 200)
	case KindMove:
		checkPlaceName(p, "place", d.Place)
	case KindCull:
		optionalWord(p, "why", d.Why, CullWhys)
	case KindFruiting:
		if d.Place != "" {
			checkPlaceName(p, "place", d.Place)
		}
		optionalWord(p, "opening", d.Opening, Openings)
	case KindHarvest:
		d.validateHarvest(p)
	case KindFinish:
		neededWord(p, "why", d.Why, FinishWhys)
		checkText(p, "to", d.To, 0, 60)
	case KindPhoto:
		checkText(p, "photo", d.Photo, 1, 100)
	case KindNote:
		checkText(p, "text", d.Text, 1, 2000)
	case KindVoid:
		if _, err := ParseID(string(d.Entry)); err != nil {
			p.Add("entry", "%s", messageOf(err))
		}
	}
}

// writable tells whether a time has a form in RFC 3339, in any zone.
func writable(t time.Time) bool {
	year := t.UTC().Year()
	return year >= 1 && year < 9999
}

func (d Draft) validateColonised(p *Problems) {
	percent(p, "pct", d.Pct)
	switch {
	case d.Pct == nil && d.Full == nil:
		p.Add("pct", "is missing: the share of the wall grown over, 0 to 100, or full false where nobody estimated")
	case d.Pct != nil && d.Full != nil:
		p.Add("full", "stands in for pct where nobody estimated; give one of the two")
	case d.Full != nil && *d.Full:
		p.Add("full", "can only be false; for a bag grown over say pct 100")
	}
	for _, b := range d.Bare {
		optionalWord(p, "bare", b, BareParts)
	}
}

func (d Draft) validateCondition(p *Problems, conditions Conditions) {
	optionalWord(p, "basis", d.Basis, Bases)
	if !d.Value.Given {
		p.Add("value", "is missing; null says that it is unknown")
	}
	if d.Key == SpawnJarKey {
		if v := d.Value.Known; v != nil {
			checkCode(p, "value", Code(*v))
		}
		return
	}
	c, ok := conditions[d.Key]
	if !ok {
		p.Add("key", "is not a condition of this farm; its conditions are %s", strings.Join(conditions.Keys(), ", "))
		return
	}
	if _, err := c.Value(d.Value.Known); err != nil {
		p.Add("value", "%s", messageOf(err))
	}
}

func (d Draft) validateHarvest(p *Problems) {
	if d.Grams == nil || !(*d.Grams >= 0 && *d.Grams <= MostGrams) {
		p.Add("grams", "must be 0 to %d", MostGrams)
	}
	if d.Flush != nil && (*d.Flush < 1 || *d.Flush > MostFlushes) {
		p.Add("flush", "must be 1 to %d", MostFlushes)
	}
}

// MostFlushes is the last flush that is counted: what is picked later belongs to it.
const MostFlushes = 20

func neededWord(p *Problems, field, word string, words []string) {
	if word == "" {
		p.Add(field, "is missing: one of %s", strings.Join(words, ", "))
		return
	}
	optionalWord(p, field, word, words)
}

func optionalWord(p *Problems, field, word string, words []string) {
	if word != "" && !slices.Contains(words, word) {
		p.Add(field, "must be one of %s", strings.Join(words, ", "))
	}
}

func percent(p *Problems, field string, v *float64) {
	if v != nil && !(*v >= 0 && *v <= 100) || v != nil && math.IsNaN(*v) {
		p.Add(field, "must be 0 to 100")
	}
}

func checkCode(p *Problems, field string, c Code) {
	if _, err := ParseCode(string(c)); err != nil {
		p.Add(field, "%s", messageOf(err))
	}
}

// messageOf is the message alone of one of our errors.
func messageOf(err error) string {
	if e, ok := err.(*Error); ok {
		return e.Message
	}
	return err.Error()
}

func kindList() string {
	kinds := make([]string, 0, len(uses))
	for k := range uses {
		kinds = append(kinds, string(k))
	}
	slices.Sort(kinds)
	return strings.Join(kinds, ", ")
}

type jsonField struct {
	name  string
	index int
}

// jsonFields are the fields of a flat struct by their names in JSON.
func jsonFields(t reflect.Type) []jsonField {
	var out []jsonField
	for i := range t.NumField() {
		name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		out = append(out, jsonField{name, i})
	}
	return out
}
