package store

import (
	"bagmark/grow"
	"bagmark/grow/yield"
)

// steps are how many days a bag took for each step of its way after it was
// grown over; -1 where that is not known.
type steps struct {
	ripen int16   // grown over to the move to fruiting
	first int16   // the move to the first picking
	next  []int16 // from one flush to the next
	waits step    // the step that it is in
}

// step is one that a bag may be in.
type step uint8

const (
	waitsForNone step = iota // not grown over, or out, or rested
	waitsForMove
	waitsForFirst
	waitsForNext
)

// stepsOf draws the steps from a bag's status. A flush is dated by its first
// picking. A bag that was seen grown over only as it was moved, or put to
// fruiting by its picking, tells nothing of that step.
func (f *Farm) stepsOf(b Batch, s grow.Status, fate yield.Fate) steps {
	out := steps{ripen: -1, first: -1, waits: waitsFor(s, fate)}
	if s.FruitingAt == nil {
		return out
	}
	moved := grow.Day(b.InoculatedAt, *s.FruitingAt, f.Zone)
	if s.GrownOverAt != nil && s.GrownOverAt.Before(*s.FruitingAt) {
		out.ripen = int16(moved - grow.Day(b.InoculatedAt, *s.GrownOverAt, f.Zone))
	}
	last, flush := moved, 0
	for _, p := range s.Picks {
		if p.Flush <= flush {
			continue
		}
		day := grow.Day(b.InoculatedAt, p.At, f.Zone)
		switch {
		case flush == 0 && p.Flush == 1 && s.FruitingAt.Before(p.At):
			out.first = int16(day - last)
		case flush > 0 && p.Flush == flush+1:
			out.next = append(out.next, int16(day-last))
		}
		last, flush = day, p.Flush
	}
	return out
}

func waitsFor(s grow.Status, fate yield.Fate) step {
	switch {
	case s.State.Out() || fate != yield.Giving:
		return waitsForNone
	case s.State == grow.Fruiting && len(s.Picks) > 0:
		return waitsForNext
	case s.State == grow.Fruiting:
		return waitsForFirst
	case s.GrownOverAt != nil && s.Contaminated == nil:
		return waitsForMove
	}
	return waitsForNone
}
