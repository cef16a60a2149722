package climate

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"
)

// A Point is one temperature at one instant.
type Point struct {
	At time.Time
	C  float64
}

// A Gap is a time of which nothing is known: the two readings beside it lie
// further apart than readings may.
type Gap struct{ From, To time.Time }

// Length is how long nothing is known.
func (g Gap) Length() time.Duration { return g.To.Sub(g.From) }

// A span is the straight line between two readings.
type span struct{ a, b Point }

func (s span) length() time.Duration { return s.b.At.Sub(s.a.At) }

// at is the instant at which the line passes c, which must lie between its ends.
func (s span) at(c float64) time.Time {
	share := (c - s.a.C) / (s.b.C - s.a.C)
	return s.a.At.Add(time.Duration(share * float64(s.length())))
}

// above is how long the line lies at c or above it.
func (s span) above(c float64) time.Duration {
	switch {
	case s.a.C >= c && s.b.C >= c:
		return s.length()
	case s.a.C < c && s.b.C < c:
		return 0
	case s.a.C < c:
		return s.b.At.Sub(s.at(c))
	default:
		return s.at(c).Sub(s.a.At)
	}
}

// inOrder is the readings by time, each instant once: of two readings of the same
// instant the colder one stays, which never flatters a run. What no thermometer
// of a farm shows is an error.
func inOrder(points []Point) ([]Point, error) {
	sorted := slices.Clone(points)
	for _, p := range sorted {
		if math.IsNaN(p.C) || p.C < -60 || p.C > 300 {
			return nil, fmt.Errorf("climate: %v °C at %s is no temperature of a farm", p.C, p.At.Format(time.RFC3339))
		}
	}
	slices.SortFunc(sorted, func(a, b Point) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.C, b.C))
	})
	return slices.CompactFunc(sorted, func(a, b Point) bool { return a.At.Equal(b.At) }), nil
}

// spans are the lines between neighbouring readings that lie no further apart
// than longest; the others are gaps.
func spans(sorted []Point, longest time.Duration) (lines []span, gaps []Gap) {
	for i := 1; i < len(sorted); i++ {
		s := span{sorted[i-1], sorted[i]}
		if s.length() > longest {
			gaps = append(gaps, Gap{s.a.At, s.b.At})
			continue
		}
		lines = append(lines, s)
	}
	return lines, gaps
}

// LongestStep is how far apart the readings of one log may lie before the time
// between them counts as unknown: three times the log's own usual step, and never
// under five minutes (common practice). A log written by hand each quarter of an
// hour is whole; the same silence in a logger's file is not.
func LongestStep(points []Point) time.Duration {
	const least = 5 * time.Minute
	sorted, err := inOrder(points)
	if err != nil || len(sorted) < 2 {
		return least
	}
	steps := make([]time.Duration, 0, len(sorted)-1)
	for i := 1; i < len(sorted); i++ {
		steps = append(steps, sorted[i].At.Sub(sorted[i-1].At))
	}
	slices.Sort(steps)
	return max(least, 3*steps[len(steps)/2])
}

// Silences are the gaps of a log by its own usual step, the longest first.
func Silences(points []Point) []Gap {
	sorted, err := inOrder(points)
	if err != nil {
		return nil
	}
	_, gaps := spans(sorted, LongestStep(points))
	slices.SortStableFunc(gaps, func(a, b Gap) int { return cmp.Compare(b.Length(), a.Length()) })
	return gaps
}
