package store

import (
	"math"
	"testing"
	"time"

	"bagmark/grow"
)

// TestExposureOfABag: three days in a rack at 24 °C, two over enoki's band of 14 to
// 22 °C (common practice), two days on another rack of which nothing is known; a day
// on a third at 16 °C where bags touch, whose band of air is 12 to 20 °C. It grows
// at .926 of its best in a core of 26 °C and at .939 in one of 20 °C (curve 3, 23 and
// 33 °C, from memory).
func TestExposureOfABag(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	if got := f.bag(f.lone("flammulina-filiformis", "warm")).Air; got != nil {
		t.Fatalf("nothing is known of any place, yet the bag has %+v", got)
	}
	touching := true
	if _, _, err := f.PutPlaceFacts(t.Context(), f.by, f.place("cool").Code, func(p *PlaceFacts) error { p.Touching = &touching; return nil }); err != nil {
		t.Fatal(err)
	}
	bag := f.lone("flammulina-filiformis", "warm")
	f.days(3)
	f.air("warm", f.steadyAir(3, 24))
	f.add(bag, grow.KindMove, grow.Details{Place: "nowhere measured"})
	f.days(2)
	f.add(bag, grow.KindMove, grow.Details{Place: "cool"})
	f.days(1)
	f.air("cool", f.steadyAir(1, 16))
	f.air("warm", f.steadyAir(3, 30)) // it stands there no more
	got := f.bag(bag).Air
	for name, pair := range map[string][2]float64{
		"measured": {got.DaysMeasured, 4}, "unknown": {got.DaysUnknown, 2}, "above": {got.DaysAbove, 3}, "degree-days": {got.DegreeDays, 6}, "below": {got.DaysBelow, 0},
		"past the ceiling": {got.DaysPastCeiling, 0}, "mean": {*got.MeanC, (3*24 + 16) / 4.0}, "highest": {*got.HighestC, 24}, "growth": {*got.Growth, (3*.926 + .939) / 4},
	} {
		if math.Abs(pair[0]-pair[1]) > .001 {
			t.Errorf("%s: %v, want %v", name, pair[0], pair[1])
		}
	}
	if got.Ended != runGrowing || len(got.Stays) != 3 || *got.Stays[1].Place != "nowhere measured" || !got.Stays[2].Touching || got.Stays[0].Touching {
		t.Errorf("ended %q, stays %+v", got.Ended, got.Stays)
	}
	f.add(bag, grow.KindColonised, grow.Details{Pct: new(100.0)})
	f.days(5)
	f.air("cool", f.steadyAir(4, 40))
	if after := f.bag(bag).Air; after.Ended != runGrownOver || after.DaysMeasured != got.DaysMeasured || *after.HighestC != 24 {
		t.Errorf("after it was grown over: %+v", after)
	}
}

// lone makes a batch of one bag in a place.
func (f *labFarm) lone(species grow.Slug, place string) grow.Code {
	f.t.Helper()
	_, bags := f.batchIn(species, 1, place)
	return bags[0].Code
}

// TestExposureKnowsHow: a typed reading a day apart from the next one, then what the
// thermostat was set to; a bag set apart stays where it was, and one taken out
// collects no more.
func TestExposureKnowsHow(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	room := f.place("room")
	bag := f.lone("pleurotus-eryngii", "room")
	start := f.clock.now()
	f.days(2)
	if _, err := f.AddReadings(t.Context(), f.by, "room", airAt(start, 12*time.Hour, 22, 23, 22), nil, ReadingsFrom{How: "typed"}); err != nil {
		t.Fatal(err)
	}
	f.add(bag, grow.KindIsolate)
	if got := f.bag(bag).Air; math.Abs(got.DaysMeasured*24-3) > .01 || math.Abs(got.DaysBetween*24-22) > .01 || math.Abs(got.DaysUnknown*24-23) > .01 || len(got.Stays) != 1 {
		t.Errorf("typed: %+v", got)
	}
	line := grow.RoomLine{ID: f.id(), Kind: grow.RoomSetPoint, At: start, TempC: num(22)}
	if _, _, err := f.AddRoomLine(t.Context(), f.by, room.Code, line); err != nil {
		t.Fatal(err)
	}
	f.add(bag, grow.KindCull)
	f.days(3)
	if got := f.bag(bag).Air; math.Abs(got.DaysSetPoint*24-23) > .01 || got.DaysUnknown != 0 || got.Ended != runOut {
		t.Errorf("with a thermostat: %+v", got)
	}
}
