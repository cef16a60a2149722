package store

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"

	"bagmark/grow"
	"bagmark/grow/plan"
	"bagmark/grow/yield"
)

// weeksReckoned is how many weeks bags alive are played forward, the one that
// has begun included; weeksShown of them are listed.
const (
	weeksReckoned = 40
	weeksShown    = 9
)

// aheadBase is what bags alive promise, kept until something changes.
type aheadBase struct {
	today    grow.Date
	weeks    plan.Weeks
	starts   []grow.Date // of the weeks, and the day after the last
	kinds    map[kindKey]aheadKind
	promised []promised // by species, in the farm's order
	rooms    map[string]*roomUse
	past     past
}

// promised is what the bags alive of one species give, strains together.
type promised struct {
	species grow.Slug
	bags    int
	plan.Ahead
}

// roomUse counts the bags alive in a room, those in fruiting apart.
type roomUse struct{ growing, fruiting int }

// aheadNow gives what bags alive promise, in weeks that start on a day.
func (s *Store) aheadNow(ctx context.Context, f *Farm, r *records, starts grow.WeekStart) (*aheadBase, error) {
	key := fmt.Sprintf("week ahead %s %d", starts, s.tracks.earlierCount()) // what becomes known of rooms changes forecasts
	if kept, ok := recall[*aheadBase](r, key); ok {
		return kept, nil
	}
	base := newAheadBase(grow.DateOf(r.at, f.Zone), starts)
	alive := map[kindKey][]plan.Batch{}
	err := s.reading(ctx, func(t *tx) (err error) {
		base.past = r.pastByKind()
		batches, err := t.batchesInCare(f)
		for _, b := range batches {
			if err == nil {
				err = t.addAlive(f, r, b, base, alive)
			}
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	base.play(f, alive)
	return remember(r, key, func() *aheadBase { return base }), nil
}

func newAheadBase(today grow.Date, starts grow.WeekStart) *aheadBase {
	base := &aheadBase{today: today, kinds: map[kindKey]aheadKind{}, rooms: map[string]*roomUse{}}
	first := grow.Units{WeekStarts: starts}.WeekStartOf(today)
	for i := range weeksReckoned + 1 {
		d := first + grow.Date(7*i)
		base.starts = append(base.starts, d)
		base.weeks = append(base.weeks, int(d-today))
	}
	return base
}

// kindFor is the kind of a batch: its strain's where the strain has done batches
// enough, else the species'.
func (t *tx) kindFor(f *Farm, b Batch, base *aheadBase) (kindKey, error) {
	key := kindKey{species: b.Species}
	if b.Strain != nil {
		if own := (kindKey{b.Species, nameKey(*b.Strain)}); base.past.kinds[own] != nil && len(base.past.kinds[own].done) >= plan.LeastBatches {
			key = own
		}
	}
	if _, known := base.kinds[key]; known {
		return key, nil
	}
	of := Batch{Species: b.Species}
	if key.strain != "" {
		of.Strain = b.Strain
	}
	species, _ := f.SpeciesOf(of.Species, of.Strain)
	days, err := t.law(f, of, species, nil)
	if err == nil {
		base.kinds[key] = f.kindOf(species, key, days.Law, base.past.kinds[key], base.past.dryOf(b.Species))
	}
	return key, err
}

// addAlive adds the bags of one batch that promise anything.
func (t *tx) addAlive(f *Farm, r *records, b Batch, base *aheadBase, alive map[kindKey][]plan.Batch) error {
	key, err := t.kindFor(f, b, base)
	if err != nil {
		return err
	}
	out := plan.Batch{Name: string(b.Code)}
	err = t.eachOf(f, b, func(p *prospect, g bagRow) error {
		out.Grow = lawUnderWay(p)
		base.stands(g.status)
		if bag, ok := p.alive(g, base.today); ok {
			out.Bags = append(out.Bags, bag)
		}
		return nil
	})
	out.Lost, out.Gave = r.fates(b.row)
	alive[key] = append(alive[key], out)
	return err
}

// lawUnderWay is what the bags of a batch share of their days, once some of them
// are grown over: their batch is known the better the more there are.
func lawUnderWay(p *prospect) plan.Law {
	l := planLaw(p.law.Law)
	if n := p.sisters.finished(); n > 0 {
		l.Between = math.Sqrt(1 / (1/(l.SD*l.SD+l.Between*l.Between) + float64(n)/(l.Within*l.Within)))
		l.SD = 0
	}
	return l
}

// fates are how many bags of a batch are out and gave nothing, and something.
func (r *records) fates(batch int64) (lost, gave int) {
	for i, ok := r.firstOf(batch); ok && i < len(r.bags) && r.bags[i].batch == batch; i++ {
		switch g := r.bags[i]; {
		case g.crop.Fate == yield.Done && g.crop.Grams > 0:
			gave++
		case g.crop.Fate == yield.Done, g.life.bad.known() && g.crop.Grams == 0:
			lost++
		}
	}
	return lost, gave
}

// firstOf is where a batch's bags begin in the records.
func (r *records) firstOf(batch int64) (int, bool) {
	i, ok := slices.BinarySearchFunc(r.bags, batch, func(g bagRecord, b int64) int { return cmp.Compare(g.batch, b) })
	for i > 0 && r.bags[i-1].batch == batch {
		i--
	}
	return i, ok
}

// stands counts a bag in its room.
func (a *aheadBase) stands(s grow.Status) {
	room, _, _ := strings.Cut(s.Place, grow.PlaceSeparator)
	if room == "" {
		return
	}
	if a.rooms[room] == nil {
		a.rooms[room] = &roomUse{}
	}
	if s.State == grow.Fruiting {
		a.rooms[room].fruiting++
	} else {
		a.rooms[room].growing++
	}
}

// alive is a bag as the plan plays it; false where it promises nothing: found
// contaminated, set apart, or rested for so long that nothing more is waited for.
func (p *prospect) alive(g bagRow, today grow.Date) (plan.Bag, bool) {
	s, zone := g.status, p.farm.Zone
	if s.Contaminated != nil || s.State == grow.Isolated {
		return plan.Bag{}, false
	}
	since := func(d grow.Date) float64 { return math.Max(0, float64(today-d)) }
	bag := plan.Bag{Age: since(p.made)}
	if a := s.Again; a != nil && a.For == "fruiting" {
		bag.Held = math.Max(0, float64(a.On-today))
	}
	switch {
	case s.State == grow.Fruiting && s.FruitingAt != nil:
		bag.Stage, bag.Waited = plan.Fruiting, since(grow.DateOf(*s.FruitingAt, zone))
		for k := range s.Picks { // a flush is dated by its first picking
			if flush := s.Picks[k].Flush; flush > bag.Picked {
				bag.Picked, bag.Waited = flush, since(grow.DateOf(s.Picks[k].At, zone))
			}
		}
		if p.farm.cropOf(p.batch, s, today.In(zone, 12)).Fate != yield.Giving {
			return plan.Bag{}, false
		}
	case s.GrownOverAt != nil:
		bag.Stage, bag.Waited = plan.Ripening, since(grow.DateOf(*s.GrownOverAt, zone))
	default:
		d := p.forecast(g, p.rooms.of(g.id), int(bag.Age)).Colonised
		bag.Grown = plan.Range{Early: d.Early, Likely: d.Likely, Late: d.Late}
	}
	return bag, true
}

// play plays all kinds forward, as many at once as there are processors.
func (a *aheadBase) play(f *Farm, alive map[kindKey][]plan.Batch) {
	results := make(map[kindKey]*plan.Ahead, len(alive))
	var all sync.WaitGroup
	for key, batches := range alive {
		of := &plan.Ahead{}
		results[key] = of
		all.Go(func() { *of = a.kinds[key].Promise(batches, a.weeks) })
	}
	all.Wait()
	keys := slices.SortedFunc(maps.Keys(results), func(x, y kindKey) int {
		return cmp.Or(cmp.Compare(x.species, y.species), cmp.Compare(x.strain, y.strain))
	})
	for _, sp := range f.Species {
		p := promised{species: sp.Slug}
		for _, key := range keys {
			if key.species != sp.Slug {
				continue
			}
			for _, b := range alive[key] {
				p.bags += len(b.Bags)
			}
			p.Ahead = p.Ahead.Plus(*results[key])
		}
		if p.bags > 0 {
			a.promised = append(a.promised, p)
		}
	}
}

// of are the plays of a species in a week.
func (a *aheadBase) of(species grow.Slug, week int) plan.Plays {
	for _, p := range a.promised {
		if p.species == species {
			return p.Grams[week]
		}
	}
	return make(plan.Plays, plan.Runs)
}

// standing is how many bags stand on the racks and in fruiting on the first day
// of a week, of those alive now.
func (a *aheadBase) standing(week int) (racks, fruiting float64) {
	for _, p := range a.promised {
		racks, fruiting = racks+p.OnRacks[week], fruiting+p.InFruiting[week]
	}
	return racks, fruiting
}
