package store

import (
	"math"
	"strings"
	"testing"

	"bagmark/grow"
	"bagmark/grow/trace"

	"github.com/google/go-cmp/cmp"
)

func (f *labFarm) compare(q CompareQuery) trace.Times {
	f.t.Helper()
	out, err := f.Compare(f.t.Context(), q)
	if err != nil {
		f.t.Fatal(err)
	}
	return out
}

// TestCompareCounts: events, bags under way and bags gone add up to the bags
// whose value is known; a plain look says nothing of growth.
func TestCompareCounts(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	_, bags := f.make(f.king(10, func(d *grow.BatchDraft) {
		d.Conditions = map[string]*string{"flow_hood": new("on")}
		d.BagConditions = []grow.BagConditions{{Bags: "1-4", Conditions: map[string]*string{"flow_hood": new("off")}}, {Bags: "10", Conditions: map[string]*string{"flow_hood": nil}}}
	}))
	grown := func(i int, pct float64) { f.add(bags[i].Code, grow.KindColonised, grow.Details{Pct: &pct}) }
	f.days(6)
	f.add(bags[5].Code, grow.KindColonised, grow.Details{Full: new(false)})
	f.days(4)
	grown(0, 40)
	f.add(bags[1].Code, grow.KindLook)
	f.add(bags[2].Code, grow.KindContaminated, grow.Details{What: "cobweb"})
	f.add(bags[6].Code, grow.KindSign, grow.Details{Sign: "started"})
	f.days(4)
	for _, i := range []int{0, 1, 2, 5, 9} {
		grown(i, 100)
	}
	f.add(bags[7].Code, grow.KindCull, grow.Details{Why: "leak"})
	f.add(bags[8].Code, grow.KindCull, grow.Details{Why: "contaminated"})

	// Normal first. Of the bags with the hood on (5-9) bag 6 was grown over in
	// (6, 14], 8 and 9 went; of those with it off (1-4) bag 1 was in (10, 14], bag
	// 2 in (0, 14], and 3 was contaminated first.
	got := f.compare(CompareQuery{By: "flow_hood", Event: trace.EventColonised})
	type counts struct {
		Value                       string
		Bags, Events, Running, Gone int
	}
	count := func(c trace.Times) (out []counts) {
		for _, g := range c.Groups {
			out = append(out, counts{g.Value, g.Bags, g.Events, g.Running, g.Gone})
		}
		return out
	}
	if diff := cmp.Diff([]counts{{"on", 5, 1, 2, 2}, {"off", 4, 2, 1, 1}}, count(got)); diff != "" {
		t.Errorf("grown over (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([][2]float64{{6, 0}, {14, 1}}, got.Groups[0].Curve); diff != "" {
		t.Errorf("curve of hood on (-want +got):\n%s", diff)
	}
	if got.Method != trace.SunPermutation || got.P == nil || got.Verdict != trace.CannotTell || got.By != "flow_hood" {
		t.Errorf("%+v", got)
	}
	got = f.compare(CompareQuery{By: "flow_hood", Event: trace.EventContaminated})
	if diff := cmp.Diff([]counts{{"on", 5, 1, 3, 1}, {"off", 4, 1, 3, 0}}, count(got)); diff != "" {
		t.Errorf("contaminated (-want +got):\n%s", diff)
	}
	// Bag 3 was never seen clean; bag 4, never seen, says nothing: one in three.
	closeTo(t, "contaminated by day 10", atDay(got.Groups[1].Curve, 10), 1./3, 1e-4)
	if got.Groups[1].Curve[0] != [2]float64{0, 0} || got.Groups[1].MedianDays != nil {
		t.Errorf("%+v", got.Groups[1])
	}
	// Bag 7 was seen to have started, those seen grown over must have.
	got = f.compare(CompareQuery{By: "flow_hood", Event: trace.EventStarted})
	if diff := cmp.Diff([]counts{{"on", 5, 2, 1, 2}, {"off", 4, 2, 1, 1}}, count(got)); diff != "" {
		t.Errorf("started (-want +got):\n%s", diff)
	}
}

func TestCompareOneGroup(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	f.make(f.king(3, func(d *grow.BatchDraft) { d.Strain = new("K7") }))
	got := f.compare(CompareQuery{By: "strain", Event: trace.EventColonised})
	if got.Verdict != trace.NothingToCompare || got.P != nil || got.Method != trace.NoMethod || len(got.Groups) != 1 || got.Groups[0].MedianDays != nil {
		t.Errorf("%+v", got)
	}
	if got = f.compare(CompareQuery{By: "recipe", Event: trace.EventColonised}); got.Groups == nil || len(got.Groups) != 0 {
		t.Errorf("nobody recorded a recipe: %+v", got)
	}
}

func TestCompareRefuses(t *testing.T) {
	t.Parallel()
	f, _ := experiment(t, 1)
	d := func(day int) *grow.Date { v := grow.DateOn(2026, 11, day); return &v }
	for field, q := range map[string]CompareQuery{
		"by": {By: "moon", Event: trace.EventStarted}, "event": {By: "gloves", Event: "harvest"},
		"species": {By: "gloves", Event: trace.EventStarted, Species: "x"}, "to": {By: "gloves", Event: trace.EventStarted, From: d(2), To: d(1)},
	} {
		_, err := f.Compare(t.Context(), q)
		wantFields(t, field, err, field)
	}
	if _, err := f.Compare(t.Context(), CompareQuery{By: "gloves", Event: trace.EventStarted, Batch: "NO-SUCH"}); grow.KindOf(err) != grow.NotFound {
		t.Errorf("a batch that is not there: %v", err)
	}
	if got := f.compare(CompareQuery{By: "flow_hood", Event: trace.EventContaminated, From: d(23)}); len(got.Groups) != 0 {
		t.Errorf("another day: %+v", got)
	}
	if got := f.compare(CompareQuery{By: "flow_hood", Event: trace.EventContaminated, From: d(22), To: d(22)}); len(got.Groups) != 2 || !strings.Contains(got.Words, "flow hood") && !strings.Contains(got.Words, "Flow hood") {
		t.Errorf("its own day: %+v", got)
	}
}

// atDay is what a curve says on a day.
func atDay(curve [][2]float64, day float64) float64 {
	share := 0.0
	for i, p := range curve {
		switch {
		case p[0] <= day:
			share = p[1]
		case i > 0:
			q := curve[i-1]
			return q[1] + (p[1]-q[1])*(day-q[0])/(p[0]-q[0])
		default:
			return 0
		}
	}
	return share
}

func closeTo(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %g, want %g ± %g", what, got, want, within)
	}
}
