package store

import (
	"context"
	"fmt"
	"slices"
	"time"

	"bagmark/grow"
	"bagmark/grow/trace"
)

// ContaminationQuery asks how one condition, or one field of batches, goes
// with contamination, over the bags that the other fields pick.
type ContaminationQuery struct {
	By       string
	Species  grow.Slug
	Batch    grow.BatchCode
	From, To *grow.Date // of inoculation, inclusive
}

// Contamination is the answer: how many of each value, and a row for each that
// is not the normal one.
type Contamination struct {
	By     string             `json:"by"`
	Groups []trace.ValueGroup `json:"groups"`
	Rows   []trace.Row        `json:"rows"`
	// FoundLater are bags found contaminated after the day on which their species
	// is judged: they count as clean of it, and are said.
	FoundLater int `json:"found_later"`
}

// Contamination compares the values of one condition.
func (s *Store) Contamination(ctx context.Context, q ContaminationQuery) (out Contamination, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, err
	}
	if err := q.validate(farm); err != nil {
		return out, err
	}
	r, picked, err := s.recordsFor(ctx, farm, q)
	if err != nil {
		return out, err
	}
	return remember(r, fmt.Sprintf("contamination %g %s", farm.Margin, q.key()), func() Contamination {
		bags, column := r.traceBags(picked), r.column(farm, q.By, picked)
		rows := trace.CompareBeside(bags, []trace.Column{column}, r.columnsBeside(farm, q.By, picked), farm.Margin)
		return Contamination{By: q.By, Groups: trace.Groups(bags, column), Rows: rows, FoundLater: foundLater(bags)}
	}), nil
}

func foundLater(bags []trace.Bag) (n int) {
	for _, g := range bags {
		if day, bad := g.Contaminated.Day(); bad && day > g.Horizon {
			n++
		}
	}
	return n
}

// recordsFor are the farm's records and those of the bags that a question picks.
func (s *Store) recordsFor(ctx context.Context, f *Farm, q ContaminationQuery) (*records, []bagRecord, error) {
	if q.Batch != "" {
		if err := s.reading(ctx, func(t *tx) error { _, err := t.batchByCode(f, q.Batch); return err }); err != nil {
			return nil, nil, err
		}
	}
	r, err := s.recordsNow(ctx, f)
	if err != nil {
		return nil, nil, err
	}
	return r, r.picked(q), nil
}

// columnsBeside are all conditions and fields of batches but the one asked
// about.
func (r *records) columnsBeside(f *Farm, key string, bags []bagRecord) []trace.Column {
	var out []trace.Column
	for _, other := range append(f.Conditions.Keys(), batchFieldKeys...) {
		if other != key {
			out = append(out, r.column(f, other, bags))
		}
	}
	return out
}

func (q ContaminationQuery) validate(f *Farm) error {
	var p grow.Problems
	q.check(&p, f)
	return p.Err("this cannot be compared")
}

func (q ContaminationQuery) check(p *grow.Problems, f *Farm) {
	if _, ok := f.Conditions[q.By]; !ok && q.By != grow.SpawnJarKey && !slices.Contains(batchFieldKeys, q.By) {
		p.Add("by", "%q is not a condition of this farm, nor one of %v", q.By, batchFieldKeys)
	}
	if q.Species != "" && !f.Knows(q.Species) {
		p.Add("species", "%q is not a species this farm knows", q.Species)
	}
	if q.From != nil && q.To != nil && *q.To < *q.From {
		p.Add("to", "is before from")
	}
}

func (r *records) picked(q ContaminationQuery) []bagRecord {
	if q.Species == "" && q.Batch == "" && q.From == nil && q.To == nil {
		return r.bags
	}
	var out []bagRecord
	for _, g := range r.bags {
		if (q.Species == "" || g.species == q.Species) && (q.Batch == "" || g.bag.Batch == string(q.Batch)) &&
			(q.From == nil || g.inoculated >= *q.From) && (q.To == nil || g.inoculated <= *q.To) {
			out = append(out, g)
		}
	}
	return out
}

func (r *records) benches() []time.Time {
	out := make([]time.Time, len(r.bags))
	for i, g := range r.bags {
		out[i] = g.bench
	}
	return out
}
