package store

import (
	"reflect"
	"testing"

	"bagmark/grow"
)

// TestRecordsFollowTheLog: records put right bag by bag, and what was worked out
// from them, are those that reading the whole farm anew gives; so is what is due.
func TestRecordsFollowTheLog(t *testing.T) {
	t.Parallel()
	f, bags := experiment(t, 2)
	code := func(i int) grow.Code { return bags[i].Code }
	asked := func() {
		f.trace(code(0))
		if _, err := f.Contamination(t.Context(), ContaminationQuery{By: "gloves"}); err != nil {
			t.Fatal(err)
		}
	}
	asked()
	before, err := f.recordsNow(t.Context(), mustFarm(f))
	if err != nil {
		t.Fatal(err)
	}
	was := before.bags[7]
	var others []BagRef
	set := func(value, basis string) grow.Details {
		return grow.Details{Key: "gloves", Value: grow.KnownValue(value), Basis: basis}
	}
	for _, step := range []struct {
		name string
		do   func()
	}{
		{"nothing", func() {}},
		{"a condition", func() { f.add(code(7), grow.KindCondition, set("no", "")) }},
		{"a guess", func() { f.add(code(8), grow.KindCondition, set("no", "guess")) }},
		{"two bags", func() {
			f.add(code(9), grow.KindContaminated, grow.Details{What: "cobweb"})
			f.add(code(10), grow.KindColonised, grow.Details{Pct: new(50.0)})
		}},
		{"a condition after the find", func() { f.add(code(9), grow.KindCondition, set("no", "")) }},
		{"out", func() { f.add(code(11), grow.KindCull, grow.Details{Why: "leak"}) }},
		{"taken back", func() { f.add(code(11), grow.KindVoid, grow.Details{Entry: f.bag(code(11)).Entries[0].ID}) }},
		{"two more batches", func() {
			_, third := f.make(f.king(2))
			f.days(13)
			_, others = f.make(f.king(6))
			f.days(12)
			for _, g := range others {
				f.add(g.Code, grow.KindColonised, grow.Details{Full: new(false)})
			}
			f.add(third[0].Code, grow.KindColonised, grow.Details{Pct: new(60.0)})
			f.days(1)
		}},
		{"another batch is looked at", func() { f.add(others[0].Code, grow.KindLook) }},
		{"another batch grows over, which sharpens forecasts", func() {
			for _, g := range others[:4] {
				f.add(g.Code, grow.KindColonised, grow.Details{Pct: new(100.0)})
			}
		}},
		{"moved", func() { f.add(code(12), grow.KindMove, grow.Details{Place: "room 9"}) }},
		{"the next day", func() { f.days(1) }},
	} {
		step.do()
		farm := mustFarm(f)
		kept, err := f.recordsNow(t.Context(), farm)
		if err != nil {
			t.Fatal(err)
		}
		var fresh *records
		if err := f.reading(t.Context(), func(x *tx) (err error) { fresh, err = x.loadRecords(farm); return err }); err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(kept.bags, fresh.bags) || !reflect.DeepEqual(kept.places, fresh.places) || !reflect.DeepEqual(kept.batches, fresh.batches) {
			t.Errorf("%s: the records differ", step.name)
		}
		for _, key := range farm.Comparable() {
			if !reflect.DeepEqual(kept.column(farm, key, kept.bags), fresh.makeColumn(farm, key, fresh.bags)) {
				t.Errorf("%s: the column %s differs", step.name, key)
			}
		}
		if !reflect.DeepEqual(kept.traceBags(kept.bags), makeTraceBags(fresh.bags)) {
			t.Errorf("%s: the bags differ", step.name)
		}
		due, _, err := f.allDue(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		again, _, _ := f.allDue(t.Context())
		keptItems := f.counts.due
		f.counts.due = keptDue{}
		anew, _, _ := f.allDue(t.Context())
		f.counts.due = keptItems
		if !reflect.DeepEqual(due, anew) || !reflect.DeepEqual(again, anew) {
			t.Errorf("%s: what is due differs", step.name)
		}
		asked()
	}
	if !reflect.DeepEqual(before.bags[7], was) {
		t.Error("records that somebody holds were changed")
	}
}

func mustFarm(f *labFarm) *Farm {
	f.t.Helper()
	farm, err := f.Farm(f.t.Context())
	if err != nil {
		f.t.Fatal(err)
	}
	return farm
}
