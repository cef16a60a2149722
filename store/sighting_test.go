package store

import (
	"fmt"
	"testing"
	"time"

	"bagmark/grow"
)

// TestSightings: where a bag was seen last against where its log says it stands.
func TestSightings(t *testing.T) {
	t.Parallel()
	const rack, shelf, other = "room > rack 1", "room > rack 1 > shelf 2", "room > rack 2"
	round := grow.ID("20000000-0000-4000-8000-000000000001")
	for name, c := range map[string]struct {
		stands string
		does   func(*labFarm, grow.Code)
		want   string // where it was seen elsewhere, "" for no difference
	}{
		"never seen":                   {rack, func(*labFarm, grow.Code) {}, ""},
		"seen there":                   {rack, func(f *labFarm, bag grow.Code) { f.sighted(rack, round, 0, bag) }, ""},
		"seen at its shelf":            {rack, func(f *labFarm, bag grow.Code) { f.sighted(shelf, round, 0, bag) }, ""},
		"seen on a round of the whole": {shelf, func(f *labFarm, bag grow.Code) { f.sighted("room", round, 0, bag) }, ""},
		"seen elsewhere":               {rack, func(f *labFarm, bag grow.Code) { f.sighted(other, round, 0, bag) }, other},
		"seen there since":             {rack, func(f *labFarm, bag grow.Code) { f.sighted(other, round, -2, bag); f.sighted(rack, "", -1, bag) }, ""},
		"heard of late": {rack, func(f *labFarm, bag grow.Code) {
			f.sighted(rack, "", -1, bag)
			f.sighted(other, round, -2, bag)
		}, ""},
		"taken back":         {rack, func(f *labFarm, bag grow.Code) { f.sighted(other, round, 0, bag); f.unsaw(round, bag) }, ""},
		"another taken back": {rack, func(f *labFarm, bag grow.Code) { f.sighted(other, round, 0, bag); f.unsaw("", bag) }, other},
		"moved since": {rack, func(f *labFarm, bag grow.Code) {
			f.sighted(other, round, -1, bag)
			f.add(bag, grow.KindMove, grow.Details{Place: rack})
		}, ""},
		"moved, and not kept": {rack, func(f *labFarm, bag grow.Code) {
			f.sighted(other, round, -1, bag)
			b := f.add(bag, grow.KindMove, grow.Details{Place: rack})
			f.add(bag, grow.KindVoid, grow.Details{Entry: b.Entries[0].ID})
		}, other},
		"to fruiting since": {rack, func(f *labFarm, bag grow.Code) {
			f.sighted(other, round, -1, bag)
			f.add(bag, grow.KindFruiting, grow.Details{Place: "tent"})
		}, ""},
		"out since": {rack, func(f *labFarm, bag grow.Code) { f.sighted(other, round, -1, bag); f.add(bag, grow.KindCull) }, ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f := newLabFarm(t)
			_, bags := f.make(f.king(1, func(d *grow.BatchDraft) { d.Place = &c.stands }))
			f.days(1)
			f.place("tent")
			c.does(f, bags[0].Code)
			got := ""
			for _, r := range must(f.Rooms(t.Context()))(t) {
				w := must(f.Place(t.Context(), r.Code))(t)
				for _, b := range w.SeenElsewhere {
					got = b.Seen.Place
				}
				if r.Name == c.want && len(w.SeenHere) != 1 {
					t.Errorf("%s was seen to hold %d of elsewhere", r.Name, len(w.SeenHere))
				}
			}
			if got != c.want {
				t.Errorf("seen elsewhere at %q, want %q", got, c.want)
			}
			f.sound()
		})
	}
}

// sighted notes a bag on a round, or without one, so many hours from now.
func (f *labFarm) sighted(place string, round grow.ID, hours int, bag grow.Code) {
	f.t.Helper()
	f.place(place)
	at := f.clock.now().Add(time.Duration(hours) * time.Hour)
	if err := f.See(f.t.Context(), f.by, Round{ID: round, Place: place, BeganAt: at}, at, bag); err != nil {
		f.t.Fatal(err)
	}
}

func (f *labFarm) unsaw(round grow.ID, bag grow.Code) {
	f.t.Helper()
	if err := f.Unsee(f.t.Context(), round, bag); err != nil {
		f.t.Fatal(err)
	}
}

// TestNotSeenOnTheRound: the last round over all of a place counts; what came
// later, was in somebody's hand since, or was seen on it, is not missed.
func TestNotSeenOnTheRound(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	rack := f.place("room > rack 1")
	_, bags := f.make(f.king(3, func(d *grow.BatchDraft) { d.Place = new("room > rack 1 > shelf 1") }))
	f.days(1)
	missed := func(want string) {
		t.Helper()
		got := ""
		for _, b := range must(f.Place(t.Context(), rack.Code))(t).NotSeen {
			got += fmt.Sprint(b.Number, " ")
		}
		if got != want {
			t.Errorf("not seen: %q, want %q", got, want)
		}
	}
	missed("")
	f.sighted("room > rack 1 > shelf 1", "20000000-0000-4000-8000-000000000001", 0, bags[0].Code)
	missed("") // a round of one shelf says nothing of the rack
	f.days(1)
	f.sighted("room", "20000000-0000-4000-8000-000000000002", 0, bags[0].Code)
	missed("2 3 ")
	f.days(1)
	f.add(bags[1].Code, grow.KindLook)
	f.make(f.king(1, func(d *grow.BatchDraft) { d.Place = new("room > rack 1") }))
	missed("3 ")
}
