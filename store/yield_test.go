package store

import (
	"math"
	"slices"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/grow/trace"
	"bagmark/grow/yield"

	"github.com/google/go-cmp/cmp"
)

func (f *labFarm) yield(q YieldQuery) Yield {
	f.t.Helper()
	out, err := f.Yield(f.t.Context(), q)
	if err != nil {
		f.t.Fatal(err)
	}
	return out
}

// pick harvests so many grams from a bag.
func (f *labFarm) pick(code grow.Code, grams float64) Bag {
	f.t.Helper()
	return f.add(code, grow.KindHarvest, grow.Details{Grams: &grams})
}

func fed(wet, moisture float64) func(*grow.BatchDraft) {
	return func(d *grow.BatchDraft) { d.BagWetG, d.MoisturePct = &wet, &moisture }
}

// TestYieldPerBagMade: 400 and 170 g from a bag of 2,500 g at 62 % are 60 %
// (by definition); with a sister thrown out half of that a bag made.
func TestYieldPerBagMade(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(2, fed(2500, 62)))
	f.days(20)
	f.add(bags[1].Code, grow.KindContaminated, grow.Details{What: "green_mould"})
	f.add(bags[1].Code, grow.KindCull, grow.Details{Why: "contaminated"})
	f.days(5)
	f.add(bags[0].Code, grow.KindFruiting, grow.Details{Place: "room 2"})
	f.days(12)
	f.pick(bags[0].Code, 400)
	if got := f.yield(YieldQuery{}); got.SoFar != (SoFar{2, 400}) || got.All.Bags != 0 || got.NotCounted.Giving != 2 {
		t.Errorf("while it gives: so far %+v, %d counted, %+v", got.SoFar, got.All.Bags, got.NotCounted)
	}
	f.days(14)
	slip := f.pick(bags[0].Code, 1700)
	f.add(bags[0].Code, grow.KindVoid, grow.Details{Entry: slip.Entries[0].ID})
	f.pick(bags[0].Code, 170)
	f.add(bags[0].Code, grow.KindFinish, grow.Details{Why: "spent"})
	got := f.yield(YieldQuery{Measure: yield.Efficiency})
	if got.All.Bags != 2 || math.Abs(*got.All.EfficiencyPct-30) > 1e-9 || math.Abs(*got.All.Mean-30) > 1e-9 {
		t.Errorf("%d bags, efficiency %v, mean %v; want 2, 30, 30", got.All.Bags, *got.All.EfficiencyPct, *got.All.Mean)
	}
	if diff := cmp.Diff([]yield.Loss{{Why: "contaminated", Bags: 1, Grams: 570}}, got.All.Losses); diff != "" {
		t.Errorf("losses (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]yield.Flush{{Flush: 1, Bags: 1, Grams: 400, PerMade: 200, PerBag: 400, Share: 400. / 570}, {Flush: 2, Bags: 1, Grams: 170, PerMade: 85, PerBag: 170, Share: 170. / 570}}, got.All.Flushes); diff != "" {
		t.Errorf("flushes (-want +got):\n%s", diff)
	}
	if first, fruited := got.All.ToFirst, got.All.Fruited; first.Median != 37 || fruited.Median != 12 {
		t.Errorf("first picked on day %g, %g after the move; want 37 and 12", first.Median, fruited.Median)
	}
	f.sound()
}

// TestYieldRests: nobody says that a bag is spent; two gaps after its last flush
// it counts. King oyster: 14 days between flushes.
func TestYieldRests(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(1))
	f.days(30)
	f.pick(bags[0].Code, 500)
	for _, step := range []struct{ days, counted float64 }{{28, 0}, {1, 1}} {
		f.days(step.days)
		if got := f.yield(YieldQuery{}); float64(got.All.Bags) != step.counted {
			t.Errorf("%g days on: %d count", step.days, got.All.Bags)
		}
	}
	f.pick(bags[0].Code, 90)
	if got := f.yield(YieldQuery{}); got.All.Bags != 0 || got.SoFar.Grams != 590 {
		t.Errorf("it gives again, yet %d count; %g so far", got.All.Bags, got.SoFar.Grams)
	}
}

// TestNothingPickedIsNoFirstPicking: 0 g on the scale dates nothing, and the flushes
// that nobody numbers stop at the last that can be said.
func TestNothingPickedIsNoFirstPicking(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(1))
	f.days(30)
	f.add(bags[0].Code, grow.KindFruiting, grow.Details{Place: "trolley"})
	f.pick(bags[0].Code, 0)
	f.days(7)
	f.add(bags[0].Code, grow.KindMove, grow.Details{Place: "tent"})
	for range 30 {
		f.pick(bags[0].Code, 10)
	}
	if b := f.bag(bags[0].Code); b.Flush != grow.MostFlushes {
		t.Errorf("flush %d, want %d", b.Flush, grow.MostFlushes)
	}
	f.add(bags[0].Code, grow.KindFinish, grow.Details{Why: "spent"})
	got := f.yield(YieldQuery{By: ByPlace})
	if first := got.All.ToFirst; first == nil || first.Median != 37 || got.All.Fruited.Median != 7 || got.Groups[0].Value != "tent" {
		t.Errorf("first picked %+v, %+v after the move, in %+v; want day 37, 7, in the tent", first, got.All.Fruited, got.Groups)
	}
	f.sound()
}

// TestYieldByACondition: inside a batch, over batches, by species and by place.
func TestYieldByACondition(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	recipes := []string{"oak", "oak, hull"}
	for k := range 8 {
		off := "off"
		_, bags := f.make(f.king(8, fed(2500, 60), func(d *grow.BatchDraft) {
			d.Recipe = &recipes[k%2]
			d.BagConditions = []grow.BagConditions{{Bags: "1-4", Conditions: map[string]*string{"flow_hood": &off}}}
		}))
		f.days(25)
		for n, b := range bags {
			f.add(b.Code, grow.KindFruiting, grow.Details{Place: "trolley"})
			f.add(b.Code, grow.KindMove, grow.Details{Place: []string{"tent", "cellar"}[n%2]})
			f.pick(b.Code, 300+200*float64(k%2)-60*float64(1-n/4)+float64((n*7+k*5)%11))
			f.add(b.Code, grow.KindMove, grow.Details{Place: "compost"}) // where it ends is not where it fruited
			f.add(b.Code, grow.KindFinish, grow.Details{Why: "spent"})
		}
	}
	row := func(by, value string) yield.Row {
		t.Helper()
		for _, r := range f.yield(YieldQuery{By: by}).Rows {
			if r.Value == value {
				return r
			}
		}
		t.Fatalf("no row for %s %s", by, value)
		return yield.Row{}
	}
	if r := row("recipe", "oak, hull"); r.Method != yield.WholeBatches || r.Batches != 8 || r.Verdict != trace.PointsTo || math.Abs(*r.Difference.Estimate-200) > 5 {
		t.Errorf("recipe: %s", r.Words)
	}
	f.forgetFarm()
	var places []string
	for _, g := range f.yield(YieldQuery{By: ByPlace}).Groups {
		places = append(places, g.Value)
	}
	if slices.Sort(places); !slices.Equal(places, []string{"cellar", "tent"}) {
		t.Errorf("by place: %v", places)
	}
	if _, err := f.RenamePlace(t.Context(), f.by, f.place("cellar").Code, "vault"); err != nil {
		t.Fatal(err)
	}
	f.sound()
	if r := row("place", "tent"); r.Method != yield.InsideBatches || r.Batches != 8 || r.Verdict != trace.NoDifference {
		t.Errorf("place: %s", r.Words)
	}
	got := f.yield(YieldQuery{By: BySpecies, Species: "pleurotus-eryngii"})
	if len(got.Groups) != 1 || got.Groups[0].Bags != 64 || got.Groups[0].Batches != 8 || len(got.Rows) != 0 {
		t.Errorf("by species: %+v", got.Groups)
	}
	if none := f.yield(YieldQuery{By: "recipe", To: new(grow.DateOn(2020, time.May, 1))}); len(none.Groups) != 0 || none.SoFar.Bags != 0 {
		t.Errorf("before anything was made: %+v", none)
	}
	_, err := f.Yield(t.Context(), YieldQuery{By: "moon", Measure: "spoons", Species: "boletus"})
	wantFields(t, "what nobody can tell", err, "by", "measure", "species")
}

// TestSoldBagsDoNotCount: what they gave, nobody here weighed.
func TestSoldBagsDoNotCount(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(3))
	f.days(25)
	f.pick(bags[0].Code, 400)
	f.add(bags[0].Code, grow.KindFinish, grow.Details{Why: "spent"})
	f.add(bags[1].Code, grow.KindFinish, grow.Details{Why: "sold", To: "market"})
	f.add(bags[2].Code, grow.KindFinish, grow.Details{Why: "given"})
	if got := f.yield(YieldQuery{}); got.All.Bags != 1 || got.NotCounted.Elsewhere != 2 {
		t.Errorf("%d count, %+v", got.All.Bags, got.NotCounted)
	}
}
