package store

import (
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

type day struct {
	Kind     CalendarKind
	Bags     int
	From, To string
}

func (f *deskFarm) calendar(t *testing.T, secret string) (out []day) {
	t.Helper()
	c := must(f.Calendar(t.Context(), secret))(t)
	for _, e := range c.Events {
		out = append(out, day{e.Kind, e.Bags, e.From.String(), e.To.String()})
	}
	return out
}

// TestCalendarEvents: bags made on 14 March of a species of 14 to 28 days, which
// then ripens for 5 to 9, first looked at on day 7.
func TestCalendarEvents(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	if err := f.PutSpecies(t.Context(), f.owner, grow.Override{Slug: "pleurotus-eryngii", Days: &[3]float64{14, 20, 28}, RipeningDays: &[2]float64{5, 9}}); err != nil {
		t.Fatal(err)
	}
	_, bags, _, err := f.CreateBatch(t.Context(), f.owner, grow.BatchDraft{Bags: 4, BatchFields: grow.BatchFields{Species: "pleurotus-eryngii", InoculatedAt: f.clock.now()}})
	if err != nil {
		t.Fatal(err)
	}
	secret := must(f.NewCalendar(t.Context(), f.owner))(t)
	whole := must(f.Bag(t.Context(), bags[0].Code))(t)
	ready := day{CalendarReady, 4, whole.Forecast.Ready.Earliest.String(), whole.Forecast.Ready.Latest.String()}
	got := f.calendar(t, secret)
	if len(got) != 3 {
		t.Fatalf("events: %+v", got)
	}
	if diff := cmp.Diff([]day{{CalendarFirstLook, 4, "2026-03-21", "2026-03-21"}, ready}, got[:2]); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	// 95 of 100 are grown over by the day before: later than the middle of the
	// range by far, and no later than well after its end.
	if o := got[2]; o.Kind != CalendarOverdue || o.From < "2026-04-08" || o.From > "2026-04-20" || o.To != o.From {
		t.Errorf("overdue: %+v", o)
	}

	f.log(t, grow.Draft{Bag: bags[0].Code, Kind: grow.KindMarked})
	f.log(t, grow.Draft{Bag: bags[0].Code, Kind: grow.KindLook})
	f.log(t, grow.Draft{Bag: bags[1].Code, Kind: grow.KindContaminated, Details: grow.Details{What: "cobweb"}})
	f.log(t, grow.Draft{Bag: bags[2].Code, Kind: grow.KindColonised, Details: grow.Details{Pct: new(100.0)}})
	f.log(t, grow.Draft{Bag: bags[3].Code, Kind: grow.KindCull})
	counts := map[CalendarKind]int{}
	for _, e := range f.calendar(t, secret) {
		counts[e.Kind] = e.Bags
	}
	if diff := cmp.Diff(map[CalendarKind]int{CalendarReady: 2, CalendarOverdue: 1}, counts); diff != "" {
		t.Errorf("after a look, a find, a bag grown over and one out (-want +got):\n%s", diff)
	}
}

func TestCalendarAddresses(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	if since := must(f.CalendarSince(t.Context(), f.owner))(t); since != nil {
		t.Errorf("an address since %s", since)
	}
	first := must(f.NewCalendar(t.Context(), f.owner))(t)
	if len(first) != 26 || f.calendar(t, first) != nil {
		t.Errorf("the address is %q", first)
	}
	second := must(f.NewCalendar(t.Context(), f.owner))(t)
	f.calendar(t, second)
	if since := must(f.CalendarSince(t.Context(), f.owner))(t); since == nil || !since.Equal(f.clock.now()) {
		t.Errorf("an address since %v", since)
	}
	refused := func(what, secret string) {
		t.Helper()
		_, err := f.Calendar(t.Context(), secret)
		wantKind(t, what, err, grow.NotFound)
	}
	refused("the address before", first)
	refused("no address", "")
	if err := f.EndCalendar(t.Context(), f.owner); err != nil {
		t.Fatal(err)
	}
	refused("an ended address", second)
	_, err := f.NewCalendar(t.Context(), Actor{DeviceID: 3, Role: Owner})
	wantKind(t, "a token", err, grow.Forbidden)

	ines := must(f.AddPerson(t.Context(), f.owner, "Ines Invented", Viewer, ""))(t)
	hers := must(f.NewCalendar(t.Context(), Actor{PersonID: ines.ID, Role: Viewer}))(t)
	f.calendar(t, hers)
	if err := f.EndPerson(t.Context(), f.owner, ines.ID); err != nil {
		t.Fatal(err)
	}
	refused("of a person who was ended", hers)
}
