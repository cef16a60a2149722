package store

import (
	"math"
	"strings"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// ctmi is growth as a share of the best at a core temperature, by the cardinal
// temperature model with inflection (Rosso, Lobry and Flandrois 1993, J. Theor.
// Biol. 162: 447-463; from memory), written here anew.
func ctmi(lo, opt, hi, t float64) float64 {
	return (t - hi) * (t - lo) * (t - lo) / ((opt - lo) * ((opt-lo)*(t-opt) - (opt-hi)*(opt+lo-2*t)))
}

// steadyAir are hourly readings of one temperature over some days up to now.
func (f *labFarm) steadyAir(days int, celsius float64) []grow.AirReading {
	return airAt(f.clock.now().Add(-time.Duration(days)*24*time.Hour), time.Hour, repeat(celsius, days*24)...)
}

// coloniseOn checks the days on which a bag is forecast to be grown over.
func (f *labFarm) colonisedOn(when string, bag grow.Code, early, likely, late int) Forecast {
	f.t.Helper()
	got := f.bag(bag).Forecast
	if diff := cmp.Diff(on(early, likely, late), got.Colonised); diff != "" {
		f.t.Errorf("%s (-want +got):\n%s", when, diff)
	}
	return got
}

// TestForecastInAColdAndAWarmRoom: king oyster (8, 25.3 and 33.1 °C) grows in 20 °C,
// the core of a bag in 18 °C air, at .757 of its best and at the band's target at
// .999; grey oyster (3, 27, 36, from memory) in 25 °C air at 1.000 and at its target
// at .942. Without the room king's days are 13.50, 19.80 and 29.04 by the range 14
// to 28, and grey oyster's 9.40, 13.42 and 19.15 by the range 10 to 18; the room
// divides them by .757/.999 and by 1/.942, and each is rounded up.
func TestForecastInAColdAndAWarmRoom(t *testing.T) {
	t.Parallel()
	if cold, warm := ctmi(8, 25.3, 33.1, 20), ctmi(3, 27, 36, 24); math.Abs(cold-.757) > .0005 || math.Abs(warm-.942) > .0005 {
		t.Fatalf("the formula gives %v and %v", cold, warm)
	}
	f := newForecastFarm(t)
	_, unknown := f.make(f.king(1))
	_, plain := f.batchIn("pleurotus-ostreatus", 1, "shed")
	f.colonisedOn("nothing known", unknown[0].Code, 14, 20, 30)
	f.colonisedOn("grey oyster, nothing known", plain[0].Code, 10, 14, 20)
	f.air("cold", f.steadyAir(8, 18))
	f.air("warm", f.steadyAir(8, 25))
	_, cold := f.batchIn("pleurotus-eryngii", 1, "Cold")
	_, warm := f.batchIn("pleurotus-ostreatus", 1, "warm > rack 1")
	got := f.colonisedOn("cold", cold[0].Code, 18, 27, 39)
	if diff := cmp.Diff(on(23, 34, 48), got.Ready); diff != "" { // ripening, 5 to 9 days, is as long as ever
		t.Errorf("ready (-want +got):\n%s", diff)
	}
	if !strings.Contains(got.Basis, "counted with the room") || got.Room == nil || got.Room.Pace == nil || math.Abs(*got.Room.Pace-.757/.9995) > .001 || *got.Room.CoreC != 20 {
		t.Errorf("basis %q, room %+v", got.Basis, got.Room)
	}
	if words := strings.Join(got.Words, " "); !strings.Contains(words, "18.0 °C") || !strings.Contains(words, "24 in 100 slower than at 23.0 °C") {
		t.Errorf("words: %s", words)
	}
	f.colonisedOn("warm", warm[0].Code, 9, 13, 19)
	if got := f.colonisedOn("elsewhere", unknown[0].Code, 14, 20, 30); got.Room != nil || strings.Contains(got.Basis, "room") {
		t.Errorf("a bag of whose place nothing is known has the basis %q, the room %+v", got.Basis, got.Room)
	}
}

// TestLateReadingsAreCounted: what becomes known of the days gone by changes the
// forecast, also one that is kept; what is taken back changes it back.
func TestLateReadingsAreCounted(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	room := f.place("incubator")
	_, bags := f.batchIn("pleurotus-eryngii", 1, "incubator")
	f.days(10)
	bag := bags[0].Code
	f.colonisedOn("nothing known", bag, 14, 20, 30)
	kept, err := f.AddReadings(t.Context(), f.by, "incubator", f.steadyAir(10, 18), nil, ReadingsFrom{How: "file", Name: "logger.csv"})
	if err != nil || kept.Stored == 0 {
		t.Fatal(err)
	}
	f.colonisedOn("a logger's file", bag, 18, 27, 39)
	touching := func(is bool) {
		t.Helper()
		if _, _, err := f.PutPlaceFacts(t.Context(), f.by, room.Code, func(p *PlaceFacts) error { p.Touching = &is; return nil }); err != nil {
			t.Fatal(err)
		}
	}
	touching(true)
	f.colonisedOn("touching: the core is 22 °C, .895 of the best", bag, 16, 23, 33)
	touching(false)
	f.colonisedOn("apart again", bag, 18, 27, 39)
	sources, err := f.ReadingSources(t.Context(), room.Code, 5)
	if err != nil || len(sources) != 1 {
		t.Fatalf("sources: %v, %v", sources, err)
	}
	if _, err := f.TakeBackReadings(t.Context(), f.by, room.Code, sources[0].ID); err != nil {
		t.Fatal(err)
	}
	f.colonisedOn("taken back", bag, 14, 20, 30)
	line := grow.RoomLine{ID: f.id(), Kind: grow.RoomSetPoint, At: f.clock.now().Add(-11 * 24 * time.Hour), TempC: num(18)}
	if _, _, err := f.AddRoomLine(t.Context(), f.by, room.Code, line); err != nil {
		t.Fatal(err)
	}
	f.colonisedOn("a thermostat", bag, 18, 27, 39)
	if _, err := f.TakeBackRoomLine(t.Context(), f.by, room.Code, line.ID); err != nil {
		t.Fatal(err)
	}
	f.colonisedOn("the line taken back", bag, 14, 20, 30)
}

// TestMovedBagsHaveTheirOwnClock: five days at .757 of the best against .999 are
// 3.79 days of growth; from then on nothing is known, so that 1.21 days are lost.
func TestMovedBagsHaveTheirOwnClock(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	_, bags := f.batchIn("pleurotus-eryngii", 3, "cold")
	f.days(5)
	f.air("cold", f.steadyAir(5, 18))
	for _, g := range bags[:2] {
		f.add(g.Code, grow.KindMove, grow.Details{Place: "shed"})
	}
	moved := f.bag(bags[1].Code).Entries[0].ID
	f.days(2)
	f.air("cold", f.steadyAir(2, 18))
	f.colonisedOn("moved", bags[0].Code, 15, 22, 31)
	f.colonisedOn("left", bags[2].Code, 18, 27, 39)
	f.add(bags[1].Code, grow.KindVoid, grow.Details{Entry: moved})
	f.colonisedOn("never moved", bags[1].Code, 18, 27, 39)
	f.air("shed", f.steadyAir(7, 18))
	f.colonisedOn("the shed is known", bags[0].Code, 18, 27, 39)
	if _, err := f.RenamePlace(t.Context(), f.by, f.place("shed").Code, "north wing"); err != nil {
		t.Fatal(err)
	}
	f.colonisedOn("the shed has another name", bags[0].Code, 18, 27, 39)
	f.sound()
}

// TestOverdueByTheRoom: 95 of 100 such bags are done by day 32.38; in a room that
// lets them grow at .757 of the best by day 42.7. The lists that are kept are made
// anew when the room becomes known.
func TestOverdueByTheRoom(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	_, bags := f.batchIn("pleurotus-eryngii", 2, "cold")
	for _, g := range bags {
		f.add(g.Code, grow.KindMarked)
	}
	overdue := func() int {
		t.Helper()
		page, err := f.Due(t.Context(), "", 0)
		if err != nil {
			t.Fatal(err)
		}
		return page.Counts[grow.DueOverdue]
	}
	f.days(35)
	if n := overdue(); n != 2 {
		t.Fatalf("%d bags are overdue on day 35, want 2", n)
	}
	f.air("cold", f.steadyAir(36, 18))
	if n := overdue(); n != 0 {
		t.Errorf("%d bags are overdue on day 35 of a cold room, want none", n)
	}
	f.days(8)
	f.air("cold", f.steadyAir(7, 18))
	if n := overdue(); n != 2 {
		t.Errorf("%d bags are overdue on day 43 of a cold room, want 2", n)
	}
}

// TestReadingsOfTodayWaitForMidnight: a sensor's readings change no forecast before
// the day turns, so that lists once made need not be made anew all day.
func TestReadingsOfTodayWaitForMidnight(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	_, bags := f.batchIn("pleurotus-eryngii", 1, "cold")
	f.air("cold", f.steadyAir(8, 18))
	f.colonisedOn("before", bags[0].Code, 18, 27, 39)
	changes := f.laws.count()
	f.clock.move(5 * time.Hour)
	f.air("cold", airAt(f.clock.now().Add(-4*time.Hour), time.Hour, 33, 33, 33, 33))
	if n := f.laws.count(); n != changes {
		t.Errorf("readings of today changed laws %d times", n-changes)
	}
	f.colonisedOn("the same day", bags[0].Code, 18, 27, 39)
	f.days(1)
	if got := f.bag(bags[0].Code).Forecast.Room; got == nil || math.Abs(*got.AirC-18) < .1 {
		t.Errorf("the day after, the room is %+v", got)
	}
}

// TestTooColdToGrow: nobody is promised a day by a room in which nothing grows; it
// is said instead, and dates stay on the calendar.
func TestTooColdToGrow(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	f.air("cellar", f.steadyAir(8, 4))
	_, bags := f.batchIn("pleurotus-eryngii", 1, "cellar")
	got := f.bag(bags[0].Code).Forecast
	if words := strings.Join(got.Words, " "); !strings.Contains(words, "too cold") {
		t.Errorf("words: %s", words)
	}
	if days := got.Colonised.Likely - grow.DateOn(2026, 11, 22); days != 396 { // 19.80 at a twentieth of the pace
		t.Errorf("likely after %d days", days)
	}
}

// TestShelvesShareTheirRoomsAir: a year of a room's air is kept once, however many
// shelves it has; a shelf where bags touch, or with a thermostat of its own, goes by
// what is said of it.
func TestShelvesShareTheirRoomsAir(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	room, touching := f.place("room"), f.place("room > rack > low")
	line := grow.RoomLine{ID: f.id(), Kind: grow.RoomSetPoint, At: f.clock.now().AddDate(-1, 0, 0), TempC: num(22)}
	if _, _, err := f.AddRoomLine(t.Context(), f.by, room.Code, line); err != nil {
		t.Fatal(err)
	}
	if _, _, err := f.PutPlaceFacts(t.Context(), f.by, touching.Code, func(p *PlaceFacts) error { p.Touching = new(true); return nil }); err != nil {
		t.Fatal(err)
	}
	line = grow.RoomLine{ID: f.id(), Kind: grow.RoomSetPoint, At: f.clock.now().AddDate(0, 0, -10), TempC: num(17)}
	if _, _, err := f.AddRoomLine(t.Context(), f.by, f.place("room > cool box").Code, line); err != nil {
		t.Fatal(err)
	}
	farm, err := f.Farm(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	err = f.reading(t.Context(), func(x *tx) error {
		midnight := x.midnight(farm)
		at := func(place string) placeKnown { return must(x.knownAt(place, midnight))(t) }
		of := at("room")
		if len(of.track) < 364*24 {
			t.Fatalf("%d hours of the room are known", len(of.track))
		}
		for place, offset := range map[string]float64{"room > rack > top": 2, "room > rack > low": 4, "room > nowhere on record": 2} {
			if got := at(place); len(got.track) != len(of.track) || &got.track[0] != &of.track[0] || got.offsetC != offset {
				t.Errorf("%s: %d hours of its own, core %v warmer", place, len(got.track), got.offsetC)
			}
		}
		if got := at("room > cool box").track; len(got) == 0 || got[len(got)-1].C != 17 {
			t.Errorf("the cool box has the air of the room: %d hours", len(got))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
