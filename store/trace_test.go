package store

import (
	"math"
	"slices"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/grow/trace"

	"github.com/google/go-cmp/cmp"
)

// experiment is one batch of 24 bags, the first five made with the flow hood
// off, all scanned at the bench a minute apart and all seen on day 30, which is
// past the range of the species (14 to 28 days). So many of the five, and one of
// the nineteen, were found contaminated on day 9.
func experiment(t *testing.T, bad int) (*labFarm, []BagRef) {
	t.Helper()
	f := newForecastFarm(t)
	_, bags := f.make(f.king(24, func(d *grow.BatchDraft) {
		d.Conditions = map[string]*string{"flow_hood": new("on")}
		d.BagConditions = []grow.BagConditions{{Bags: "1-5", Conditions: map[string]*string{"flow_hood": new("off")}}}
	}))
	for _, g := range bags {
		f.clock.move(time.Minute)
		f.add(g.Code, grow.KindMarked, grow.Details{Bench: true})
	}
	f.days(9)
	for _, g := range append(slices.Clone(bags[:bad]), bags[20]) {
		f.add(g.Code, grow.KindContaminated, grow.Details{What: "green_mould"})
	}
	f.days(21)
	for _, g := range bags {
		f.add(g.Code, grow.KindLook)
	}
	return f, bags
}

func (f *labFarm) trace(code grow.Code) Trace {
	f.t.Helper()
	out, err := f.Trace(f.t.Context(), code)
	if err != nil {
		f.t.Fatal(err)
	}
	return out
}

func rowOf(t *testing.T, rows []trace.Row, key, value string) trace.Row {
	t.Helper()
	i := slices.IndexFunc(rows, func(r trace.Row) bool { return r.Key == key && r.Value == value })
	if i < 0 {
		t.Fatalf("no row for %s %s", key, value)
	}
	return rows[i]
}

func near(t *testing.T, what string, got *float64, want, within float64) {
	t.Helper()
	if got == nil || math.Abs(*got-want) > within {
		t.Errorf("%s: %v, want %v", what, deref(got), want)
	}
}

func deref(v *float64) any {
	if v == nil {
		return nil
	}
	return *v
}

// TestTracePointsTo: 4 of 5 against 1 of 19 in one batch. Mid-p .0023, odds
// ratio 3.4 to 1841 and difference 28 to 92 in 100 were computed with R (exact
// conditional distribution; Newcombe 1998, Statistics in Medicine 17: 873-890).
func TestTracePointsTo(t *testing.T) {
	t.Parallel()
	f, bags := experiment(t, 4)
	out := f.trace(bags[0].Code)
	r := rowOf(t, out.Conditions, "flow_hood", "off")
	if r.With.Bags != 5 || r.With.Contaminated != 4 || r.Without.Bags != 19 || r.Without.Contaminated != 1 || r.NotCounted != 0 {
		t.Errorf("%d of %d against %d of %d, %d not counted", r.With.Contaminated, r.With.Bags, r.Without.Contaminated, r.Without.Bags, r.NotCounted)
	}
	near(t, "p", r.P, .0023, .0001)
	near(t, "odds ratio, low", r.OddsRatio.Low, 3.4, .05)
	near(t, "odds ratio, high", r.OddsRatio.High, 1841, 1)
	near(t, "difference", r.Difference.Estimate, 4./5-1./19, 1e-12)
	near(t, "difference, low", r.Difference.Low, .28, .005)
	near(t, "difference, high", r.Difference.High, .92, .005)
	if r.Verdict != "points_to" || r.Method != trace.StratifiedExact || r.Level != "bag" || *r.Normal != "on" || r.Batches != 1 || r.Words == "" {
		t.Errorf("verdict %s by %s, level %s, normal %s, %d batches: %s", r.Verdict, r.Method, r.Level, *r.Normal, r.Batches, r.Words)
	}
	if out.Conditions[0].Key != "flow_hood" {
		t.Errorf("the first row is %s, want the bag's departure", out.Conditions[0].Key)
	}
	if diff := cmp.Diff(BatchNow{Bags: 24, Contaminated: 5, Alive: 19}, out.BatchNow); diff != "" {
		t.Errorf("batch now (-want +got):\n%s", diff)
	}
}

// TestTraceCannotTell: 2 of 5 against 1 of 19 has mid-p .104 and odds ratio .62
// to 370 (R, as above), though Newcombe's interval alone leaves out 0.
func TestTraceCannotTell(t *testing.T) {
	t.Parallel()
	f, bags := experiment(t, 2)
	r := rowOf(t, f.trace(bags[0].Code).Conditions, "flow_hood", "off")
	near(t, "p", r.P, .104, .0005)
	near(t, "odds ratio, low", r.OddsRatio.Low, .62, .005)
	near(t, "odds ratio, high", r.OddsRatio.High, 370, 1)
	near(t, "difference, low", r.Difference.Low, .005, .0005)
	near(t, "difference, high", r.Difference.High, .719, .0005)
	if r.Verdict != "cannot_tell" {
		t.Errorf("verdict %s: %s", r.Verdict, r.Words)
	}
}

// TestTraceCounts: who counts as what.
func TestTraceCounts(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	_, bags := f.make(f.king(12, func(d *grow.BatchDraft) {
		d.Conditions = map[string]*string{"flow_hood": new("on")}
		d.BagConditions = []grow.BagConditions{{Bags: "1-6", Conditions: map[string]*string{"flow_hood": new("off")}}, {Bags: "12", Conditions: map[string]*string{"flow_hood": nil}}}
	}))
	for _, g := range bags {
		f.add(g.Code, grow.KindMarked)
	}
	set := func(value, basis string) grow.Details {
		return grow.Details{Key: "flow_hood", Value: grow.KnownValue(value), Basis: basis}
	}
	f.days(9)
	f.add(bags[0].Code, grow.KindContaminated, grow.Details{What: "cobweb"})
	f.add(bags[0].Code, grow.KindCondition, set("on", "")) // set after the find: the value before it counts
	f.add(bags[1].Code, grow.KindCull, grow.Details{Why: "leak"})
	f.add(bags[2].Code, grow.KindCull, grow.Details{Why: "precaution"})
	f.add(bags[7].Code, grow.KindCondition, set("off", "guess")) // a guess is kept and not counted
	f.days(21)
	for _, i := range []int{0, 4, 5, 6, 7, 8, 9, 10, 11} { // bag 4 is not seen again
		f.add(bags[i].Code, grow.KindLook, grow.Details{Seen: map[bool]string{true: "glance"}[i == 4]})
	}
	f.add(bags[5].Code, grow.KindContaminated, grow.Details{What: "cobweb"}) // after day 28: clean by then
	c, err := f.Contamination(t.Context(), ContaminationQuery{By: "flow_hood"})
	if err != nil {
		t.Fatal(err)
	}
	r := rowOf(t, c.Rows, "flow_hood", "off")
	if r.With.Bags != 3 || r.With.Contaminated != 1 || r.Without.Bags != 4 || r.Without.Contaminated != 0 || r.NotCounted != 3 {
		t.Errorf("%d of %d against %d of %d, %d not counted; want 1 of 3 (bags 1, 5, 6) against 0 of 4 (7, 9-11), and 3 (2-4)",
			r.With.Contaminated, r.With.Bags, r.Without.Contaminated, r.Without.Bags, r.NotCounted)
	}
	if r.Detail.Unknown != 2 || r.Detail.Late != 1 {
		t.Errorf("%d unknown and %d set after the find, want 2 (bags 8 and 12) and 1 (bag 1)", r.Detail.Unknown, r.Detail.Late)
	}
	var groups []string
	for _, g := range c.Groups {
		groups = append(groups, g.Value)
	}
	if diff := cmp.Diff([]string{"on", "off"}, groups); diff != "" || c.By != "flow_hood" {
		t.Errorf("groups (-want +got):\n%s", diff)
	}
	if g := f.bag(bags[0].Code); !conditionOf(g, "flow_hood").Late || *conditionOf(g, "flow_hood").Value != "on" {
		t.Errorf("the bag's page: %+v, want on, and that it was heard of after the find", conditionOf(g, "flow_hood"))
	}
}

// TestAtRisk: living bags that share the departure or were made near; made near
// is within five bags or fifteen minutes at the bench, over batches, and only
// where both were scanned live.
func TestAtRisk(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	place := func(d *grow.BatchDraft) { d.Place = new("room 1") }
	hood := func(d *grow.BatchDraft) {
		d.Conditions = map[string]*string{"flow_hood": new("on")}
		d.BagConditions = []grow.BagConditions{{Bags: "2,9", Conditions: map[string]*string{"flow_hood": new("off")}}}
	}
	_, first := f.make(f.king(10, hood, place))
	second, other := f.make(f.king(8, place))
	scan := func(code grow.Code, bench bool) {
		f.clock.move(10 * time.Minute)
		f.add(code, grow.KindMarked, grow.Details{Bench: bench})
	}
	for i, g := range first {
		scan(g.Code, i != 3) // bag 4 was marked later, at the rack
	}
	for _, g := range other {
		scan(g.Code, true)
	}
	f.days(9)
	f.add(first[7].Code, grow.KindCull)
	f.add(first[8].Code, grow.KindContaminated, grow.Details{What: "green_mould"})
	out := f.trace(first[8].Code)
	got := map[string][]string{}
	for _, r := range out.AtRisk {
		name := "first"
		if r.Batch == second.Code {
			name = "second"
		}
		got[name+string(rune('0'+r.Number))] = r.Shares
		if r.Risk == nil || r.Risk.Estimate == nil || !(*r.Risk.Estimate > 0 && *r.Risk.Estimate < 1) || *r.Place != "room 1" {
			t.Errorf("bag %d: risk %+v, place %v", r.Number, r.Risk, r.Place)
		}
	}
	// Bench order: 1 2 3 5 6 7 8 9 10 of the first batch, then the second.
	nearBy, both := []string{"place", "made_near"}, []string{"flow_hood", "place"}
	want := map[string][]string{"first2": both, "first3": nearBy, "first5": nearBy, "first6": nearBy, "first7": nearBy, "first:": nearBy,
		"second1": nearBy, "second2": nearBy, "second3": nearBy, "second4": nearBy}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("shares by bag (-want +got):\n%s", diff)
	}
}

// TestTraceNoticesNewBags: the counts kept in memory are those of now.
func TestTraceNoticesNewBags(t *testing.T) {
	t.Parallel()
	f, bags := experiment(t, 1)
	f.trace(bags[0].Code)
	b, more := f.make(f.king(3))
	if out := f.trace(more[0].Code); out.BatchNow.Bags != 3 {
		t.Errorf("a batch just made has %d bags", out.BatchNow.Bags)
	}
	blank, _, err := f.CreateBlanks(t.Context(), f.by, LabelsDraft{Count: 1})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, _, err := f.AddBlanks(t.Context(), f.by, b.Code, BlanksDraft{Blanks: []grow.Code{blank[0].Code}}); err != nil {
		t.Fatal(err)
	}
	if out := f.trace(blank[0].Code); out.BatchNow.Bags != 4 {
		t.Errorf("with a blank adopted it has %d bags, want 4", out.BatchNow.Bags)
	}
	if _, err := f.PatchBatch(t.Context(), f.by, b.Code, func(b *grow.BatchFields) error { b.SpawnLot = new("S-31"); return nil }); err != nil {
		t.Fatal(err)
	}
	if rows := f.trace(more[0].Code).Conditions; !slices.ContainsFunc(rows, func(r trace.Row) bool { return r.Key == "spawn_lot" && r.Value == "S-31" && r.Normal == nil }) {
		t.Error("a corrected spawn lot is not among the rows")
	}
	if _, err := f.Trace(t.Context(), "00000000"); grow.KindOf(err) != grow.NotFound {
		t.Errorf("a code nobody made: %v", err)
	}
}

func TestContaminationRefuses(t *testing.T) {
	t.Parallel()
	f, _ := experiment(t, 1)
	d := func(day int) *grow.Date { v := grow.DateOn(2026, 11, day); return &v }
	for field, q := range map[string]ContaminationQuery{"by": {By: "moon"}, "species": {By: "gloves", Species: "x"}, "to": {By: "gloves", From: d(2), To: d(1)}} {
		_, err := f.Contamination(t.Context(), q)
		wantFields(t, field, err, field)
	}
	if _, err := f.Contamination(t.Context(), ContaminationQuery{By: "gloves", Batch: "NO-SUCH"}); grow.KindOf(err) != grow.NotFound {
		t.Errorf("a batch that is not there: %v", err)
	}
	for name, q := range map[string]ContaminationQuery{"another day": {By: "flow_hood", From: d(23)}, "another species": {By: "flow_hood", Species: "hericium-erinaceus"}} {
		if c, err := f.Contamination(t.Context(), q); err != nil || len(c.Groups) != 0 || c.Groups == nil || c.Rows == nil {
			t.Errorf("%s: %+v, %v; want empty lists", name, c, err)
		}
	}
	if c, err := f.Contamination(t.Context(), ContaminationQuery{By: "flow_hood", From: d(22), To: d(22), Species: "pleurotus-eryngii"}); err != nil || len(c.Rows) != 1 {
		t.Errorf("its own day: %+v, %v", c, err)
	}
}

// Letter case and spaces make no other strain, recipe or person, as they make no
// other lot; the way most batches write it is shown.
func TestContaminationByNameInAnyCase(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	for _, name := range []string{"Blue  oyster", "blue oyster", "Blue oyster", "Blue oyster", "Grey"} {
		_, bags := f.make(f.king(4, func(d *grow.BatchDraft) { d.Strain, d.Recipe, d.Operator = &name, &name, &name }))
		f.days(30)
		for _, g := range bags {
			f.add(g.Code, grow.KindLook)
		}
	}
	for _, key := range []string{"strain", "recipe", "operator"} {
		got, err := f.Contamination(t.Context(), ContaminationQuery{By: key})
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Groups) != 2 || got.Groups[0].Value != "Blue oyster" || got.Groups[0].Bags != 16 || got.Groups[1].Bags != 4 {
			t.Errorf("%s: %+v", key, got.Groups)
		}
	}
}

// The trace says how many of the living may turn, and looks at two departures at
// once.
func TestTraceTurnsAndTogether(t *testing.T) {
	t.Parallel()
	f, bags := experiment(t, 4)
	got := f.trace(bags[0].Code)
	if len(got.Turns) == 0 || got.Turns[0].Key != "flow_hood" || got.Turns[0].Alive != 1 || got.Turns[0].Bad != 4 || !got.Turns[0].InBatch {
		t.Errorf("%+v", got.Turns)
	}
	if got.Together != nil {
		t.Errorf("one condition looked at together: %+v", got.Together)
	}
	for i, g := range bags {
		if i%2 == 0 {
			f.add(g.Code, grow.KindCondition, grow.Details{Key: "shaken", Value: grow.KnownValue("no")})
		} else {
			f.add(g.Code, grow.KindCondition, grow.Details{Key: "shaken", Value: grow.KnownValue("yes")})
		}
	}
	if got = f.trace(bags[0].Code); got.Together == nil || got.Together.Words == "" {
		t.Errorf("%+v", got.Together)
	}
}
