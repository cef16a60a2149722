package store

import (
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// TestSwapLabels: two labels on each other's bags change number and the
// conditions the bags were made with; what was logged stays with the label.
func TestSwapLabels(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	b, bags := f.make(f.king(3, func(d *grow.BatchDraft) {
		d.BagConditions = []grow.BagConditions{{Bags: "1", Conditions: map[string]*string{"flow_hood": new("off")}}}
	}))
	f.add(bags[0].Code, grow.KindNote, grow.Details{Text: "on the first label"})
	f.days(1)
	if err := f.SwapLabels(t.Context(), f.by, bags[0].Code, bags[1].Code); err != nil {
		t.Fatal(err)
	}
	first, second := f.bag(bags[0].Code), f.bag(bags[1].Code)
	if first.Number != 2 || second.Number != 1 || len(first.Entries) != 1 || len(second.Entries) != 0 {
		t.Errorf("numbers %d and %d, entries %d and %d", first.Number, second.Number, len(first.Entries), len(second.Entries))
	}
	if conditionOf(first, "flow_hood").Departure || !conditionOf(second, "flow_hood").Departure {
		t.Error("the conditions of making do not go with the number")
	}
	if w := f.whole(b.Code); len(w.Changes) != 2 || w.Bags[0].Code != bags[1].Code {
		t.Errorf("changes %v, first bag %s", w.Changes, w.Bags[0].Code)
	}
	other, more := f.make(f.king(1, func(d *grow.BatchDraft) { d.Species = "hericium-erinaceus" }))
	if err := f.SwapLabels(t.Context(), f.by, bags[2].Code, more[0].Code); err != nil {
		t.Fatal(err)
	}
	if x, y := f.bag(bags[2].Code), f.bag(more[0].Code); x.Batch.Code != other.Code || x.Number != 1 || y.Batch.Code != b.Code || y.Number != 3 {
		t.Errorf("over batches: %s %d and %s %d", x.Batch.Code, x.Number, y.Batch.Code, y.Number)
	}
	for code, want := range map[grow.Code]Relabel{
		bags[2].Code: {By: f.by.Person, Old: bags[2].Code, New: more[0].Code, Was: string(b.Code) + " #3", Is: string(other.Code) + " #1", Swap: true},
		more[0].Code: {By: f.by.Person, Old: more[0].Code, New: bags[2].Code, Was: string(other.Code) + " #1", Is: string(b.Code) + " #3", Swap: true},
	} {
		got, err := f.Relabels(t.Context(), code)
		if diff := cmp.Diff([]Relabel{want}, got, cmpopts.IgnoreFields(Relabel{}, "At")); err != nil || diff != "" {
			t.Errorf("%s on record: %v (-want +got):\n%s", code, err, diff)
		}
	}
	before := f.everything()
	if err := f.SwapLabels(t.Context(), f.by, bags[0].Code, bags[0].Code); grow.KindOf(err) != grow.Invalid || err == nil {
		t.Errorf("with itself: %v", err)
	}
	if err := f.SwapLabels(t.Context(), f.by, bags[0].Code, "00000000"); grow.KindOf(err) != grow.NotFound {
		t.Errorf("with a code nobody made: %v", err)
	}
	if diff := cmp.Diff(before, f.everything()); diff != "" {
		t.Errorf("a refusal left something behind (-before +after):\n%s", diff)
	}
	f.sound()
}

// TestSwapInAFullBatch: where every number is taken there is no room to change
// places; that is said, and nothing is half done.
func TestSwapInAFullBatch(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(grow.MostBags))
	err := f.SwapLabels(t.Context(), f.by, bags[0].Code, bags[1999].Code)
	if err == nil || grow.KindOf(err) != grow.Conflict || !strings.Contains(err.Error(), "no room") {
		t.Errorf("%v, want a conflict in plain words", err)
	}
	if a, b := f.bag(bags[0].Code), f.bag(bags[1999].Code); a.Number != 1 || b.Number != 2000 {
		t.Errorf("numbers %d and %d, want 1 and 2000", a.Number, b.Number)
	}
}

// TestNewLabel: the bag gets another code, the old one still opens it, and an
// entry sent under the old one arrives.
func TestNewLabel(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(2))
	old := bags[0].Code
	sent := grow.Draft{ID: f.id(), Bag: old, Kind: grow.KindLook}
	if _, _, _, err := f.AddEntry(t.Context(), f.by, sent); err != nil {
		t.Fatal(err)
	}
	code, err := f.NewLabel(t.Context(), f.by, old, nil)
	if err != nil || code == old {
		t.Fatal(code, err)
	}
	blank, _, err := f.CreateBlanks(t.Context(), f.by, LabelsDraft{Count: 1})
	if err != nil {
		t.Fatal(err)
	}
	last, err := f.NewLabel(t.Context(), f.by, old, &blank[0].Code)
	if err != nil || last != blank[0].Code {
		t.Fatal(last, err)
	}
	for _, c := range []grow.Code{old, code, last} {
		g := f.bag(c)
		if g.Code != last || g.Number != 1 || g.ReplacedCode != (c != last) || g.Entries[0].Bag != last {
			t.Errorf("%s opens %s (number %d), replaced %t", c, g.Code, g.Number, g.ReplacedCode)
		}
	}
	if _, g, created, err := f.AddEntry(t.Context(), f.by, sent); err != nil || created || g.Code != last {
		t.Errorf("the same entry again under the old code: created %t, bag %s, %v", created, g.Code, err)
	}
	f.add(code, grow.KindShake)
	what, err := f.WhatIs(t.Context(), []grow.Code{old, last, bags[1].Code, "00000000"})
	if err != nil || len(what) != 3 || what[old].Number != 1 || what[old].Kind != grow.BagCode {
		t.Errorf("what they are: %+v, %v", what, err)
	}
	used, err := f.NewLabel(t.Context(), f.by, bags[1].Code, &blank[0].Code)
	if err == nil || grow.KindOf(err) == grow.Internal {
		t.Errorf("a label that is on a bag already: %s, %v", used, err)
	}
	f.sound()
}
