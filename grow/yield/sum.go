package yield

import (
	"cmp"
	"math"
	"slices"
)

// A Group is what some bags gave. Mean and its limits are per bag made, by the
// measure; nil where they are not known.
type Group struct {
	Bags          int      `json:"bags"`
	Batches       int      `json:"batches"`
	Grams         float64  `json:"grams"` // in all
	DryG          *float64 `json:"dry_g"` // of all of them; null unless all have one
	EfficiencyPct *float64 `json:"efficiency_pct"`
	Mean          *float64 `json:"mean"`
	Low           *float64 `json:"low"`
	High          *float64 `json:"high"`
	Flushes       []Flush  `json:"flushes"`
	ToFirst       *Middle  `json:"days_to_first_pick"`     // from inoculation
	Fruited       *Middle  `json:"days_in_fruiting_to_it"` // from the move to fruiting
	Losses        []Loss   `json:"losses"`
}

// A Flush is what the bags gave of one flush: a mean over all bags made, and
// over those that gave anything.
type Flush struct {
	Flush   int     `json:"flush"`
	Bags    int     `json:"bags"` // that gave it
	Grams   float64 `json:"grams"`
	PerMade float64 `json:"grams_per_bag_made"`
	PerBag  float64 `json:"grams_per_bag_picked"`
	Share   float64 `json:"share"` // of all that was picked
}

// Middle is a median and the half of the bags around it.
type Middle struct {
	Bags   int     `json:"bags"`
	Low    float64 `json:"low"` // a quarter of the bags are before it
	Median float64 `json:"median"`
	High   float64 `json:"high"`
}

// A Loss is what bags thrown out for one reason would have given, had they given
// as much as their own batch's other bags, less what they gave.
type Loss struct {
	Why   string  `json:"why"`
	Bags  int     `json:"bags"`
	Grams float64 `json:"grams"`
}

// Sum adds up the bags picked by their indexes.
func Sum(bags []Bag, picked []int, m Measure) Group {
	g := Group{Bags: len(picked), Flushes: []Flush{}, Losses: []Loss{}}
	cells := cellsBy(bags, picked, m)
	g.Batches = len(cells)
	dry, whole := 0.0, len(picked) > 0
	var first, fruited []int
	for _, i := range picked {
		b := bags[i]
		g.Grams += b.Grams
		dry += b.DryG
		whole = whole && b.DryG > 0
		g.flush(b)
		if b.ToFirst >= 0 {
			first = append(first, b.ToFirst)
		}
		if b.Fruited >= 0 {
			fruited = append(fruited, b.Fruited)
		}
	}
	if whole {
		efficiency := 100 * g.Grams / dry
		g.DryG, g.EfficiencyPct = &dry, &efficiency
	}
	mean, low, high := meanOf(cells)
	g.Mean, g.Low, g.High = finite(mean), finite(low), finite(high)
	for i := range g.Flushes {
		f := &g.Flushes[i]
		f.PerMade = f.Grams / float64(g.Bags)
		if f.Bags > 0 {
			f.PerBag = f.Grams / float64(f.Bags)
		}
		if g.Grams > 0 {
			f.Share = f.Grams / g.Grams
		}
	}
	g.ToFirst, g.Fruited = middle(first), middle(fruited)
	g.Losses = losses(bags, picked)
	return g
}

func (g *Group) flush(b Bag) {
	for k, grams := range b.Flushes {
		if k == len(g.Flushes) {
			g.Flushes = append(g.Flushes, Flush{Flush: k + 1})
		}
		g.Flushes[k].Grams += grams
		if grams > 0 {
			g.Flushes[k].Bags++
		}
	}
}

// middle sorts the days.
func middle(days []int) *Middle {
	if len(days) == 0 {
		return nil
	}
	slices.Sort(days)
	at := func(share float64) float64 { // between the two bags that it falls between
		x := share * float64(len(days)-1)
		k := int(x)
		if k+1 == len(days) {
			return float64(days[k])
		}
		return float64(days[k]) + (x-float64(k))*float64(days[k+1]-days[k])
	}
	return &Middle{len(days), at(0.25), at(0.5), at(0.75)}
}

// losses compares thrown out bags with the others of their own batch; where a
// whole batch went, with those of its species.
func losses(bags []Bag, picked []int) []Loss {
	byBatch, bySpecies := map[string]*cell{}, map[string]*cell{}
	at := func(m map[string]*cell, key string) *cell {
		if m[key] == nil {
			m[key] = &cell{}
		}
		return m[key]
	}
	var batch, species *cell
	for n, i := range picked {
		if n == 0 || bags[i].Batch != bags[picked[n-1]].Batch {
			batch, species = at(byBatch, bags[i].Batch), at(bySpecies, bags[i].Species)
		}
		if bags[i].Culled == "" {
			batch.add(bags[i].Grams)
			species.add(bags[i].Grams)
		}
	}
	by := map[string]*Loss{}
	for _, i := range picked {
		b := bags[i]
		if b.Culled == "" {
			continue
		}
		if by[b.Culled] == nil {
			by[b.Culled] = &Loss{Why: b.Culled}
		}
		by[b.Culled].Bags++
		sisters := byBatch[b.Batch]
		if sisters.n == 0 {
			sisters = bySpecies[b.Species]
		}
		if sisters.n > 0 {
			by[b.Culled].Grams += sisters.mean() - b.Grams
		}
	}
	out := make([]Loss, 0, len(by))
	for _, l := range by {
		l.Grams = math.Max(0, l.Grams) // of all of them: a bag that gave more makes up for one that gave less
		out = append(out, *l)
	}
	slices.SortFunc(out, func(a, b Loss) int { return cmp.Or(cmp.Compare(b.Grams, a.Grams), cmp.Compare(a.Why, b.Why)) })
	return out
}

// cellsBy are the batches of some bags, in the order of the bags.
func cellsBy(bags []Bag, picked []int, m Measure) []cell {
	var out []cell
	at := map[string]int{}
	last := -1
	for n, i := range picked {
		if n == 0 || bags[i].Batch != bags[picked[n-1]].Batch {
			k, ok := at[bags[i].Batch]
			if !ok {
				k = len(out)
				at[bags[i].Batch] = k
				out = append(out, cell{})
			}
			last = k
		}
		v, _ := m.of(bags[i])
		out[last].add(v)
	}
	return out
}

// finite is nil for what JSON cannot hold.
func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
