package store

import (
	"context"
	"fmt"
	"slices"

	"bagmark/grow"
	"bagmark/grow/trace"
)

// CompareQuery asks how long bags with different values of one condition, or of
// one field of batches, took to an event.
type CompareQuery struct {
	By       string
	Event    trace.Event
	Species  grow.Slug
	Batch    grow.BatchCode
	From, To *grow.Date // of inoculation, inclusive
}

// Events are what times are compared to.
var Events = []trace.Event{trace.EventColonised, trace.EventContaminated, trace.EventStarted}

// Compare compares the times to an event.
func (s *Store) Compare(ctx context.Context, q CompareQuery) (trace.Times, error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return trace.Times{}, err
	}
	picks := ContaminationQuery{By: q.By, Species: q.Species, Batch: q.Batch, From: q.From, To: q.To}
	var p grow.Problems
	picks.check(&p, farm)
	if !slices.Contains(Events, q.Event) {
		p.Add("event", "must be one of %v", Events)
	}
	if err := p.Err("this cannot be compared"); err != nil {
		return trace.Times{}, err
	}
	r, bags, err := s.recordsFor(ctx, farm, picks)
	if err != nil {
		return trace.Times{}, err
	}
	return remember(r, fmt.Sprintf("compare %s %s", q.Event, picks.key()), func() trace.Times {
		column := r.column(farm, q.By, bags)
		return trace.CompareTimes(column, q.Event, timed(bags, column, q.Event))
	}), nil
}

func timed(bags []bagRecord, column trace.Column, event trace.Event) []trace.Timed {
	out := make([]trace.Timed, len(bags))
	for i, g := range bags {
		out[i] = trace.Timed{Value: column.Values[i].Value, Batch: g.bag.Batch, Species: string(g.species)}
		out[i].Span, out[i].Fate = g.life.of(event)
	}
	return out
}
