package store

import (
	"fmt"
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func (f *labFarm) toFruiting() ToFruiting {
	f.t.Helper()
	list, err := f.ToFruiting(f.t.Context())
	if err != nil {
		f.t.Fatal(err)
	}
	return list
}

func rowNames(rows []ReadyRow) (out []string) {
	for _, r := range rows {
		out = append(out, fmt.Sprintf("%d %s %s", len(r.Bags), r.Short, r.Keeps))
	}
	return out
}

// TestToFruitingInOrder: what keeps least first; the bags of a row are those one
// tap moves.
func TestToFruitingInOrder(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	var all []BagRef
	for _, slug := range []grow.Slug{"lentinula-edodes", "pleurotus-eryngii", "pleurotus-ostreatus"} {
		_, bags := f.make(grow.BatchDraft{Bags: 3, BatchFields: grow.BatchFields{Species: slug, InoculatedAt: f.clock.now(), Place: new("room 1")}})
		all = append(all, bags...)
	}
	f.days(20)
	for _, b := range all {
		f.add(b.Code, grow.KindColonised, grow.Details{Pct: new(100.0)})
	}
	f.days(80)
	f.add(all[4].Code, grow.KindSign, grow.Details{Sign: "pins"}) // a king
	f.add(all[8].Code, grow.KindContaminated, grow.Details{What: "green_mould"})
	got := f.toFruiting()
	if diff := cmp.Diff([]string{"1 KING not", "2 OYSTER days", "2 KING weeks", "3 SHII long"}, rowNames(got.Rows)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got.Bags != 8 {
		t.Errorf("%d bags, want 8", got.Bags)
	}
	today, err := f.Today(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range today.Sentences {
		if s.Task == grow.TaskMove && len(s.Bags) != got.Bags {
			t.Errorf("Today moves %d, the list %d", len(s.Bags), got.Bags)
		}
	}
}

// TestOnHold: a bag put off keeps its reason, asks for nothing until its day,
// and comes back on it; moving it ends the hold.
func TestOnHold(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	b, bags := f.make(f.king(3))
	f.days(20)
	for _, g := range bags {
		f.add(g.Code, grow.KindColonised, grow.Details{Pct: new(100.0)})
	}
	f.days(20)
	until := grow.DateOf(f.clock.now(), must(f.Farm(t.Context()))(t).Zone) + 5
	for _, g := range bags[:2] {
		f.add(g.Code, grow.KindAgain, grow.Details{On: &until, For: "fruiting", Because: "no room"})
	}
	list := f.toFruiting()
	want := []HeldRow{{Batch: b.Code, SpeciesName: b.SpeciesName, Short: b.Short, Until: until, Because: "no room", Bags: []HeldBag{{bags[0].Code, 1}, {bags[1].Code, 2}}}}
	if diff := cmp.Diff(want, list.OnHold); diff != "" {
		t.Errorf("on hold (-want +got):\n%s", diff)
	}
	if list.Bags != 1 {
		t.Errorf("%d ready, want the one that is not on hold", list.Bags)
	}
	f.days(4)
	if n := len(f.due("", 0).Items); n != 1 {
		t.Errorf("%d due while two of three are on hold", n)
	}
	f.add(bags[0].Code, grow.KindFruiting, grow.Details{Place: "room 2"}) // room after all
	f.days(1)
	list = f.toFruiting()
	if list.Bags != 2 || len(list.OnHold) != 0 {
		t.Errorf("on its day: %d ready, %d rows on hold", list.Bags, len(list.OnHold))
	}
	if w := list.Rows[0].Bags[0].Words + list.Rows[0].Bags[len(list.Rows[0].Bags)-1].Words; !strings.Contains(w, "no room") {
		t.Errorf("the reason is not told: %q", w)
	}
	if r := f.bag(bags[1].Code).Again; r == nil || r.Because != "no room" {
		t.Errorf("the bag keeps %+v", r)
	}
	f.sound()
}

func TestRoomsCountTheirParts(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(5))
	f.days(20)
	for i, place := range []string{"room 2", "room 2 > tier 1", "room 2 > tier 2", "room 20", "room 2 > tier 1"} {
		f.add(bags[i].Code, grow.KindFruiting, grow.Details{Place: place})
	}
	f.add(bags[4].Code, grow.KindFinish, grow.Details{Why: "spent"})
	places := must(f.Places(t.Context()))(t)
	room := must(f.SetCapacity(t.Context(), f.by, places[0].Code, new(2)))(t)
	if free, known := room.Free(); room.Name != "room 2" || room.Bags != 3 || !known || free != 0 {
		t.Errorf("%+v: free %d, known %t", room, free, known)
	}
	room = must(f.RoomNamed(t.Context(), "ROOM 20"))(t)
	if _, known := room.Free(); room.Bags != 1 || known {
		t.Errorf("%+v has a capacity that nobody said", room)
	}
	_, err := f.SetCapacity(t.Context(), f.by, places[0].Code, new(0))
	wantFields(t, "no bag at all", err, "capacity_bags")
	_, err = f.SetCapacity(t.Context(), f.by, bags[0].Code, new(4))
	wantKind(t, "a bag's code", err, grow.NotFound)
	must(f.SetCapacity(t.Context(), f.by, places[0].Code, nil))(t)
	if p := must(f.Places(t.Context()))(t)[0]; p.CapacityBags != nil {
		t.Errorf("still takes %d", *p.CapacityBags)
	}
}
