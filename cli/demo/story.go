package demo

import "bagmark/grow"

// The stories: what a farm has to find its way through. Each bends the fates
// of one batch.

// hoodOff: the hood was off for bags 7 to 11. A week later there is green mould
// in four of them and in their neighbour; those beside them are on watch.
func hoodOff(b *batch) {
	for n := 7; n <= 11; n++ {
		b.bag(n).switches = map[string]string{"flow_hood": "off"}
	}
	b.bag(8).spoil = &spoil{7, "green_mould", "spawn_points", "cull"}
	b.bag(9).spoil = &spoil{7, "green_mould", "seal", "cull"}
	b.bag(11).spoil = &spoil{9, "green_mould", "spawn_points", "apart"}
	b.bag(12).spoil = &spoil{10, "green_mould", "seal", "cull"}
	b.bag(10).spoil = &spoil{12, "green_mould", "top", "leave"}
	for _, n := range []int{5, 6, 7, 10, 11, 12, 13, 14} {
		b.watch(7, n, 8, "made beside bag 8, some with the hood off")
	}
	b.show(7, 8, picture{share: 0.25, patch: mouldGreen})
	b.show(7, 9, picture{share: 0.3, patch: mouldGreen})
	b.show(2, 10, picture{share: 0.6, patch: mouldGreen})
	b.say(7, 7, grow.Draft{Kind: grow.KindNote, Details: grow.Details{Text: "Clean so far, though the hood was off for it too."}})
}

// aboutSix: the hood was off for about six bags, nobody knows which.
func aboutSix(b *batch) { b.bag(13).spoil = &spoil{6, "green_mould", "spawn_points", "apart"} }

// mouldFromSpawn: green mould at the spawn points of so many bags. A new spawn
// lot and a new recipe came in with the same four batches.
func mouldFromSpawn(bad int) func(*batch) {
	return func(b *batch) {
		for _, i := range b.random.Perm(len(b.bags))[:bad] {
			b.bags[i].spoil = &spoil{days(b.random, 5, 11), "green_mould", "spawn_points", "cull"}
		}
	}
}

// wetSpots: the steriliser's run went short, and whole batches went with it.
// The log was read two days later.
func wetSpots(bad int) func(*batch) {
	return func(b *batch) {
		order := b.random.Perm(len(b.bags))
		for i, at := range order {
			g := b.bags[at]
			if i < bad {
				g.spoil = &spoil{days(b.random, 2, 5), "wet_spot", pick(b.random, "bottom_corner", "spawn_points", "all_over"), "cull"}
			} else {
				g.ends = "precaution"
			}
		}
		b.show(61, order[0]+1, picture{share: 0.05, patch: slimeGrey})
	}
}

// notShaken: of a trial's bags ten were shaken, ten not. Spawn that only trickled
// down leaves the bottom bare for one to two weeks more.
func notShaken(b *batch) {
	var first [2]int // of the shaken and of the others
	for i := len(b.bags) - 1; i >= 0; i-- {
		g, side := b.bags[i], 0
		if !g.shaken {
			g.done += between(b.random, 7, 13)
			side = 1
		}
		first[side] = g.number
	}
	for _, ago := range []int{43, 37} {
		age := float64(b.ago - ago)
		for _, n := range first {
			g := b.bag(n)
			g.ends = ""
			b.show(ago, n, picture{share: g.wall(age), front: !g.shaken})
		}
	}
}

// threeSlow: three bags lag far behind their own species.
func threeSlow(b *batch) {
	for _, g := range b.bags {
		g.done = min(g.done, 13.2)
	}
	for _, n := range []int{4, 11, 16} {
		b.bag(n).done = 22
	}
}

// twoLate: two bags are later than their species allows; most of the others
// are in fruiting.
func twoLate(b *batch) {
	for i, g := range b.bags {
		g.done, g.ripe = min(g.done, 19), 5+i%3
	}
	for _, n := range []int{3, 14} {
		b.bag(n).done = 38
	}
	b.show(1, 14, picture{share: 0.7, front: true})
}

// readyWithPins: grown over and ready; two pin in the plastic already.
func readyWithPins(b *batch) {
	for i, g := range b.bags {
		if g.done = min(g.done, 15.5); i >= 6 {
			g.ripe = 9
		}
	}
	for _, n := range []int{9, 12} {
		b.say(1, n, grow.Draft{Kind: grow.KindSign, Details: grow.Details{Sign: "pins"}})
	}
	b.show(1, 9, picture{share: 1, knobs: true})
}

// soldAtMarket: four of the ripest went to a Saturday market whole; two found no
// room and stand on hold.
func soldAtMarket(b *batch) {
	for _, g := range b.bags {
		g.done, g.ripe = min(g.done, 15), 7
	}
	until := b.farm.today + 3
	for n := 1; n <= 4; n++ {
		b.say(1, n, grow.Draft{Kind: grow.KindFinish, Details: grow.Details{Why: "sold", To: "Saturday market"}})
	}
	for n := 5; n <= 6; n++ {
		b.say(1, n, grow.Draft{Kind: grow.KindAgain, Details: grow.Details{On: &until, For: "fruiting", Because: "no room"}})
	}
}

// thinAndOnTime: lion's mane that looks as if it stood still, and does not.
func thinAndOnTime(b *batch) {
	for _, g := range b.bags {
		g.done = min(max(g.done, 14.4), 14.8)
	}
	for n := 1; n <= 4; n++ {
		b.say(7, n, grow.Draft{Kind: grow.KindSign, Details: grow.Details{Sign: "thin"}})
	}
	b.show(7, 2, picture{share: 0.5, thin: true})
	b.say(1, 5, grow.Draft{Kind: grow.KindSign, Details: grow.Details{Sign: "pins"}})
}

// firstHunt: nobody has had these in the hand since the bench, and it is the
// day of the first hunt.
func firstHunt(b *batch) { b.nobody = true }

// sixUnmarked: the last six were carried off before their labels were scanned.
func sixUnmarked(b *batch) {
	for n := 15; n <= 20; n++ {
		b.bag(n).unmarked = true
	}
}

// labelsLater: recorded two days after they were made; the labels come in four
// days.
func labelsLater(b *batch) {
	b.recorded, b.nobody = 3, true
	for n := range b.bags {
		b.bags[n].unmarked = true
		b.say(3, n+1, grow.Draft{Kind: grow.KindLook, Details: grow.Details{Seen: "glance"}})
	}
}

// comeBackToday: three bags are to be looked at today, one of them to go to
// fruiting.
func comeBackToday(b *batch) {
	for _, n := range []int{2, 7, 15} {
		b.bag(n).keep()
		reason := "look"
		if n == 15 {
			reason = "fruiting"
		}
		today := b.farm.today
		b.say(4, n, grow.Draft{Kind: grow.KindAgain, Details: grow.Details{On: &today, For: reason}})
	}
	b.say(4, 15, grow.Draft{Kind: grow.KindNote, Details: grow.Details{Text: "Half brown and firm: the first of its batch."}})
}

// mistakenForMould: brown drops were taken for mould, the bag was set apart,
// and both were taken back.
func mistakenForMould(b *batch) {
	b.bag(6).keep()
	wrong, apart := b.farm.newID(), b.farm.newID()
	b.say(7, 6, grow.Draft{ID: wrong, Kind: grow.KindContaminated, Details: grow.Details{What: "unsure", Where: "side"}})
	b.say(7, 6, grow.Draft{ID: apart, Kind: grow.KindIsolate})
	b.say(6, 6, grow.Draft{Kind: grow.KindVoid, Details: grow.Details{Entry: wrong}})
	b.say(6, 6, grow.Draft{Kind: grow.KindSign, Details: grow.Details{Sign: "metabolites"}})
	b.say(6, 6, grow.Draft{Kind: grow.KindRelease})
	b.say(6, 6, grow.Draft{Kind: grow.KindNote, Details: grow.Details{Text: "Clear brown drops on white growth, no patch: not mould."}})
}

// keep lets a bag live.
func (g *bag) keep() { g.spoil, g.ends = nil, "" }
