package store

import (
	"context"
	"fmt"
	"math"
	"time"

	"bagmark/grow"
	"bagmark/grow/plan"
)

// WeekAheadQuery asks what the bags alive promise and, if Grams is set, what to
// make to have so many of a species in a week.
type WeekAheadQuery struct {
	Starts   grow.WeekStart // of weeks
	Species  grow.Slug
	Grams    *float64
	Week     *grow.Date // any day of it
	LoadBags *int       // bags in one steriliser load, instead of what the farm knows
}

// WeekAhead is the answer.
type WeekAhead struct {
	AsOf        time.Time      `json:"as_of"`
	WeekStarts  grow.WeekStart `json:"week_starts"`
	IntervalPct int            `json:"interval_pct"` // chances in 100 that a week lies between low and high
	Weeks       []AheadWeek    `json:"weeks"`
	Species     []AheadSpecies `json:"species"`
	Racks       AheadRoom      `json:"racks"`    // where bags grow over and ripen
	Fruiting    AheadRoom      `json:"fruiting"` // where they fruit
	Load        AheadLoad      `json:"steriliser_load"`
	Sterile     int            `json:"sterile_bags_left"`
	Want        *AheadAnswer   `json:"want"`
}

// AheadWeek is what bags alive give from one day to another, both included. The
// first week counts from today.
type AheadWeek struct {
	From     grow.Date   `json:"from"`
	To       grow.Date   `json:"to"`
	Grams    plan.Figure `json:"grams"` // of all species
	Species  []AheadCrop `json:"species"`
	Racks    int         `json:"bags_on_racks"` // on the first day, of those alive now
	Fruiting int         `json:"bags_in_fruiting"`
}

// AheadCrop is one species' part of a week.
type AheadCrop struct {
	Species grow.Slug   `json:"species"`
	Name    string      `json:"species_name"`
	Grams   plan.Figure `json:"grams"`
}

// AheadSpecies says what the figures of a species rest on.
type AheadSpecies struct {
	Species grow.Slug  `json:"species"`
	Name    string     `json:"species_name"`
	Bags    int        `json:"bags"` // alive that promise anything
	Basis   AheadBasis `json:"basis"`
}

// AheadRoom is the room there is for bags in one stage, over all rooms where such
// bags stand.
type AheadRoom struct {
	Rooms    []string `json:"rooms"`
	Capacity *int     `json:"capacity_bags"` // null where a room of them does not say
	Bags     int      `json:"bags"`          // that stand there now
}

// WeekAhead tells what is promised and what to make.
func (s *Store) WeekAhead(ctx context.Context, q WeekAheadQuery) (out WeekAhead, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, err
	}
	r, err := s.recordsNow(ctx, farm)
	if err != nil {
		return out, err
	}
	base, err := s.aheadNow(ctx, farm, r, q.Starts)
	if err != nil {
		return out, err
	}
	out = remember(r, fmt.Sprintf("weeks of %p", base), func() WeekAhead { return base.tell(farm) })
	out.AsOf, out.WeekStarts, out.IntervalPct = r.at.In(farm.Zone), q.Starts, intervalPct
	err = s.reading(ctx, func(t *tx) error {
		if err := t.aheadPlaces(farm, base, &out); err != nil {
			return err
		}
		if q.Grams == nil && q.Species == "" && q.Week == nil {
			return nil
		}
		if err := q.validate(farm, base); err != nil {
			return err
		}
		return t.answerWant(farm, r, base, q, &out)
	})
	return out, err
}

// validate names every faulty field.
func (q WeekAheadQuery) validate(f *Farm, base *aheadBase) error {
	var p grow.Problems
	switch {
	case q.Species == "":
		p.Add("species", "is missing: which species do you want?")
	case !f.Knows(q.Species):
		p.Add("species", "%q is not a species this farm knows", q.Species)
	}
	switch {
	case q.Grams == nil:
		p.Add("grams", "is missing: how much do you want?")
	case !(*q.Grams > 0 && *q.Grams <= mostWanted):
		p.Add("grams", "must be more than 0 and at most %d", int(mostWanted))
	}
	last := base.starts[len(base.starts)-1]
	switch {
	case q.Week == nil:
		p.Add("week", "is missing: in which week?")
	case *q.Week < base.starts[0]:
		p.Add("week", "lies in the past: this week began on %s", base.starts[0])
	case *q.Week >= last:
		p.Add("week", "is too far off: weeks up to %s can be asked for", last-1)
	}
	if q.LoadBags != nil && (*q.LoadBags < 1 || *q.LoadBags > grow.MostBags) {
		p.Add("load_bags", "must be 1 to %d", grow.MostBags)
	}
	return p.Err("this cannot be planned as it is")
}

// mostWanted is a hundred tonnes, in grams.
const mostWanted = 100e6

func (a *aheadBase) tell(f *Farm) WeekAhead {
	out := WeekAhead{Weeks: []AheadWeek{}, Species: []AheadSpecies{}}
	for i := range weeksShown {
		racks, fruiting := a.standing(i)
		w := AheadWeek{From: max(a.today, a.starts[i]), To: a.starts[i+1] - 1, Species: []AheadCrop{}, Racks: whole(racks), Fruiting: whole(fruiting)}
		all := make(plan.Plays, plan.Runs)
		for _, p := range a.promised {
			all = all.Plus(p.Grams[i])
			w.Species = append(w.Species, AheadCrop{p.species, f.nameOf(p.species), roundGrams(plan.FigureOf(p.Grams[i]))})
		}
		w.Grams = roundGrams(plan.FigureOf(all))
		out.Weeks = append(out.Weeks, w)
	}
	for _, p := range a.promised {
		out.Species = append(out.Species, AheadSpecies{p.species, f.nameOf(p.species), p.bags, a.basisOf(p.species)})
	}
	return out
}

// basisOf is that of the species' kind, or of a strain's where all its bags are of
// strains with records of their own.
func (a *aheadBase) basisOf(species grow.Slug) AheadBasis {
	var of aheadKind
	strain := "\uffff"
	for key, k := range a.kinds {
		if key.species == species && key.strain < strain {
			of, strain = k, key.strain
		}
	}
	return of.told()
}

func whole(x float64) int { return int(math.Round(x)) }

// roundGrams keeps what figures of plays can bear: whole grams.
func roundGrams(f plan.Figure) plan.Figure {
	return plan.Figure{Low: math.Round(f.Low), Likely: math.Round(f.Likely), High: math.Round(f.High)}
}

func (f *Farm) nameOf(species grow.Slug) string {
	s, _ := f.SpeciesOf(species, nil)
	return s.Name
}
