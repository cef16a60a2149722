package store

import (
	"context"
	"slices"
	"time"

	"bagmark/grow"
	"bagmark/grow/trace"
)

// mostJudged is how many of the latest weeks are judged by those before them, a
// quarter of a year; fewer where that leaves too little to judge by. Common
// practice.
const mostJudged = 12

// Weeks are the bags inoculated in each week that has reached its species' day,
// and how many of them were contaminated by then.
type Weeks struct {
	Weeks []trace.Week
	Chart trace.Chart
	Told  bool // there are weeks enough for the chart to judge by
}

// Weeks counts contamination by the week of inoculation; the query's By does
// not matter.
func (s *Store) Weeks(ctx context.Context, q ContaminationQuery) (out Weeks, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, err
	}
	q.By = batchFieldKeys[0]
	if err := q.validate(farm); err != nil {
		return out, err
	}
	r, bags, err := s.recordsFor(ctx, farm, q)
	if err != nil {
		return out, err
	}
	days := make([]time.Time, len(bags))
	for i, g := range bags {
		days[i] = g.inoculated.Time()
	}
	out.Weeks = trace.ByWeek(r.traceBags(bags), days, farm.Writing)
	for judged := min(mostJudged, len(out.Weeks)-1); judged > 0 && !out.Told; judged-- {
		out.Chart, out.Told = trace.ControlChart(out.Weeks, judged)
	}
	return out, nil
}

// Comparable are the keys that bags can be compared by: the farm's conditions,
// the jar their spawn came from and the fields of batches.
func (f *Farm) Comparable() []string {
	return slices.Concat(f.Conditions.Keys(), []string{grow.SpawnJarKey}, batchFieldKeys)
}
