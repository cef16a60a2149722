package store

import (
	"fmt"

	"bagmark/grow"
	"bagmark/grow/plan"
)

// AheadAnswer says what to make to have so many grams of a species in a week.
type AheadAnswer struct {
	Species  grow.Slug   `json:"species"`
	Name     string      `json:"species_name"`
	Grams    float64     `json:"grams"`
	From     grow.Date   `json:"from"`
	To       grow.Date   `json:"to"`
	Promised plan.Figure `json:"promised_grams"` // by bags alive
	// Earliest is the first day on which bags can be made; Best the day whose bags give
	// most in that week, which may have passed; Latest the last whose bags give half of
	// that; Good the days that are nearly as good as the one of Likely.
	Earliest grow.Date `json:"earliest"`
	Latest   grow.Date `json:"latest"`
	Best     grow.Date `json:"best"`
	Good     AheadSpan `json:"nearly_as_good"`
	Late     bool      `json:"too_late"` // Latest has passed
	// Reach is the first week for which bags made on the earliest day are not too late.
	Reach  *AheadSpan   `json:"first_week_in_reach"`
	Basis  AheadBasis   `json:"basis"`
	Likely *AheadMaking `json:"likely"` // null where nothing need be made, or it is too late
	Sure   *AheadMaking `json:"sure"`   // nine chances in ten
	// Enough tells whether the bags alive have that chance by themselves.
	LikelyEnough bool `json:"likely_by_bags_alive"`
	SureEnough   bool `json:"sure_by_bags_alive"`
}

// AheadSpan are days, both included.
type AheadSpan struct {
	From grow.Date `json:"from"`
	To   grow.Date `json:"to"`
}

// AheadMaking is bags to make.
type AheadMaking struct {
	Days   []grow.Date `json:"days"`
	Each   int         `json:"bags_a_day"`
	Bags   int         `json:"bags"`
	InWeek plan.Figure `json:"grams"` // in that week, with the bags alive
	Weeks  []AheadGive `json:"gives"` // what these bags give, week by week; weeks without are left out
	Loads  *int        `json:"steriliser_loads"`
	// Sterile is how many of the sterile bags left are counted on.
	Sterile int `json:"sterile_bags"`
	// Racks and Tiers say whether there is room from the making to the move, and from
	// there to the last picking.
	Racks AheadFits `json:"racks"`
	Tiers AheadFits `json:"fruiting"`
}

// AheadGive is what bags of a making give in a week.
type AheadGive struct {
	AheadSpan
	Grams plan.Figure `json:"grams"`
}

// AheadFits says how many more bags there is room for, on the fullest day, beside
// those alive that will stand there then.
type AheadFits struct {
	From  grow.Date `json:"from"`
	To    grow.Date `json:"to"`
	Stand int       `json:"bags_there"`
	Free  *int      `json:"free"` // null where the rooms do not say what they take
	Short int       `json:"short"`
}

// steamDays is how many days before their making bags are steamed, so that they
// are cold (common practice).
const steamDays = 1

// sterileKeep is how many days ahead the sterile bags left now are counted on
// (common practice: a closed bag is used within weeks).
const sterileKeep = 14

// answerWant works out what to make. A farm that steams its own bags cannot make
// more today than it has sterile.
func (t *tx) answerWant(f *Farm, r *records, base *aheadBase, q WeekAheadQuery, out *WeekAhead) error {
	if q.LoadBags != nil {
		out.Load = AheadLoad{Bags: q.LoadBags, From: LoadAsked}
	}
	kind, err := t.wantedKind(f, base, q.Species)
	if err != nil {
		return err
	}
	week := base.weekOf(*q.Week)
	w := plan.Want{Grams: *q.Grams, From: base.weeks[week], To: base.weeks[week+1]}
	promised := base.of(q.Species, week)
	reckon := func(earliest int) plan.Answer {
		w.Earliest = earliest
		return remember(r, fmt.Sprintf("make of %p %s %d %v", base, q.Species, week, w), func() plan.Answer { return kind.Make(w, promised, base.weeks) })
	}
	a := reckon(0)
	if out.Load.Bags != nil && (out.Sterile == 0 || a.Needs(0) > out.Sterile) {
		a = reckon(steamDays)
	}
	out.Want = &AheadAnswer{Species: q.Species, Name: f.nameOf(q.Species), Grams: w.Grams, From: max(base.today, base.starts[week]), To: base.starts[week+1] - 1,
		Promised: roundGrams(plan.FigureOf(promised)), Earliest: base.day(w.Earliest), Latest: base.day(a.Latest), Best: base.day(a.Best), Good: AheadSpan{base.day(a.Good[0]), base.day(a.Good[1])},
		Late: a.TooLate(w), Basis: remember(r, fmt.Sprintf("usual of %p %s", base, q.Species), kind.told), LikelyEnough: a.LikelyEnough, SureEnough: a.SureEnough}
	for i, from := range base.weeks[:len(base.weeks)-1] {
		if from >= a.Reach {
			out.Want.Reach = &AheadSpan{base.starts[i], base.starts[i+1] - 1}
			break
		}
	}
	out.Want.Likely, out.Want.Sure = base.making(a, a.Likely, out), base.making(a, a.Sure, out)
	return nil
}

// wantedKind is how a species does, all its strains together.
func (t *tx) wantedKind(f *Farm, base *aheadBase, slug grow.Slug) (aheadKind, error) {
	key := kindKey{species: slug}
	if k, ok := base.kinds[key]; ok {
		return k, nil
	}
	species, _ := f.SpeciesOf(slug, nil)
	days, err := t.law(f, Batch{Species: slug}, species, nil)
	return f.kindOf(species, key, days.Law, base.past.kinds[key], base.past.dryOf(slug)), err
}

// day is a date so many days from today.
func (a *aheadBase) day(days int) grow.Date { return a.today + grow.Date(days) }

// weekOf is the week that a date lies in.
func (a *aheadBase) weekOf(d grow.Date) int {
	i := 0
	for i+2 < len(a.starts) && a.starts[i+1] <= d {
		i++
	}
	return i
}

// making puts a making into dates, and beside loads and room.
func (a *aheadBase) making(of plan.Answer, m *plan.Making, all *WeekAhead) *AheadMaking {
	if m == nil {
		return nil
	}
	out := &AheadMaking{Each: m.Each, Bags: m.Bags(), InWeek: roundGrams(m.InWeek), Weeks: []AheadGive{}}
	for _, d := range m.Days {
		out.Days = append(out.Days, a.day(d))
	}
	for i, g := range m.Weeks {
		if g = roundGrams(g); g.High > 0 {
			out.Weeks = append(out.Weeks, AheadGive{AheadSpan{max(a.today, a.starts[i]), a.starts[i+1] - 1}, g})
		}
	}
	if m.Days[0] <= sterileKeep {
		out.Sterile = min(all.Sterile, out.Bags)
	}
	if all.Load.Bags != nil {
		loads := ((out.Bags - out.Sterile) + *all.Load.Bags - 1) / *all.Load.Bags
		out.Loads = &loads
	}
	first, last := out.Days[0], out.Days[len(out.Days)-1]
	out.Racks = a.fits(first, last+grow.Date(of.Move), all.Racks, out.Bags, true, len(all.Fruiting.Rooms) == 0)
	out.Tiers = a.fits(first+grow.Date(of.Move), last+grow.Date(of.End), all.Fruiting, out.Bags, false, true)
	return out
}

// fits holds bags against the room there is on the fullest of some days.
func (a *aheadBase) fits(from, to grow.Date, room AheadRoom, bags int, growing, fruiting bool) AheadFits {
	out := AheadFits{From: from, To: to}
	for i := a.weekOf(from); i < len(a.starts)-1 && a.starts[i] <= to; i++ {
		racks, tiers := a.standing(i)
		stand := 0.0
		if growing {
			stand += racks
		}
		if fruiting {
			stand += tiers
		}
		out.Stand = max(out.Stand, whole(stand))
	}
	if room.Capacity != nil {
		free := max(0, *room.Capacity-out.Stand)
		out.Free, out.Short = &free, max(0, bags-free)
	}
	return out
}
