package store

import (
	"fmt"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func (f *labFarm) due(after string, limit int) DuePage {
	f.t.Helper()
	page, err := f.Due(f.t.Context(), after, limit)
	if err != nil {
		f.t.Fatal(err)
	}
	return page
}

// whysOf are the reasons by bag number.
func whysOf(items []DueItem) map[int]string {
	out := map[int]string{}
	for _, i := range items {
		out[i.Number] = fmt.Sprint(i.Why, " ", i.Since)
	}
	return out
}

// TestDueWhys has one bag due for each reason, on day 33: king oyster of 14 to
// 28 days, ready from day 19 (rounded up from 18.50), late from day 33 (19 of 20
// are done by day 32.38).
func TestDueWhys(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	b, bags := f.make(f.king(12))
	f.days(33)
	f.add(bags[1].Code, grow.KindContaminated, grow.Details{What: "cobweb"})
	f.add(bags[2].Code, grow.KindAgain, grow.Details{On: new(grow.DateOn(2026, 12, 20))})
	ago := func(days float64) *time.Time {
		v := f.clock.now().Add(-time.Duration(days * 24 * float64(time.Hour)))
		return &v
	}
	at := func(bag int, kind grow.EntryKind, days float64, details grow.Details) {
		if _, _, _, err := f.AddEntry(t.Context(), f.by, grow.Draft{ID: f.id(), Bag: bags[bag].Code, Kind: kind, At: ago(days), Details: details}); err != nil {
			t.Fatal(err)
		}
	}
	at(3, grow.KindLook, 3, grow.Details{})
	at(3, grow.KindWatch, 3, grow.Details{})
	at(4, grow.KindLook, 1, grow.Details{})
	at(5, grow.KindColonised, 15, grow.Details{Pct: new(100.0)}) // grown over on day 18, ready from day 23
	at(6, grow.KindFruiting, 4, grow.Details{})
	at(7, grow.KindFruiting, 3, grow.Details{})
	at(8, grow.KindCull, 3, grow.Details{})
	at(9, grow.KindFinish, 3, grow.Details{Why: "sold"})
	at(10, grow.KindContaminated, 5, grow.Details{What: "cobweb"})
	at(10, grow.KindIsolate, 1, grow.Details{})
	at(11, grow.KindSign, 1, grow.Details{Sign: "pins"})
	at(11, grow.KindColonised, 1, grow.Details{Pct: new(100.0)})
	page := f.due("", 0)
	want := map[int]string{1: "unmarked 2026-11-22", 2: "remove 2026-12-25", 3: "again 2026-12-20", 4: "watch 2026-12-23", 5: "overdue 2026-12-25",
		6: "ready 2026-12-15", 7: "check 2026-12-25", 12: "ready 2026-12-24"}
	if diff := cmp.Diff(want, whysOf(page.Items)); diff != "" {
		t.Errorf("due (-want +got):\n%s", diff)
	}
	counts := map[grow.Why]int{"remove": 1, "again": 1, "watch": 1, "unmarked": 1, "overdue": 1, "ready": 2, "first_look": 0, "check": 1}
	if diff := cmp.Diff(counts, page.Counts); diff != "" {
		t.Errorf("counts (-want +got):\n%s", diff)
	}
	if !page.AsOf.Equal(f.clock.now()) || page.Next != nil {
		t.Errorf("as of %s, next %v", page.AsOf, page.Next)
	}
	rank := map[grow.Why]int{}
	for i, why := range grow.Whys {
		rank[why] = i
	}
	for i, item := range page.Items {
		if item.Batch != b.Code || item.Words == "" || i > 0 && rank[item.Why] < rank[page.Items[i-1].Why] {
			t.Errorf("item %d: %+v", i, item)
		}
	}
	if g := f.bag(bags[5].Code); g.Due == nil || g.Due.Why != grow.DueReady {
		t.Errorf("the bag's page says due for %+v", g.Due)
	}
}

func TestDueFirstLookAndLabelsLater(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	_, bags := f.make(f.king(3, func(d *grow.BatchDraft) { d.LabelsLater = new(grow.DateOn(2026, 11, 25)) }))
	f.add(bags[0].Code, grow.KindMarked)
	if page := f.due("", 0); len(page.Items) != 0 || page.Items == nil {
		t.Errorf("on the day it was made, labels to come: %+v", page.Items)
	}
	f.days(3)
	unmarked := map[int]string{2: "unmarked 2026-11-25", 3: "unmarked 2026-11-25"}
	if diff := cmp.Diff(unmarked, whysOf(f.due("", 0).Items)); diff != "" {
		t.Errorf("on the day of the labels (-want +got):\n%s", diff)
	}
	f.days(4)
	unmarked[1] = "first_look 2026-11-29"
	if diff := cmp.Diff(unmarked, whysOf(f.due("", 0).Items)); diff != "" {
		t.Errorf("on day 7 (-want +got):\n%s", diff)
	}
	if err := f.putSettings(Settings{TimeZone: "Europe/Lisbon", Margin: 0.05, FirstLookDay: 10, Units: "metric"}); err != nil {
		t.Fatal(err)
	}
	unmarked[1] = "check 2026-11-26"
	if diff := cmp.Diff(unmarked, whysOf(f.due("", 0).Items)); diff != "" {
		t.Errorf("on day 7 of a farm that looks on day 10 (-want +got):\n%s", diff)
	}
}

// TestDuePages: pages lose and repeat nothing; counts are of all.
func TestDuePages(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.make(f.king(7, func(d *grow.BatchDraft) { d.Place = new("rack 2") }))
	f.make(f.king(4, func(d *grow.BatchDraft) { d.Place = new("Rack 1") }))
	f.make(f.king(2))
	for _, limit := range []int{1, 3, 13, 200} {
		var got []string
		after := ""
		for {
			page := f.due(after, limit)
			if page.Counts[grow.DueUnmarked] != 13 {
				t.Fatalf("counts %v", page.Counts)
			}
			for _, i := range page.Items {
				place := "-"
				if i.Place != nil {
					place = *i.Place
				}
				got = append(got, fmt.Sprint(place, " ", i.Number))
			}
			if page.Next == nil {
				break
			}
			after = *page.Next
		}
		want := []string{"Rack 1 1", "Rack 1 2", "Rack 1 3", "Rack 1 4", "rack 2 1", "rack 2 2", "rack 2 3", "rack 2 4", "rack 2 5", "rack 2 6", "rack 2 7", "- 1", "- 2"}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("by %d (-want +got):\n%s", limit, diff)
		}
	}
	for _, after := range []string{"x", "-1"} {
		_, err := f.Due(t.Context(), after, 0)
		wantFields(t, after, err, "after")
	}
	_, err := f.Due(t.Context(), "", 201)
	wantFields(t, "too many", err, "limit")
}

// TestDuePagesWhileWorking: what is done between two pages hides no bag of the
// next one.
func TestDuePagesWhileWorking(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(7))
	first := f.due("", 3)
	if len(first.Items) != 3 || first.Next == nil {
		t.Fatalf("%d bags on the first page", len(first.Items))
	}
	for _, bag := range bags[:3] {
		f.add(bag.Code, grow.KindMarked)
	}
	var got []int
	for _, i := range f.due(*first.Next, 200).Items {
		got = append(got, i.Number)
	}
	if diff := cmp.Diff([]int{4, 5, 6, 7}, got); diff != "" {
		t.Errorf("the second page (-want +got):\n%s", diff)
	}
}

// TestToday gathers the bags due into sentences.
func TestToday(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	empty, err := f.Today(t.Context())
	if err != nil || !empty.Empty || len(empty.Sentences) != 0 {
		t.Errorf("an empty farm: %+v, %v", empty, err)
	}
	b, bags := f.make(f.king(6, func(d *grow.BatchDraft) { d.Place = new("rack 2") }))
	for _, g := range bags[:4] {
		f.add(g.Code, grow.KindMarked)
	}
	f.days(7)
	f.add(bags[0].Code, grow.KindContaminated, grow.Details{What: "green_mould"})
	today, err := f.Today(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	name := b.SpeciesName
	got := map[grow.Task]string{}
	for _, s := range today.Sentences {
		got[s.Task] = fmt.Sprint(s.Words, " (", len(s.Bags), ")")
	}
	want := map[grow.Task]string{"Out": "1 " + name + ", rack 2 (1)", "Mark": "2 " + name + ", rack 2 (2)", "Hunt": "3 " + name + ", day 7 (3)"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("sentences (-want +got):\n%s", diff)
	}
	if today.Date != grow.DateOn(2026, 11, 29) || today.InCare != 6 || today.Empty {
		t.Errorf("%s, %d bags in care, empty %t", today.Date, today.InCare, today.Empty)
	}
	if diff := cmp.Diff([]UnmarkedBatch{{Batch: b.Code, Species: name, Unmarked: 2, Bags: 6}}, today.Unmarked); diff != "" {
		t.Errorf("unmarked (-want +got):\n%s", diff)
	}
}
