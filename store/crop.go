package store

import (
	"cmp"
	"slices"
	"time"

	"bagmark/grow"
	"bagmark/grow/mix"
	"bagmark/grow/yield"
)

// restsTimes is after how many times the longest usual gap between flushes a bag
// in fruiting counts as done although nobody has said so (common practice).
const restsTimes = 2

// cropOf draws from a bag's status what it gave.
func (f *Farm) cropOf(b Batch, s grow.Status, now time.Time) yield.Bag {
	y := yield.Bag{Batch: string(b.Code), Species: string(b.Species), Grams: s.Grams, ToFirst: -1, Fruited: -1}
	if b.BagWetG != nil && b.MoisturePct != nil {
		y.DryG = mix.Dry(*b.BagWetG, *b.MoisturePct)
	}
	for _, p := range s.Picks {
		for len(y.Flushes) < p.Flush {
			y.Flushes = append(y.Flushes, 0)
		}
		y.Flushes[p.Flush-1] += p.Grams
	}
	if i := slices.IndexFunc(s.Picks, func(p grow.Pick) bool { return p.Grams > 0 }); i >= 0 { // 0 g is a look at the scale
		first := s.Picks[i].At
		y.ToFirst = grow.Day(b.InoculatedAt, first, f.Zone)
		if s.FruitingAt != nil && s.FruitingAt.Before(first) {
			y.Fruited = grow.Day(*s.FruitingAt, first, f.Zone)
		}
	}
	switch {
	case s.State == grow.Culled:
		y.Fate, y.Culled = yield.Done, cmp.Or(s.EndedWhy, "other")
	case s.State == grow.Finished && s.EndedWhy != "spent":
		y.Fate = yield.Elsewhere
	case s.State == grow.Finished, f.rested(b, s, now):
		y.Fate, y.Spent = yield.Done, true
	}
	return y
}

// rested tells whether a bag in fruiting has given nothing for so long that
// nothing more is waited for.
func (f *Farm) rested(b Batch, s grow.Status, now time.Time) bool {
	if s.State != grow.Fruiting || s.FruitingAt == nil || len(s.Picks) == 0 {
		return false
	}
	species, _ := f.SpeciesOf(b.Species, b.Strain)
	return float64(grow.Day(s.Picks[len(s.Picks)-1].At, now, f.Zone)) > restsTimes*species.Fruiting.Between.High
}
