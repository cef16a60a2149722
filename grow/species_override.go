package grow

import (
	"math"
	"regexp"
	"slices"
	"strings"
)

// Override is the farm's own word on a species, or on one strain of it where
// Strain is given. What is nil stays as it was.
type Override struct {
	Slug         Slug        `json:"slug"`
	Strain       string      `json:"strain,omitempty"`
	Name         *string     `json:"name,omitempty"`
	Short        *string     `json:"short,omitempty"`
	Latin        *string     `json:"latin,omitempty"`
	Days         *[3]float64 `json:"days,omitempty"`          // low, typical, high
	TempC        *[3]float64 `json:"temp_c,omitempty"`        // low, target, high
	RipeningDays *[2]float64 `json:"ripening_days,omitempty"` // low, high
	Ready        *ReadyRule  `json:"ready,omitempty"`
}

var (
	slugShape  = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`)
	shortShape = regexp.MustCompile(`^[A-Z0-9]{1,6}$`)
)

// Validate names every field that is wrong.
func (o Override) Validate() error {
	var p Problems
	o.validate(&p)
	return p.Err("these figures cannot be kept as they are")
}

func (o Override) validate(p *Problems) {
	if !slugShape.MatchString(string(o.Slug)) || len(o.Slug) > 60 {
		p.Add("slug", "must be lower-case words joined by hyphens, like pleurotus-eryngii, at most 60 characters")
	}
	if o.Strain != "" {
		CheckName(p, "strain", o.Strain)
	}
	if o.Name != nil {
		CheckName(p, "name", *o.Name)
	}
	if o.Latin != nil {
		CheckName(p, "latin", *o.Latin)
	}
	if o.Short != nil && !shortShape.MatchString(*o.Short) {
		p.Add("short", "must be 1 to 6 capitals or digits, so that it can be read on the label from a metre away")
	}
	if d := o.Days; d != nil && (!within(d[:], 1, 365) || d[0] >= d[1] || d[1] >= d[2]) {
		p.Add("spawn_run.days", "must be three rising numbers from 1 to 365: low, typical, high")
	}
	if t := o.TempC; t != nil && (!within(t[:], -5, 60) || t[0] > t[1] || t[1] > t[2]) {
		p.Add("spawn_run.temp_c", "must be three numbers from -5 to 60, none lower than the one before: low, target, high")
	}
	if r := o.RipeningDays; r != nil && (!within(r[:], 0, 365) || r[0] > r[1]) {
		p.Add("ripening_days", "must be two numbers from 0 to 365, the lower one first")
	}
	if o.Ready != nil && !slices.Contains(ReadyRules(), *o.Ready) {
		p.Add("ready", "must be one of %s", joinWords(ReadyRules()))
	}
}

func joinWords[T ~string](words []T) string {
	texts := make([]string, len(words))
	for i, w := range words {
		texts[i] = string(w)
	}
	return strings.Join(texts, ", ")
}

func within(numbers []float64, low, high float64) bool {
	for _, n := range numbers {
		if !(n >= low && n <= high) { // not a number is not within
			return false
		}
	}
	return true
}

// With is the species with the override laid over it; what it sets is marked as
// the farm's own. The override must be valid and of the same species.
func (s Species) With(o Override) Species {
	s.Older, s.Names = slices.Clone(s.Older), slices.Clone(s.Names)
	if o.Strain != "" {
		s.Strain = o.Strain
	}
	if o.Name != nil {
		s.Name = *o.Name
		if !slices.Contains(s.Names, s.Name) {
			s.Names = append(s.Names, s.Name)
		}
	}
	if o.Short != nil {
		s.Short = *o.Short
	}
	if o.Latin != nil {
		s.Latin = *o.Latin
	}
	if d := o.Days; d != nil {
		s.SpawnRun.Days = Range{Low: d[0], Typical: d[1], High: d[2], Mark: FarmsOwn}
		s.FirstSignDay = min(s.FirstSignDay, max(1, int(math.Floor(d[0]))))
	}
	if t := o.TempC; t != nil {
		s.SpawnRun.TempC = Range{Low: t[0], Typical: t[1], High: t[2], Mark: FarmsOwn}
	}
	if r := o.RipeningDays; r != nil {
		s.RipeningDays = Span{Low: r[0], High: r[1], Mark: FarmsOwn}
	}
	if o.Ready != nil {
		s.Ready = *o.Ready
	}
	return s
}

// NewSpecies is a species of the farm's own, one that is not built in. Name,
// short name, days and temperatures are needed; the rest begins with careful
// general values from memory.
func NewSpecies(o Override) (Species, error) {
	var p Problems
	o.validate(&p)
	for field, missing := range map[string]bool{
		"name": o.Name == nil, "short": o.Short == nil, "spawn_run.days": o.Days == nil, "spawn_run.temp_c": o.TempC == nil,
	} {
		if missing {
			p.Add(field, "is missing: a species of your own needs it")
		}
	}
	if o.Strain != "" {
		p.Add("strain", "comes after the species itself")
	}
	if err := p.Err("this species cannot be kept as it is"); err != nil {
		return Species{}, err
	}
	s := Species{
		Slug: o.Slug, Latin: latinOf(o.Slug), PinWord: "Pins", Ready: ReadyAllGrown, FirstSignDay: 4,
		RipeningDays: Span{Mark: FromMemory}, Growth: remembered(5, 25, 34), Pace: paceOf(o.Days[1]),
	}
	s.SpawnRun.CeilingC = Figure{32, FromMemory, ""}
	return s.With(o), nil
}

// paceOf never makes a species fast: it is judged more patiently instead.
func paceOf(typical float64) Pace {
	if typical >= 24 {
		return Slow
	}
	return Thin
}

func latinOf(slug Slug) string {
	words := strings.ReplaceAll(string(slug), "-", " ")
	return strings.ToUpper(words[:1]) + words[1:]
}

// OwnSpecies lays a farm's overrides over the built-in species, those of whole
// species only, and adds the farm's own species behind them. The list is that
// of the whole farm; a strain's figures come by [SpeciesOf].
func OwnSpecies(overrides []Override) []Species {
	list := BuiltInSpecies()
	for _, o := range overrides {
		if o.Strain != "" {
			continue
		}
		if i := slices.IndexFunc(list, func(s Species) bool { return s.Slug == o.Slug }); i >= 0 {
			list[i] = list[i].With(o)
		} else if s, err := NewSpecies(o); err == nil {
			list = append(list, s)
		}
	}
	return list
}

// SpeciesOf is what a farm knows of a strain: the species among its own, as
// [OwnSpecies] gives them, then its figures for the strain, whose name is compared
// without regard to case and spaces. It is false for a species that the farm does
// not have.
func SpeciesOf(own []Species, overrides []Override, slug Slug, strain string) (Species, bool) {
	s, ok := find(own, func(s Species) bool { return s.Slug == slug })
	if !ok {
		return Species{}, false
	}
	for _, o := range overrides {
		if o.Slug == slug && o.Strain != "" && strain != "" && sameName(o.Strain, strain) {
			s = s.With(o)
		}
	}
	return s, true
}

func sameName(a, b string) bool {
	return strings.EqualFold(strings.Join(strings.Fields(a), " "), strings.Join(strings.Fields(b), " "))
}
