package store

import (
	"strings"
	"sync"
	"testing"

	"bagmark/grow"
)

func TestFindBags(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	king, bags := f.make(f.king(3))
	lion, lions := f.make(f.king(2, func(d *grow.BatchDraft) { d.Species = "hericium-erinaceus" }))
	f.days(3)
	f.add(bags[0].Code, grow.KindCull)
	f.add(bags[1].Code, grow.KindMove, grow.Details{Place: "rack 2"})
	find := func(text string) []BagHit {
		t.Helper()
		hits, err := f.FindBags(t.Context(), text)
		if err != nil {
			t.Fatal(err)
		}
		return hits
	}
	if hits := find(strings.ToLower(bags[1].Code.Spaced())); len(hits) != 1 || hits[0].Code != bags[1].Code || *hits[0].Place != "rack 2" || hits[0].Day != 3 || hits[0].Number != 2 {
		t.Errorf("by a whole code: %+v", hits)
	}
	if hits := find(string(bags[1].Code[:5])); len(hits) != 1 {
		t.Errorf("by the beginning of a code: %+v", hits)
	}
	if hits := find(strings.ToLower(string(lion.Code))); len(hits) != 2 || hits[0].Batch != lion.Code {
		t.Errorf("by a batch: %+v", hits)
	}
	hits := find("king oyster")
	if len(hits) != 3 || hits[2].Code != bags[0].Code || hits[0].Batch != king.Code {
		t.Errorf("by a species, those out last: %+v", hits)
	}
	for _, text := range []string{"no such thing", "*", "[", "%"} {
		if hits := find(text); len(hits) > len(bags)+len(lions) {
			t.Errorf("%q finds %+v", text, hits)
		}
	}
	if hits := find("zz no such thing"); len(hits) != 0 || hits == nil {
		t.Errorf("nothing finds %+v", hits)
	}
	f.make(f.king(60))
	if hits := find("king oyster"); len(hits) != mostHits {
		t.Errorf("%d hits, want at most %d", len(hits), mostHits)
	}
}

// TestWhatIs says what each code stands for; one that the farm never made is
// not among the answers.
func TestWhatIs(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	b, bags := f.make(f.king(2, func(d *grow.BatchDraft) { d.Place, d.SpawnLot = new("room 1"), new("S-31") }))
	blanks, _, err := f.CreateBlanks(t.Context(), f.by, LabelsDraft{Count: 1})
	if err != nil {
		t.Fatal(err)
	}
	places, err := f.Places(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	lots, err := f.Lots(t.Context(), LotFilter{})
	if err != nil {
		t.Fatal(err)
	}
	cards, err := f.Cards(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	want := map[grow.Code]Thing{bags[1].Code: {Kind: grow.BagCode, Batch: b.Code, Number: 2, State: grow.Unmarked}, blanks[0].Code: {Kind: grow.BlankCode},
		places[0].Code: {Kind: grow.PlaceCode, Name: "room 1"}, lots.Lots[0].Code: {Kind: grow.LotCode, Name: "S-31"}, cards[0].Code: {Kind: grow.CardCode, Name: cards[0].Does}}
	codes := []grow.Code{"00000000"}
	for c := range want {
		codes = append(codes, c)
	}
	got, err := f.WhatIs(t.Context(), codes)
	if err != nil || len(got) != len(want) {
		t.Errorf("%d answers, %v; want %d", len(got), err, len(want))
	}
	for c, w := range want {
		if got[c] != w {
			t.Errorf("%s is %+v, want %+v", c, got[c], w)
		}
	}
	known, err := f.KnownCodes(t.Context())
	if err != nil || known[0].Kind != grow.BagCode || len(known) != 2+1+1+1+len(cards) {
		t.Errorf("%d known codes, %v; want each once, bags in care first", len(known), err)
	}
	f.add(bags[0].Code, grow.KindCull)
	if fewer, err := f.KnownCodes(t.Context()); err != nil || len(fewer) > len(known) {
		t.Errorf("%d known codes, %v", len(fewer), err)
	}
}

// TestReadersAtOnce: more readers than connections, just after the farm's
// settings have been forgotten, do not wait for each other.
func TestReadersAtOnce(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(4, func(d *grow.BatchDraft) { d.Place = new("room 1") }))
	places, err := f.Places(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	for range 32 {
		all.Go(func() {
			f.forgetFarm()
			if w, err := f.Place(t.Context(), places[0].Code); err != nil || len(w.Bags) != 4 {
				t.Errorf("%d bags, %v", len(w.Bags), err)
			}
			if _, err := f.FindBags(t.Context(), "king"); err != nil {
				t.Error(err)
			}
			if _, err := f.Bag(t.Context(), bags[0].Code); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
}
