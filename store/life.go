package store

import (
	"math"
	"time"

	"bagmark/grow"
	"bagmark/grow/trace"
)

// What a bag's log says of the days of an event
//
// An event lies after the last look that denied it, by the look that saw it. For
// growth only an estimate under 99 % or a "not fully" denies; a plain look says
// nothing of growth. For contamination every look at a clean bag denies. A bag
// that was thrown out, finished or found contaminated first is gone: all that is
// known is that the event had not been seen by then.

// moment is when something was seen, and on which day of the bag's life. The
// zero value is never.
type moment struct {
	at  int64 // microseconds
	day int
}

func (m moment) known() bool { return m.at != 0 }

// by tells whether it happened no later than another moment; never comes last.
func (m moment) by(o moment) bool { return m.known() && (!o.known() || m.at <= o.at) }

func first(a, b moment) moment {
	if a.by(b) {
		return a
	}
	return b
}

// life are the moments of a bag that comparisons of times rest on.
type life struct {
	notStarted, started, notYet, grownOver, clean, bad, gone moment
}

func (f *Farm) lifeOf(b Batch, s grow.Status) (l life) {
	when := func(at *time.Time) moment {
		if at == nil {
			return moment{}
		}
		return moment{at.UnixMicro(), grow.Day(b.InoculatedAt, *at, f.Zone)}
	}
	l = life{started: when(s.StartedAt), notYet: when(s.NotYetAt), grownOver: when(s.GrownOverAt), clean: when(s.LastCleanAt), gone: when(s.EndedAt)}
	if s.Contaminated != nil {
		l.bad = when(&s.Contaminated.At)
	}
	if s.EndedWhy == trace.GoneContaminated {
		l.bad = first(l.bad, l.gone)
	}
	// Growth on the wall tells of a start that nobody logged.
	l.started = first(l.started, l.grownOver)
	if s.ReadPct != nil && *s.ReadPct > 0 {
		l.started = first(l.started, when(s.ReadAt))
	} else if s.ReadPct != nil {
		l.notStarted = when(s.ReadAt)
	}
	return l
}

// of is how the watch for an event stands.
func (l life) of(event trace.Event) (trace.Span, trace.Fate) {
	denied, seen, end := l.notYet, l.grownOver, first(l.bad, l.gone)
	switch event {
	case trace.EventStarted:
		denied, seen = l.notStarted, l.started
	case trace.EventContaminated:
		denied, seen, end = l.clean, l.bad, l.gone
	}
	last := end
	if seen.by(end) {
		last = seen
	}
	span := trace.Span{Left: float64(denied.day), Right: math.Inf(1)}
	if last.known() && !denied.by(last) {
		span.Left = float64(min(denied.day, last.day))
	}
	switch {
	case seen.by(end):
		span.Right = float64(seen.day)
		return span, trace.Happened
	case end.known():
		return span, trace.GoneOut
	}
	return span, trace.Running
}
