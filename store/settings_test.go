package store

import (
	"sync"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func TestPutSettings(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	farm, err := f.Farm(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if s := farm.Settings; s.Margin != 0.05 || s.FirstLookDay != 7 || s.TimeZone != "Europe/Lisbon" || s.Public != "" || s.Units != "metric" || s.Writing != grow.UnitsOf("metric") {
		t.Errorf("a new farm has %+v", s)
	}
	want := Settings{Name: "Invented Farm", TimeZone: "Australia/Lord_Howe", Public: "http://farm.local:8080/", Margin: 0.1, FirstLookDay: 5, Units: "imperial", Grown: []grow.Slug{"pleurotus-eryngii"}}
	if err := f.putSettings(want); err != nil {
		t.Fatal(err)
	}
	want.Public, want.Writing = "http://FARM.LOCAL:8080", grow.UnitsOf("imperial")
	farm, err = f.Farm(t.Context())
	if diff := cmp.Diff(want, farm.Settings); err != nil || diff != "" {
		t.Errorf("%v (-want +got):\n%s", err, diff)
	}
	if f.Zone(t.Context()).String() != "Australia/Lord_Howe" {
		t.Errorf("zone %s", f.Zone(t.Context()))
	}
	before := f.everything()
	bad := Settings{Name: "x", TimeZone: "Local", Public: "ftp://x", Margin: 1, FirstLookDay: 0, Units: "cubits", Grown: []grow.Slug{"x"},
		Writing: Writing{Temperature: "k", Weight: "stone", Paper: "a5", Clock: "10", WeekStarts: "friday"}}
	wantFields(t, "nothing right", f.putSettings(bad), "clock", "first_look_day", "grown", "margin", "paper", "public", "temperature", "time_zone", "units", "week_starts", "weight")
	if diff := cmp.Diff(before, f.everything()); diff != "" {
		t.Errorf("a refusal left something behind (-before +after):\n%s", diff)
	}
}

// TestSettingsChangedAtOnce: nobody's change of one setting undoes another's.
func TestSettingsChangedAtOnce(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	const people, changes = 4, 10
	var at sync.WaitGroup
	for range people {
		at.Go(func() {
			for range changes {
				if err := f.PutSettings(t.Context(), f.by, func(s *Settings) error { s.FirstLookDay++; return nil }); err != nil {
					t.Error(err)
				}
			}
		})
	}
	at.Wait()
	farm, err := f.Farm(t.Context())
	if err != nil || farm.FirstLookDay != 7+people*changes {
		t.Errorf("first look on day %d after %d changes by one: %v", farm.FirstLookDay, people*changes, err)
	}
}

// TestCountsOfTheFarmAsItIs: what was read by the settings of a moment ago is
// not counted by today's.
func TestCountsOfTheFarmAsItIs(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.make(f.king(1))
	f.clock.move(10 * time.Hour)
	old, err := f.Farm(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if err := f.PutSettings(t.Context(), f.by, func(s *Settings) error { s.TimeZone = "America/New_York"; return nil }); err != nil {
		t.Fatal(err)
	}
	stale, err := f.recordsNow(t.Context(), old) // by one who asked for the farm just before
	if err != nil || stale.bags[0].bag.Age != 1 {
		t.Fatalf("in Lisbon it is day %d, want 1: %v", stale.bags[0].bag.Age, err)
	}
	now, err := f.Farm(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if r, err := f.recordsNow(t.Context(), now); err != nil || r.bags[0].bag.Age != 0 {
		t.Errorf("in New York it is day %d, want 0: %v", r.bags[0].bag.Age, err)
	}
}

// TestZoneMovesDays: days and dates are the farm's; they follow its zone.
func TestZoneMovesDays(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	b, bags := f.make(f.king(1)) // 15:00 UTC on 22 November
	f.clock.move(10 * 3600e9)    // 01:00 UTC on the 23rd
	for zone, want := range map[string]int{"Europe/Lisbon": 1, "America/New_York": 0, "Pacific/Auckland": 0, "UTC": 1} {
		if err := f.putSettings(Settings{TimeZone: zone, Margin: 0.05, FirstLookDay: 7, Units: "metric"}); err != nil {
			t.Fatal(err)
		}
		if g := f.bag(bags[0].Code); g.Day != want || f.whole(b.Code).Bags[0].Day != want {
			t.Errorf("in %s it is day %d, want %d", zone, g.Day, want)
		}
	}
}
