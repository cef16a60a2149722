package trace

import "sort"

// An Estimator holds what the risk of every bag is made from, worked out once for all bags of a farm.
type Estimator struct {
	bags   []Bag
	priors map[string]Beta    // by species
	found  map[string]FoundBy // by species
}

// knownFate is what is known of the bags with one trait: in each batch, and over batches worth as many bags as their
// likeness leaves.
type knownFate struct {
	batch map[string]Counts
	all   map[string]Counts // by species
}

// NewEstimator works out each species' law of contamination and by which day it is found.
func NewEstimator(bags []Bag) *Estimator {
	e := &Estimator{bags: bags, priors: map[string]Beta{}, found: map[string]FoundBy{}}
	batches := make(map[string]map[string]Counts) // species, batch
	days := make(map[string][]int)
	horizon := make(map[string]int)
	for _, b := range bags {
		if batches[b.Species] == nil {
			batches[b.Species] = make(map[string]Counts)
		}
		horizon[b.Species] = max(horizon[b.Species], b.Horizon)
		if d, ok := b.badOn().Day(); ok {
			days[b.Species] = append(days[b.Species], d)
		}
		if b.Age < b.Horizon {
			continue
		}
		switch b.OutcomeBy(b.Horizon) {
		case Bad:
			batches[b.Species][b.Batch] = batches[b.Species][b.Batch].plus(Counts{1, 1})
		case Clean:
			batches[b.Species][b.Batch] = batches[b.Species][b.Batch].plus(Counts{0, 1})
		}
	}
	for s, by := range batches {
		e.priors[s] = BetaPrior(sorted(by))
		e.found[s] = NewFoundBy(days[s], horizon[s])
	}
	return e
}

// sorted lists a map's counts by key, so that sums come out the same every time.
func sorted(by map[string]Counts) []Counts {
	keys := make([]string, 0, len(by))
	for k := range by {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	out := make([]Counts, len(keys))
	for i, k := range keys {
		out[i] = by[k]
	}
	return out
}

// risk is the chance that bag i turns, given what is known of the bags that share with it.
func (e *Estimator) risk(i int, known knownFate) Interval {
	b := e.bags[i]
	law := e.priors[b.Species].Update(known.of(b))
	day, _ := b.LastSeen.Day()
	g := e.found[b.Species].Share(day)
	return Interval{
		Residual(law.Mean(), g),
		Residual(law.Quantile(0.025), g),
		Residual(law.Quantile(0.975), g),
	}
}

// of is what is known beside a bag: of its own batch if anything is, else of all batches of its species.
func (k knownFate) of(b Bag) Counts {
	if c := k.batch[b.Batch]; c.Bags > 0 {
		return c
	}
	return k.all[b.Species]
}

// fates counts the bags with a trait. A bag found contaminated counts as one; a bag that was clean when last seen as
// the share of contaminations that are found by that day, so that a young batch is not judged by its bad bags alone;
// a bag gone for another reason by the day it went. The weighing is our own.
func (e *Estimator) fates(t trait) knownFate {
	out := knownFate{map[string]Counts{}, map[string]Counts{}}
	species := make(map[string]map[string]Counts)
	for i, has := range t.has {
		if !has {
			continue
		}
		b := e.bags[i]
		c := Counts{}
		if b.badOn().known {
			c = Counts{1, 1}
		} else if day, ok := b.LastSeen.Day(); ok {
			c.Bags = e.found[b.Species].weight(day)
		}
		out.batch[b.Batch] = out.batch[b.Batch].plus(c)
		if species[b.Species] == nil {
			species[b.Species] = make(map[string]Counts)
		}
		species[b.Species][b.Batch] = species[b.Species][b.Batch].plus(c)
	}
	for s, by := range species {
		prior := e.priors[s]
		out.all[s] = Effective(sorted(by), 1/(1+prior.A+prior.B))
	}
	return out
}

// FoundBy is the share of all contaminations that are found by each day of a bag's life.
type FoundBy struct {
	days    []int
	horizon int
}

// NewFoundBy takes the days on which contaminated bags of a species were found. One more bag, spread evenly over twice
// the days to the horizon, stands for what has not been seen yet: no age makes a bag certain to stay clean soon.
func NewFoundBy(days []int, horizon int) FoundBy {
	d := append([]int(nil), days...)
	sort.Ints(d)
	return FoundBy{d, max(1, horizon)}
}

// Share found on or before the day.
func (f FoundBy) Share(day int) float64 {
	if day < 0 || f.horizon == 0 {
		return 0
	}
	n := float64(sort.SearchInts(f.days, day+1))
	return (n + min(1, float64(day)/float64(2*f.horizon))) / float64(len(f.days)+1)
}

// weight is what a bag clean on that day counts for among bags judged on the horizon: 1 from there on.
func (f FoundBy) weight(day int) float64 {
	if day >= f.horizon {
		return 1
	}
	return min(1, f.Share(day)/f.Share(f.horizon))
}
