package trace

import (
	"cmp"
	"slices"
	"time"
)

// Keys with a meaning of their own in a list of shared things.
const (
	KeySpawnLot      = "spawn_lot"
	KeySpawnJar      = "spawn_jar"
	KeySteriliserRun = "steriliser_run"
	KeySubstrateLot  = "substrate_lot"
	KeyPlace         = "place"
	KeyMadeNear      = "made_near"
)

// origins are the keys of what bags were made from: named where they are shared, suspicious only if the records say so.
var origins = []string{KeySpawnLot, KeySpawnJar, KeySteriliserRun, KeySubstrateLot}

// A Farm is what Kin looks at: all bags with their conditions (spawn lot and steriliser run among them), where they
// stand now, and when they were scanned live at the bench. Places, Bench and Estimator may be nil.
type Farm struct {
	Bags      []Bag
	Columns   []Column
	Places    []string
	Bench     []time.Time
	Estimator *Estimator // of the same bags, if it is kept
}

// A Kin is what one bag shares with others: a departure from what is normal, a lot or a run, its place, or having been
// made near it.
type Kin struct {
	farm    Farm
	subject int
	traits  []trait
	near    map[int]int // bags made near it, with their places from it at the bench
	fates   []knownFate // of those traits that list bags
}

// Kin finds what the subject shares. Suspects are the lots and runs under suspicion.
func (f Farm) Kin(subject int, suspects map[Suspect]bool) Kin {
	k := Kin{farm: f, subject: subject, near: steps(f.Bench, subject)}
	k.traits = f.shared(subject, k.near, suspects)
	if k.farm.Estimator == nil {
		k.farm.Estimator = NewEstimator(f.Bags)
	}
	k.fates = make([]knownFate, len(k.traits))
	for i, t := range k.traits {
		if t.lists {
			k.fates[i] = k.farm.Estimator.fates(t)
		}
	}
	return k
}

// A Risk is one living bag that shares something with a bad one.
type Risk struct {
	Bag    int      // index into the farm's bags
	Shares []string // keys of what they share
	Steps  int      // its places from the subject at the bench, negative before it, where it was made near it
	Risk   Interval // the chance that it turns
}

// AtRisk lists the living bags that share with the subject a departure, a lot or run under suspicion, or having been
// made near it, most at risk first. Spawn lot, jar, steriliser run and place are named where they are shared, but put no bag
// on the list by themselves.
//
// Of what is shared, the thing that makes the risk highest counts. The risk starts from the farm's own law
// (BetaPrior), takes in the bags of the same batch that shared it, or of all batches if there are none, and what is
// already known from the bag's being clean today.
func (k Kin) AtRisk() []Risk {
	f := k.farm
	var out []Risk
	for i, b := range f.Bags {
		if i == k.subject || !b.Alive() {
			continue
		}
		r, listed := Risk{Bag: i, Steps: k.near[i]}, false
		for n, t := range k.traits {
			if !t.has[i] {
				continue
			}
			r.Shares = append(r.Shares, t.key)
			if !t.lists {
				continue
			}
			if x := f.Estimator.risk(i, k.fates[n]); !listed || x.Estimate > r.Risk.Estimate {
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

// A SharedTurn is how many more of the bags with one shared thing may turn.
type SharedTurn struct {
	Key     string `json:"key"`
	InBatch bool   `json:"in_batch"` // only bags of the subject's batch share it
	Bad     int    `json:"bad"`      // of those that share it, found contaminated so far
	Turn
	Words string `json:"words"`
}

// Turns says for each thing that puts bags on the list of AtRisk how many of those alive may turn; things that no
// living bag shares are left out. Bags of the subject's species are meant, those of its own batch where no other batch
// has the thing: their law is then that of the batch, else that of all batches. It leans to caution: a bag that has
// long been clean counts as any other.
func (k Kin) Turns() []SharedTurn {
	var out []SharedTurn
	for i, t := range k.traits {
		if !t.lists {
			continue
		}
		if s := k.turn(t, k.fates[i]); s.Alive > 0 {
			out = append(out, s)
		}
	}
	return out
}

func (k Kin) turn(t trait, known knownFate) SharedTurn {
	subject := k.farm.Bags[k.subject]
	s := SharedTurn{Key: t.key, InBatch: true}
	alive := 0
	for i, b := range k.farm.Bags {
		if !t.has[i] || b.Species != subject.Species {
			continue
		}
		s.InBatch = s.InBatch && b.Batch == subject.Batch
		if b.Alive() {
			alive++
		} else if b.badOn().known {
			s.Bad++
		}
	}
	law := known.all[subject.Species]
	if s.InBatch {
		law = known.of(subject)
	}
	s.Turn = k.farm.Estimator.priors[subject.Species].Update(law).Turn(alive)
	s.Words = s.Turn.words(s.Bad)
	return s
}

// A trait is one thing the subject has, and which bags have it too.
type trait struct {
	key   string
	has   []bool
	lists bool // puts a bag on the list by itself
}

// shared are the subject's traits.
func (f Farm) shared(subject int, near map[int]int, suspects map[Suspect]bool) []trait {
	if subject < 0 || subject >= len(f.Bags) {
		return nil
	}
	var out []trait
	for _, c := range f.Columns {
		v := c.value(subject).Value
		origin := slices.Contains(origins, c.Key)
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
	if len(near) > 0 {
		has := make([]bool, len(f.Bags))
		has[subject] = true
		for i := range near {
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
