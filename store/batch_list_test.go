package store

import (
	"slices"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// pagesOf walks a list to its end by its cursors.
func (f *labFarm) pagesOf(q BatchFilter) (codes []grow.BatchCode, pages int) {
	f.t.Helper()
	for {
		page, err := f.Batches(f.t.Context(), q)
		if err != nil {
			f.t.Fatal(err)
		}
		pages++
		for _, b := range page.Batches {
			codes = append(codes, b.Code)
		}
		if page.Next == nil {
			return codes, pages
		}
		q.After = *page.Next
	}
}

// TestBatchesInOrder: newest inoculation first, then by code; cursors lose and
// repeat nothing, also between batches of one instant.
func TestBatchesInOrder(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	var want []grow.BatchCode
	var old Batch
	for i, species := range []grow.Slug{"hericium-erinaceus", "pleurotus-eryngii", "lentinula-edodes", "pleurotus-eryngii", "pleurotus-ostreatus"} {
		b, _ := f.make(f.king(1, func(d *grow.BatchDraft) { d.Species = species }))
		want = append(want, b.Code)
		if i == 0 {
			old, _ = f.make(f.king(1, func(d *grow.BatchDraft) { d.InoculatedAt = f.clock.now().Add(-48 * time.Hour) }))
		}
	}
	slices.Sort(want)
	newest, _ := f.make(f.king(1, func(d *grow.BatchDraft) { d.InoculatedAt = f.clock.now().Add(time.Hour) }))
	want = append(append([]grow.BatchCode{newest.Code}, want...), old.Code)
	for limit := 1; limit <= 8; limit++ {
		got, pages := f.pagesOf(BatchFilter{Limit: limit})
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("by %d (-want +got):\n%s", limit, diff)
		}
		if wantPages := (len(want) + limit - 1) / limit; pages != wantPages {
			t.Errorf("by %d: %d pages, want %d", limit, pages, wantPages)
		}
	}
}

// TestBatchFilters: dates are the farm's, both included.
func TestBatchFilters(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	if err := f.putSettings(Settings{TimeZone: "America/New_York", Margin: 0.05, FirstLookDay: 7, Units: "metric"}); err != nil {
		t.Fatal(err)
	}
	at := func(text string, change ...func(*grow.BatchDraft)) grow.BatchCode {
		when, err := time.Parse(time.RFC3339, text)
		if err != nil {
			t.Fatal(err)
		}
		b, bags := f.make(f.king(2, append(change, func(d *grow.BatchDraft) { d.InoculatedAt = when })...))
		if b.Species == "hericium-erinaceus" {
			f.add(bags[1].Code, grow.KindCull)
		}
		return b.Code
	}
	lion := func(d *grow.BatchDraft) { d.Species = "hericium-erinaceus" }
	before := at("2026-11-20T04:59:59Z") // 19 November in New York
	first := at("2026-11-20T05:00:00Z", lion)
	last := at("2026-11-21T04:59:59Z", func(d *grow.BatchDraft) { d.LabDay = new("Friday") })
	after := at("2026-11-21T05:00:00Z")
	d := func(day int) *grow.Date { v := grow.DateOn(2026, 11, day); return &v }
	tests := []struct {
		name string
		q    BatchFilter
		want []grow.BatchCode
	}{
		{"all", BatchFilter{}, []grow.BatchCode{after, last, first, before}},
		{"one day", BatchFilter{From: d(20), To: d(20)}, []grow.BatchCode{last, first}},
		{"from", BatchFilter{From: d(20)}, []grow.BatchCode{after, last, first}},
		{"to", BatchFilter{To: d(20)}, []grow.BatchCode{last, first, before}},
		{"backwards", BatchFilter{From: d(21), To: d(20)}, nil},
		{"species", BatchFilter{Species: "hericium-erinaceus"}, []grow.BatchCode{first}},
		{"a bag in that state", BatchFilter{State: grow.Culled}, []grow.BatchCode{first}},
		{"no bag in that state", BatchFilter{State: grow.Fruiting}, nil},
		{"state and species", BatchFilter{State: grow.Unmarked, Species: "hericium-erinaceus"}, []grow.BatchCode{first}},
		{"lab day", BatchFilter{LabDay: "Friday"}, []grow.BatchCode{last}},
	}
	for _, test := range tests {
		got, _ := f.pagesOf(test.q)
		if diff := cmp.Diff(test.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, diff)
		}
	}
	for field, q := range map[string]BatchFilter{"species": {Species: "x"}, "state": {State: "happy"}, "after": {After: "1"}, "limit": {Limit: 201}} {
		_, err := f.Batches(t.Context(), q)
		wantFields(t, field, err, field)
	}
	_, err := f.Batches(t.Context(), BatchFilter{Limit: -1})
	wantFields(t, "a negative limit", err, "limit")
}
