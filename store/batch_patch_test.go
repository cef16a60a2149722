package store

import (
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// TestPatchBatch: every change is on record with who, when, old and new.
func TestPatchBatch(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	b, bags := f.make(f.king(2, func(d *grow.BatchDraft) {
		d.Strain, d.Note, d.Place = new("K7"), new("first"), new("room 1")
		d.Conditions = map[string]*string{"flow_hood": new("on")}
	}))
	f.days(1)
	office := Actor{PersonID: 2, Person: "Bela Invented", Device: "office", Role: Grower}
	got, err := f.PatchBatch(t.Context(), office, b.Code, func(b *grow.BatchFields) error {
		b.Strain, b.Note, b.SpawnLot, b.Place = new("K8"), nil, new("S-31"), new("room 2")
		return nil
	})
	if err != nil || *got.Strain != "K8" || got.Note != nil || *got.SpawnLot != "S-31" || *got.Place != "room 2" || got.Conditions["flow_hood"] != "on" || got.Code != b.Code {
		t.Fatalf("%+v, %v", got, err)
	}
	at := f.clock.now()
	want := []Change{
		{Field: "note", Old: "first", New: ""}, {Field: "place", Old: "room 1", New: "room 2"},
		{Field: "spawn_lot", Old: "", New: "S-31"}, {Field: "strain", Old: "K7", New: "K8"},
	}
	changes := f.whole(b.Code).Changes
	for i := range want {
		want[i].At, want[i].By, want[i].Device = at, "Bela Invented", "office"
	}
	slices.SortFunc(changes, func(a, b Change) int { return strings.Compare(a.Field, b.Field) })
	if diff := cmp.Diff(want, changes); diff != "" {
		t.Errorf("changes (-want +got):\n%s", diff)
	}
	if g := f.bag(bags[0].Code); *g.Place != "room 2" {
		t.Errorf("a bag that was never moved stands in %q, want room 2 with its batch", *g.Place)
	}
	if _, err := f.PatchBatch(t.Context(), office, b.Code, func(*grow.BatchFields) error { return nil }); err != nil || len(f.whole(b.Code).Changes) != len(want) {
		t.Errorf("changing nothing: %v, %d changes on record", err, len(f.whole(b.Code).Changes))
	}
	f.sound()
}

// TestCorrectionsInWords: a correction is on record as a person reads it, and
// another spelling of the same thing is none.
func TestCorrectionsInWords(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	b, _ := f.make(f.king(1, func(d *grow.BatchDraft) {
		d.Place = new("room 1 > rack 2")
		d.Conditions = map[string]*string{"flow_hood": new("on"), "gloves": new("yes")}
	}))
	place, _, err := f.CreatePlace(t.Context(), f.by, "room 1 > rack 2")
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name   string
		change func(*grow.BatchFields)
		want   []Change
	}{
		{"the place by its code", func(b *grow.BatchFields) { b.Place = new(string(place.Code)) }, nil},
		{"the place in other letters", func(b *grow.BatchFields) { b.Place = new("ROOM 1 > Rack  2") }, nil},
		{"an unknown value where none was", func(b *grow.BatchFields) { b.Conditions["seal"] = new("unknown") }, nil},
		{"another place", func(b *grow.BatchFields) { b.Place = new("room 1 > rack 3") }, []Change{{Field: "place", Old: "room 1 > rack 2", New: "room 1 > rack 3"}}},
		{"quotes and ampersands", func(b *grow.BatchFields) { b.Note = new(`say "hi" & <go>`) }, []Change{{Field: "note", New: `say "hi" & <go>`}}},
		{"conditions one by one", func(b *grow.BatchFields) { b.Conditions["flow_hood"], b.Conditions["gloves"] = new("off"), nil },
			[]Change{{Field: "conditions.flow_hood", Old: "on", New: "off"}, {Field: "conditions.gloves", Old: "yes"}}},
		{"a number", func(b *grow.BatchFields) { b.BagWetG = new(2500.5) }, []Change{{Field: "bag_wet_g", New: "2500.5"}}},
	}
	for _, test := range tests {
		before := len(f.whole(b.Code).Changes)
		if _, err := f.PatchBatch(t.Context(), f.by, b.Code, func(b *grow.BatchFields) error { test.change(b); return nil }); err != nil {
			t.Fatalf("%s: %v", test.name, err)
		}
		changes := f.whole(b.Code).Changes
		got := changes[:len(changes)-before]
		slices.SortFunc(got, func(a, b Change) int { return strings.Compare(a.Field, b.Field) })
		if diff := cmp.Diff(test.want, got, cmpopts.IgnoreFields(Change{}, "At", "By", "Device"), cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, diff)
		}
	}
	f.sound()
}

func TestPatchBatchRefuses(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	b, bags := f.make(f.king(2))
	f.days(1)
	f.add(bags[0].Code, grow.KindLook)
	before := f.everything()
	tests := []struct {
		name   string
		change func(*grow.BatchFields) error
		field  string
	}{
		{"species nobody knows", func(b *grow.BatchFields) error { b.Species = "x"; return nil }, "species"},
		{"no species", func(b *grow.BatchFields) error { b.Species = ""; return nil }, "species"},
		{"no time", func(b *grow.BatchFields) error { b.InoculatedAt = time.Time{}; return nil }, "inoculated_at"},
		{"after a bag was seen", func(b *grow.BatchFields) error { b.InoculatedAt = b.InoculatedAt.Add(40 * time.Hour); return nil }, "inoculated_at"},
		{"a condition that is none", func(b *grow.BatchFields) error { b.Conditions["moon"] = new("full"); return nil }, "conditions.moon"},
		{"a lot that is a bag", func(b *grow.BatchFields) error { b.SpawnLot = new(string(bags[0].Code)); return nil }, "spawn_lot"},
		{"what the caller refuses", func(b *grow.BatchFields) error { p := grow.Problems{"bags": "cannot be changed"}; return p.Err("no") }, "bags"},
	}
	for _, test := range tests {
		_, err := f.PatchBatch(t.Context(), f.by, b.Code, test.change)
		wantFields(t, test.name, err, test.field)
	}
	if _, err := f.PatchBatch(t.Context(), f.by, "NO-SUCH", func(*grow.BatchFields) error { return nil }); grow.KindOf(err) != grow.NotFound {
		t.Errorf("a batch that is not there: %v", err)
	}
	if diff := cmp.Diff(before, f.everything()); diff != "" {
		t.Errorf("a refusal left something behind (-before +after):\n%s", diff)
	}
	if _, err := f.PatchBatch(t.Context(), f.by, b.Code, func(b *grow.BatchFields) error { b.InoculatedAt = b.InoculatedAt.Add(20 * time.Hour); return nil }); err != nil {
		t.Errorf("to the day a bag was first seen: %v", err)
	}
}

// TestPatchNeedsLabels: a correction of what is printed asks for new labels on
// the bags that had theirs, until they are scanned again.
func TestPatchNeedsLabels(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name   string
		change func(*grow.BatchFields)
		want   bool
	}{
		{"species", func(b *grow.BatchFields) { b.Species = "pleurotus-ostreatus" }, true},
		{"strain", func(b *grow.BatchFields) { b.Strain = new("K8") }, true},
		{"another day", func(b *grow.BatchFields) { b.InoculatedAt = b.InoculatedAt.AddDate(0, 0, -1) }, true},
		{"another hour of the day", func(b *grow.BatchFields) { b.InoculatedAt = b.InoculatedAt.Add(-time.Hour) }, false},
		{"a departure", func(b *grow.BatchFields) { b.Conditions["flow_hood"] = new("off") }, true},
		{"a departure taken away", func(b *grow.BatchFields) { b.Conditions["gloves"] = nil }, true},
		{"normal where it was not known", func(b *grow.BatchFields) { b.Conditions["flow_hood"] = new("on") }, false},
		{"note", func(b *grow.BatchFields) { b.Note = new("wet day") }, false},
		{"place", func(b *grow.BatchFields) { b.Place = new("room 3") }, false},
		{"recipe", func(b *grow.BatchFields) { b.Recipe = new("beech") }, false},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			f := newLabFarm(t)
			b, bags := f.make(f.king(2, func(d *grow.BatchDraft) { d.Conditions = map[string]*string{"gloves": new("no")} }))
			f.clock.move(time.Hour)
			f.add(bags[0].Code, grow.KindMarked)
			f.clock.move(time.Hour)
			if _, err := f.PatchBatch(t.Context(), f.by, b.Code, func(b *grow.BatchFields) error { test.change(b); return nil }); err != nil {
				t.Fatal(err)
			}
			w := f.whole(b.Code)
			if w.Bags[0].NeedsLabel != test.want || f.bag(bags[0].Code).NeedsLabel != test.want {
				t.Errorf("the marked bag needs a label: %t, want %t", w.Bags[0].NeedsLabel, test.want)
			}
			if w.Bags[1].NeedsLabel {
				t.Error("a bag without a label needs a new one")
			}
			f.clock.move(time.Hour)
			if f.add(bags[0].Code, grow.KindMarked).NeedsLabel {
				t.Error("scanned again, it still needs a label")
			}
			f.sound()
		})
	}
}
