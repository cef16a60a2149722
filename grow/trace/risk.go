package trace

import (
	"cmp"
	"slices"
	"time"
)

// Keys with a meaning of their own in a list of shared things.
const (
	KeySpawnLot      = "spawn_lot"
	KeySteriliserRun = "steriliser_run"
	KeyPlace         = "place"
	KeyMadeNear      = "made_near"
)

// A Farm is what AtRisk looks at: all bags with their conditions (spawn lot and steriliser run among them), where
// they stand now, and when they were scanned live at the bench. Places and Bench may be nil.
type Farm struct {
	Bags    []Bag
	Columns []Column
	Places  []string
	Bench   []time.Time
}

// A Risk is one living bag that shares something with a bad one.
type Risk struct {
	Bag    int      // index into the farm's bags
	Shares []string // keys of what they share
	Risk   Interval // the chance that it turns
}

// AtRisk lists the living bags that share with the subject a departure from what is normal, a lot or a run under
// suspicion, or having been made near it, most at risk first. Spawn lot, steriliser run and place are named where
// they are shared, but put no bag on the list by themselves.
//
// Of what is shared, the thing that makes the risk highest counts. The risk starts from the farm's own law
// (BetaPrior), takes in the bags of the same batch that shared it, or of all batches if there are none, and what is
// already known from the bag's being clean today.
func (f Farm) AtRisk(subject int, suspects map[Suspect]bool) []Risk {
	shared := f.shared(subject, suspects)
	estimate := newEstimator(f)
	var out []Risk
	for i, b := range f.Bags {
		if i == subject || !b.Alive() {
			continue
		}
		r, listed := Risk{Bag: i}, false
		for _, s := range shared {
			if !s.has[i] {
				continue
			}
			r.Shares = append(r.Shares, s.key)
			if !s.lists {
				continue
			}
			if x := estimate.risk(i, s); !listed || x.Estimate > r.Risk.Estimate {
				r.Risk, listed = x, true
			}
		}
		if listed {
			out = append(out, r)
		}
	}
	slices.SortStableFunc(out, func(a, b Risk) int {
		return cmp.Or(cmp.Compare(b.Risk.Estimate, a.Risk.Estimate), cmp.Compare(f.Bags[a.Bag].Batch, f.Bags[b.Bag].Batch),
			cmp.Compare(f.Bags[a.Bag].Number, f.Bags[b.Bag].Number))
	})
	return out
}

// A SharedTurn is how many more bags with one shared thing may turn.
type SharedTurn struct {
	Key string
	Bad int // bags with it found contaminated so far
	Turn
}

// Turns says for each thing that puts bags on the list of AtRisk how many of those alive may turn, from all bags of the
// subject's species that shared it. It leans to caution: a bag that has long been clean counts as any other.
func (f Farm) Turns(subject int, suspects map[Suspect]bool) []SharedTurn {
	estimate := newEstimator(f)
	var out []SharedTurn
	for _, s := range f.shared(subject, suspects) {
		if !s.lists {
			continue
		}
		species := f.Bags[subject].Species
		t := SharedTurn{Key: s.key}
		alive := 0
		for i, b := range f.Bags {
			switch {
			case !s.has[i] || b.Species != species:
			case b.Alive():
				alive++
			case b.badOn().known:
				t.Bad++
			}
		}
		t.Turn = estimate.priors[species].Update(estimate.fates(s).all[species]).Turn(alive)
		out = append(out, t)
	}
	return out
}

// A trait is one thing the subject has, and which bags have it too.
type trait struct {
	key   string
	has   []bool
	lists bool // puts a bag on the list by itself
}

// shared are the subject's traits.
func (f Farm) shared(subject int, suspects map[Suspect]bool) []trait {
	if subject < 0 || subject >= len(f.Bags) {
		return nil
	}
	var out []trait
	for _, c := range f.Columns {
		v := c.value(subject).Value
		origin := c.Key == KeySpawnLot || c.Key == KeySteriliserRun
		departs := c.Normal != "" && v != c.Normal
		if v == "" || !origin && !departs {
			continue
		}
		lists := departs || suspects[Suspect{c.Key, v}]
		out = append(out, trait{c.Key, f.each(func(i int) bool {
			w := c.value(i).Value
			return w == v || departs && w != "" && w != c.Normal
		}), lists})
	}
	if subject < len(f.Places) && f.Places[subject] != "" {
		out = append(out, trait{KeyPlace, f.each(func(i int) bool { return i < len(f.Places) && f.Places[i] == f.Places[subject] }), false})
	}
	if near := Near(f.Bench, subject); len(near) > 0 {
		has := make([]bool, len(f.Bags))
		has[subject] = true
		for _, i := range near {
			if i < len(has) {
				has[i] = true
			}
		}
		out = append(out, trait{KeyMadeNear, has, true})
	}
	return out
}

func (f Farm) each(has func(int) bool) []bool {
	out := make([]bool, len(f.Bags))
	for i := range out {
		out[i] = has(i)
	}
	return out
}
