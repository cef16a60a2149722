package climate

import (
	"math"
	"time"
)

// The reference of F0: minutes at 121.1 °C with z = 10 °C, for steam and for
// nothing else. A bag in hot water or lime has no F0.
const (
	referenceC = 121.1
	zC         = 10.0
)

// Lethality is how fast steam at this core temperature kills, in minutes at
// 121.1 °C per minute: 10^((T - 121.1)/10).
func Lethality(coreC float64) float64 { return math.Pow(10, (coreC-referenceC)/zC) }

// lethalMinutes is the integral of Lethality along a straight line of
// temperature. Averaging the rates of the two ends instead overstates it when
// readings lie far apart.
func (s span) lethalMinutes() float64 {
	minutes, rise := s.length().Minutes(), s.b.C-s.a.C
	if math.Abs(rise) < 1e-9 {
		return minutes * Lethality(s.a.C)
	}
	return minutes * zC * (Lethality(s.b.C) - Lethality(s.a.C)) / (math.Ln10 * rise)
}

// A Soaked says what a run did at one place of the load.
type Soaked struct {
	// F0 is in minutes at 121.1 °C. Where there are gaps it is what is certain;
	// F0Bridged adds what a straight line across each gap would, a guess.
	F0, F0Bridged float64
	// From and To are the first and the last reading.
	From, To time.Time
	Readings int
	// HoldC is the temperature that the run was asked to hold. Reached is when it
	// was first reached, nil if it never was. ComeUp is the time from the first
	// reading until then; Held is all the time at HoldC or above, Unbroken the
	// longest stretch of it, Cooling the time after it was last left.
	HoldC                           float64
	Reached                         *time.Time
	ComeUp, Held, Unbroken, Cooling time.Duration
	// Highest and Lowest are the extremes read, Last the last reading; LowestHeld is
	// the lowest between first and last at HoldC, so that a sag inside the hold shows.
	Highest, Lowest, Last, LowestHeld float64
	// Gaps are the times of which nothing is known; nothing above counts them,
	// except ComeUp and Cooling if they lie inside.
	Gaps []Gap
}

// Whole says that no time between the first and the last reading is unknown.
func (s Soaked) Whole() bool { return len(s.Gaps) == 0 }

// Soak is what readings of one place say, in any order. Readings further apart
// than longest are a gap, see [LongestStep]. Reading the core of the coldest bag
// gives the load's lethality; the chamber's gives a number that flatters it. An
// error means a reading that is no temperature; no readings give the zero value.
func Soak(points []Point, holdC float64, longest time.Duration) (Soaked, error) {
	sorted, err := inOrder(points)
	if err != nil || len(sorted) == 0 {
		return Soaked{HoldC: holdC}, err
	}
	lines, gaps := spans(sorted, longest)
	s := Soaked{
		From: sorted[0].At, To: sorted[len(sorted)-1].At, Readings: len(sorted), HoldC: holdC, Gaps: gaps,
		Highest: math.Inf(-1), Lowest: math.Inf(1), Last: sorted[len(sorted)-1].C,
	}
	for _, p := range sorted {
		s.Highest, s.Lowest = max(s.Highest, p.C), min(s.Lowest, p.C)
	}
	for _, l := range lines {
		s.F0 += l.lethalMinutes()
	}
	s.F0Bridged = s.F0
	for i := 1; i < len(sorted); i++ {
		if l := (span{sorted[i-1], sorted[i]}); l.length() > longest {
			s.F0Bridged += l.lethalMinutes()
		}
	}
	s.hold(sorted, lines)
	return s, nil
}

// hold fills in when the hold temperature was reached, kept and left.
func (s *Soaked) hold(sorted []Point, lines []span) {
	var left, since, until time.Time
	reach := func(at time.Time) {
		if s.Reached == nil {
			s.Reached, s.ComeUp = &at, at.Sub(s.From)
		}
	}
	for _, l := range lines {
		d := l.above(s.HoldC)
		if d == 0 && l.b.C < s.HoldC {
			continue
		}
		from, to := l.a.At, l.b.At
		if l.a.C < s.HoldC {
			from = to.Add(-d)
		} else {
			to = from.Add(d)
		}
		reach(from)
		if !from.Equal(until) {
			since = from
		}
		until, left = to, to
		s.Held += d
		s.Unbroken = max(s.Unbroken, until.Sub(since))
	}
	for _, p := range sorted { // a lone reading beside a gap has no line of its own
		if p.C >= s.HoldC {
			if s.Reached != nil && p.At.Before(*s.Reached) {
				s.Reached = nil
			}
			reach(p.At)
			if p.At.After(left) {
				left = p.At
			}
		}
	}
	if s.Reached == nil {
		return
	}
	s.Cooling, s.LowestHeld = s.To.Sub(left), s.Highest
	for _, p := range sorted {
		if !p.At.Before(*s.Reached) && !p.At.After(left) {
			s.LowestHeld = min(s.LowestHeld, p.C)
		}
	}
}
