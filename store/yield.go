package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"bagmark/grow"
	"bagmark/grow/trace"
	"bagmark/grow/yield"
)

// YieldQuery asks what bags gave, and if By is set how that goes with one
// condition, one field of batches, the species or the place they fruited at.
type YieldQuery struct {
	By       string
	Measure  yield.Measure // grams a bag unless given
	Species  grow.Slug
	Batch    grow.BatchCode
	From, To *grow.Date // of inoculation, inclusive
}

// Yield is the answer. Everything is per bag made.
type Yield struct {
	By          *string       `json:"by"`
	Measure     yield.Measure `json:"measure"`
	Denominator string        `json:"denominator"` // of biological efficiency
	SoFar       SoFar         `json:"so_far"`
	All         yield.Group   `json:"all"`
	NotCounted  NotWeighed    `json:"not_counted"`
	Groups      []YieldGroup  `json:"groups"`
	Rows        []yield.Row   `json:"rows"`
}

// Denominator is what biological efficiency divides by; papers differ.
const Denominator = "dry substrate at filling, without the spawn"

// SoFar is what was picked from all bags, also those that give more.
type SoFar struct {
	Bags  int     `json:"bags"`
	Grams float64 `json:"grams"`
}

// NotWeighed are bags that do not count, by why.
type NotWeighed struct {
	Giving     int `json:"giving"`
	Elsewhere  int `json:"elsewhere"`
	NotWeighed int `json:"not_weighed"`
	NoDry      int `json:"no_dry_mass"`
	Unknown    int `json:"value_unknown"`
}

// YieldGroup are the counted bags with one value.
type YieldGroup struct {
	Value string `json:"value"`
	yield.Group
}

// Keys of a yield that are neither conditions nor fields compared.
const (
	BySpecies = "species"
	ByPlace   = "place"
)

// YieldKeys are all that yields can be set against.
func (f *Farm) YieldKeys() []string { return append([]string{BySpecies, ByPlace}, f.Comparable()...) }

// Yield tells what bags gave.
func (s *Store) Yield(ctx context.Context, q YieldQuery) (out Yield, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, err
	}
	if q.Measure == "" {
		q.Measure = yield.Grams
	}
	picks := ContaminationQuery{By: q.By, Species: q.Species, Batch: q.Batch, From: q.From, To: q.To}
	if err := q.check(farm, picks); err != nil {
		return out, err
	}
	r, picked, err := s.recordsFor(ctx, farm, picks)
	if err != nil {
		return out, err
	}
	return remember(r, fmt.Sprintf("yield %s %s", q.Measure, picks.key()), func() Yield { return r.yieldOf(farm, q, picked) }), nil
}

func (q YieldQuery) check(f *Farm, picks ContaminationQuery) error {
	var p grow.Problems
	known := picks
	if q.By == "" || q.By == BySpecies || q.By == ByPlace {
		known.By = batchFieldKeys[0] // one that is always known
	}
	known.check(&p, f)
	if q.Measure != yield.Grams && q.Measure != yield.Ounces && q.Measure != yield.Efficiency {
		p.Add("measure", "must be %s or %s", yield.Grams, yield.Efficiency)
	}
	return p.Err("this cannot be told like this")
}

func (r *records) yieldOf(f *Farm, q YieldQuery, picked []bagRecord) Yield {
	bags := make([]yield.Bag, len(picked))
	out := Yield{Measure: q.Measure, Denominator: Denominator, Groups: []YieldGroup{}, Rows: []yield.Row{}}
	for i, g := range picked {
		bags[i] = g.crop
		out.SoFar.Grams += g.crop.Grams
	}
	out.SoFar.Bags = len(bags)
	counted := yield.Count(bags, q.Measure)
	out.NotCounted = NotWeighed{Giving: counted.Giving, Elsewhere: counted.Elsewhere, NotWeighed: counted.NotWeighed, NoDry: counted.NoDry}
	out.All = yield.Sum(bags, counted.Bags, q.Measure)
	if q.By == "" {
		return out
	}
	out.By = &q.By
	column := r.yieldColumn(f, q.By, picked)
	by := map[string][]int{}
	for _, i := range counted.Bags {
		by[column.Values[i].Value] = append(by[column.Values[i].Value], i)
	}
	for value, list := range by {
		if value == "" {
			out.NotCounted.Unknown = len(list)
			continue
		}
		out.Groups = append(out.Groups, YieldGroup{value, yield.Sum(bags, list, q.Measure)})
	}
	slices.SortFunc(out.Groups, func(a, b YieldGroup) int { return cmp.Or(cmp.Compare(*b.Mean, *a.Mean), cmp.Compare(a.Value, b.Value)) })
	if q.By != BySpecies {
		out.Rows = yield.Compare(bags, counted.Bags, q.Measure, column, r.columnsBeside(f, q.By, picked))
	}
	return out
}

// yieldColumn is a column of the records, or of what only yields are set against.
func (r *records) yieldColumn(f *Farm, key string, picked []bagRecord) trace.Column {
	if key != BySpecies && key != ByPlace {
		return r.column(f, key, picked)
	}
	c := trace.Column{Key: key, Level: trace.BatchLevel, Values: make([]trace.Exposure, len(picked))}
	if key == ByPlace {
		c.Level = trace.BagLevel
	}
	for i, g := range picked {
		switch {
		case key == BySpecies:
			c.Values[i].Value = string(g.species)
		default:
			c.Values[i].Value = g.fruitedIn
		}
	}
	return c
}
