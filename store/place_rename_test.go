package store

import (
	"bytes"
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// TestRenamePlace: a rack goes to another room. Its shelves, its bags, its
// readings and its capacity go along; what was written in the log stays on the
// disk; two racks may change names; former names lead on.
func TestRenamePlace(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(2, func(d *grow.BatchDraft) { d.Place = new("room 1 > rack 1") }))
	_, others := f.make(f.king(1, func(d *grow.BatchDraft) { d.Place = new("room 1 > rack 10") }))
	rack, shelf, other := f.place("room 1 > rack 1"), f.place("room 1 > rack 1 > shelf 2"), f.place("room 1 > rack 10")
	f.add(bags[0].Code, grow.KindMove, grow.Details{Place: "room 1 > rack 1 > shelf 2"})
	stands := func(bag grow.Code, want string) {
		t.Helper()
		b := must(f.Bag(t.Context(), bag))(t)
		if b.Place == nil || *b.Place != want {
			t.Errorf("%s stands at %v, want %s", bag, b.Place, want)
		}
		if report := must(Check(t.Context(), f.dir))(t); len(report.Problems) > 0 {
			t.Errorf("check: %v", report.Problems)
		}
	}
	rename := func(p Place, name string) {
		t.Helper()
		if room := must(f.RenamePlace(t.Context(), f.by, p.Code, name))(t); room.Name != name {
			t.Errorf("it is called %s, want %s", room.Name, name)
		}
	}
	rename(rack, "room 2 > rack 5")
	stands(bags[0].Code, "room 2 > rack 5 > shelf 2")
	stands(bags[1].Code, "room 2 > rack 5")
	stands(others[0].Code, "room 1 > rack 10")
	if w := must(f.Place(t.Context(), rack.Code))(t); w.Place.Bags != 2 || len(w.Bags) != 1 || len(w.Parts) != 1 || w.Parts[0].Code != shelf.Code {
		t.Errorf("the rack has %d bags, %d here, parts %v", w.Place.Bags, len(w.Bags), w.Parts)
	}
	f.add(bags[1].Code, grow.KindMove, grow.Details{Place: "Room 1 > rack 1 > shelf 2"}) // a phone that was out of reach
	stands(bags[1].Code, "room 2 > rack 5 > shelf 2")
	var written bytes.Buffer
	rows := must(f.read.Query(`SELECT detail ->> '$.place' FROM entries WHERE kind = 'move' ORDER BY seq`))(t)
	defer rows.Close()
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			t.Fatal(err)
		}
		written.WriteString(name + "|")
	}
	if got, want := written.String(), "room 1 > rack 1 > shelf 2|room 2 > rack 5 > shelf 2|"; got != want {
		t.Errorf("the log on the disk says %q, want %q", got, want)
	}

	// Two racks change names: entries of either follow their own.
	rename(other, "spare")
	rename(rack, "room 1 > rack 10")
	rename(other, "room 2 > rack 5")
	stands(bags[0].Code, "room 1 > rack 10 > shelf 2")
	stands(others[0].Code, "room 2 > rack 5")
	f.add(others[0].Code, grow.KindMove, grow.Details{Place: "room 1 > rack 10"})
	stands(others[0].Code, "room 1 > rack 10")
	if p := f.place("room 1 > rack 1"); p.Code != rack.Code {
		t.Errorf("the former name leads to %s", p.Name)
	}
}

// TestRenamePlaceIsRefused names what stands in the way, and changes nothing.
func TestRenamePlaceIsRefused(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	room := f.place("room 1")
	long := f.place("room 1 > " + strings.Repeat("x", 40))
	f.place("Room 2")
	for name, to := range map[string]string{"empty": "", "of another": "room 2", "within itself": "room 1 > rack", "a part too long": strings.Repeat("y", 30), "too long": strings.Repeat("y", 61)} {
		if _, err := f.RenamePlace(t.Context(), f.by, room.Code, to); grow.KindOf(err) != grow.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, err := f.RenamePlace(t.Context(), f.by, "7K3M9QXR", "room 9")
	wantKind(t, "an unknown place", err, grow.NotFound)
	if w := must(f.Place(t.Context(), room.Code))(t); w.Place.Name != "room 1" || w.Parts[0].Code != long.Code {
		t.Errorf("it is called %s", w.Place.Name)
	}
	if room := must(f.RenamePlace(t.Context(), f.by, room.Code, "ROOM 1"))(t); room.Name != "ROOM 1" {
		t.Errorf("other letters: %s", room.Name)
	}
}

// TestPartInOtherLetters: a rack named in other letters than its room goes with it.
func TestPartInOtherLetters(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	room := f.place("Room 2")
	f.place("room 2 > rack 3")
	f.batchIn("pleurotus-eryngii", 2, "ROOM 2 > Rack 3 > top")
	if _, err := f.RenamePlace(t.Context(), f.by, room.Code, "North"); err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, r := range must(f.Rooms(t.Context()))(t) {
		if r.Bags == 2 {
			names = append(names, r.Name)
		}
	}
	if diff := cmp.Diff([]string{"North", "North > rack 3", "North > rack 3 > top"}, names); diff != "" {
		t.Errorf("places with both bags (-want +got):\n%s", diff)
	}
}

// TestRenameKeepsTheRoomsSpelling: a room is one however its racks are spelt.
func TestRenameKeepsTheRoomsSpelling(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	room, rack := f.place("bag room"), f.place("bag room > rack 3")
	if got := must(f.RenamePlace(t.Context(), f.by, rack.Code, "Bag room > Rack 3"))(t); got.Name != "bag room > Rack 3" {
		t.Errorf("renamed to %q", got.Name)
	}
	if other := f.place("BAG ROOM > rack 4"); other.Name != "bag room > rack 4" {
		t.Errorf("made as %q", other.Name)
	}
	if got := must(f.RenamePlace(t.Context(), f.by, room.Code, "Bag Room"))(t); got.Name != "Bag Room" {
		t.Errorf("the room: %q", got.Name)
	}
	if w := must(f.Place(t.Context(), room.Code))(t); len(w.Parts) != 2 || w.Parts[0].Name != "Bag Room > Rack 3" {
		t.Errorf("its parts: %+v", w.Parts)
	}
}
