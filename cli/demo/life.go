package demo

import (
	"maps"
	"math"
	"slices"

	"bagmark/grow"
)

// A bag's life as it is seen: what somebody logs on a day depends on what the
// bag is like on that day and on what was logged before.

// entry is a draft of the bag.
func (g *bag) entry(kind grow.EntryKind, details grow.Details) grow.Draft {
	return grow.Draft{Bag: g.code, Kind: kind, Details: details}
}

// wall is the share of the bag's wall that is grown over.
func (g *bag) wall(day float64) float64 {
	if g.shaken {
		return g.share(day, g.done)
	}
	return g.front(day, g.done)
}

// estimate is what a person says of the wall: to the nearest five, now and then
// five off, never full before it is.
func (g *bag) estimate(share float64) float64 {
	pct := 5*math.Round(20*share) + pick(g.random, -5.0, 0, 0, 0, 5)
	return math.Max(0, math.Min(95, pct))
}

// bench is the scan of the label as the bag leaves the bench, after what the
// switches say: by then the box on the label has been crossed.
func (g *bag) bench() []grow.Draft {
	var out []grow.Draft
	for _, key := range slices.Sorted(maps.Keys(g.switches)) {
		out = append(out, g.entry(grow.KindCondition, grow.Details{Key: key, Value: grow.KnownValue(g.switches[key]), Basis: "recorded"}))
	}
	return append(out, g.entry(grow.KindMarked, grow.Details{Bench: g.ago < 180}))
}

// round is what is logged of the bag on a walk along the racks.
func (g *bag) round(age int) []grow.Draft {
	switch {
	case g.out > 0 || g.found && !g.apart:
		return nil
	case g.found:
		return g.setApart(age)
	case g.spoil != nil && age >= g.spoil.day:
		return g.findSpoil(age)
	case g.nobody:
		return []grow.Draft{g.entry(grow.KindLook, grow.Details{Seen: "glance"})}
	case g.moved > 0:
		return []grow.Draft{g.entry(grow.KindLook, grow.Details{Seen: "glance"})}
	case g.ends == "precaution" && age >= 8:
		return g.leave(age, grow.KindCull, g.ends)
	case g.ends == "leak" && age >= 10:
		return g.leave(age, grow.KindCull, g.ends)
	case g.grown > 0:
		return append(g.ripen(age), g.remarks(ripeRemarks)...)
	}
	return append([]grow.Draft{g.colonise(age)}, g.remarks(youngRemarks)...)
}

// What is noted now and then of a healthy bag.
var (
	youngRemarks = []grow.Details{{Sign: "condensation"}, {Sign: "condensation"}, {Text: "Starts from the top corner."}, {Text: "A little behind its neighbours."}, {Text: "Filter damp, wiped dry."}}
	ripeRemarks  = []grow.Details{{Sign: "metabolites"}, {Sign: "fluff"}, {Text: "Firm all round."}, {Text: "Soft at the bottom fold."}}
)

// remarks are made of one look in sixty.
func (g *bag) remarks(list []grow.Details) []grow.Draft {
	if g.random.IntN(60) != 0 || g.out > 0 {
		return nil
	}
	d := pick(g.random, list...)
	if d.Text != "" {
		return []grow.Draft{g.entry(grow.KindNote, d)}
	}
	return []grow.Draft{g.entry(grow.KindSign, d)}
}

// colonise is a look at a bag that is not grown over yet.
func (g *bag) colonise(age int) grow.Draft {
	share := g.wall(float64(age))
	switch {
	case share >= grownOver:
		g.grown = age
		full := 100.0
		return g.entry(grow.KindColonised, grow.Details{Pct: &full})
	case !g.begun && share >= 0.01:
		g.begun = true
		return g.entry(grow.KindSign, grow.Details{Sign: "started"})
	case age >= 6 && age < 9:
		return g.entry(grow.KindLook, grow.Details{Seen: "turned"})
	case age >= 9 && share >= 0.1:
		pct := g.estimate(share)
		d := grow.Details{Pct: &pct}
		if !g.shaken || pct >= 70 {
			d.Bare = []string{"bottom", "corners"}
		}
		return g.entry(grow.KindColonised, d)
	}
	return g.entry(grow.KindLook, grow.Details{})
}

// ripen is a look at a bag that is grown over, and the move once it is time.
func (g *bag) ripen(age int) []grow.Draft {
	switch {
	case age < g.grown+g.ripe:
		return []grow.Draft{g.entry(grow.KindLook, grow.Details{})}
	case g.ends != "":
		return g.leave(age, grow.KindFinish, g.ends)
	}
	g.moved, g.nextPick = age, age+days(g.random, g.first[0], g.first[1])
	return []grow.Draft{g.entry(grow.KindFruiting, grow.Details{Place: "fruiting room > tier " + string('1'+rune(g.ago/7%4)), Opening: g.opening})}
}

// findSpoil is the look that finds mould, and what is done about it.
func (g *bag) findSpoil(age int) []grow.Draft {
	g.found = true
	out := []grow.Draft{g.entry(grow.KindContaminated, grow.Details{What: g.spoil.what, Where: g.spoil.where})}
	switch g.spoil.after {
	case "cull":
		out = append(out, g.leave(age, grow.KindCull, "contaminated")...)
	case "apart":
		g.apart = true
		out = append(out, g.entry(grow.KindIsolate, grow.Details{}))
	}
	return out
}

// setApart is a look at a bag that was set apart; a week later it goes.
func (g *bag) setApart(age int) []grow.Draft {
	if age < g.spoil.day+7 {
		return []grow.Draft{g.entry(grow.KindLook, grow.Details{})}
	}
	return g.leave(age, grow.KindCull, "contaminated")
}

func (g *bag) leave(age int, kind grow.EntryKind, why string) []grow.Draft {
	g.out = max(age, 1)
	return []grow.Draft{g.entry(kind, grow.Details{Why: why})}
}

// picking is what is picked from the bag today; after the last flush it is
// spent.
func (g *bag) picking(age int) []grow.Draft {
	if g.out > 0 || g.moved == 0 || g.nextPick == 0 || age < g.nextPick {
		return nil
	}
	if g.flush == len(g.flushes) {
		return g.leave(age, grow.KindFinish, "spent")
	}
	grams := math.Round(g.crop * g.flushes[g.flush] * between(g.random, 0.85, 1.15))
	g.flush++
	g.nextPick = age + days(g.random, g.next[0], g.next[1])
	if g.flush == len(g.flushes) {
		g.nextPick = age + days(g.random, 2, 4)
	}
	return []grow.Draft{g.entry(grow.KindHarvest, grow.Details{Grams: &grams})}
}
