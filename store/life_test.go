package store

import (
	"math"
	"testing"

	"bagmark/grow/trace"
)

// TestLifeOf: an event lies after the last look that denied it, by the look that
// saw it (interval censoring, as in Finkelstein and Wolfe 1985, Biometrics
// 41:933-945).
func TestLifeOf(t *testing.T) {
	t.Parallel()
	on := func(day int) moment { return moment{at: int64(day+1) * 86400e6, day: day} }
	inf := math.Inf(1)
	for _, c := range []struct {
		name  string
		life  life
		event trace.Event
		span  trace.Span
		fate  trace.Fate
	}{
		{"never looked at", life{}, trace.EventColonised, trace.Span{Left: 0, Right: inf}, trace.Running},
		{"a clean look says nothing of growth", life{clean: on(9)}, trace.EventColonised, trace.Span{Left: 0, Right: inf}, trace.Running},
		{"not yet", life{notYet: on(9), clean: on(12)}, trace.EventColonised, trace.Span{Left: 9, Right: inf}, trace.Running},
		{"grown over", life{notYet: on(9), grownOver: on(12)}, trace.EventColonised, trace.Span{Left: 9, Right: 12}, trace.Happened},
		{"grown over at the first look", life{grownOver: on(12)}, trace.EventColonised, trace.Span{Left: 0, Right: 12}, trace.Happened},
		{"denied and seen on one day", life{notYet: on(12), grownOver: on(12)}, trace.EventColonised, trace.Span{Left: 12, Right: 12}, trace.Happened},
		{"culled before", life{notYet: on(9), gone: on(11)}, trace.EventColonised, trace.Span{Left: 9, Right: inf}, trace.GoneOut},
		{"grown over, then culled", life{grownOver: on(9), gone: on(11)}, trace.EventColonised, trace.Span{Left: 0, Right: 9}, trace.Happened},
		{"contaminated before, denied after", life{notYet: on(14), bad: on(11)}, trace.EventColonised, trace.Span{Left: 11, Right: inf}, trace.GoneOut},
		{"contaminated before, grown over after", life{bad: on(11), grownOver: on(14)}, trace.EventColonised, trace.Span{Left: 0, Right: inf}, trace.GoneOut},
		{"found contaminated", life{clean: on(9), bad: on(11)}, trace.EventContaminated, trace.Span{Left: 9, Right: 11}, trace.Happened},
		{"still clean", life{clean: on(9)}, trace.EventContaminated, trace.Span{Left: 9, Right: inf}, trace.Running},
		{"sold clean", life{clean: on(9), gone: on(9)}, trace.EventContaminated, trace.Span{Left: 9, Right: inf}, trace.GoneOut},
		{"out as contaminated", life{clean: on(6), bad: on(11), gone: on(11)}, trace.EventContaminated, trace.Span{Left: 6, Right: 11}, trace.Happened},
		{"started", life{notStarted: on(2), started: on(4)}, trace.EventStarted, trace.Span{Left: 2, Right: 4}, trace.Happened},
		{"not started, then contaminated", life{notStarted: on(2), bad: on(4)}, trace.EventStarted, trace.Span{Left: 2, Right: inf}, trace.GoneOut},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if span, fate := c.life.of(c.event); span != c.span || fate != c.fate {
				t.Errorf("got %v and %d, want %v and %d", span, fate, c.span, c.fate)
			}
		})
	}
}
