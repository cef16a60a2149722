package store

import (
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/grow/forecast"

	"github.com/google/go-cmp/cmp"
)

// newForecastFarm is a farm whose king oyster takes 14 to 28 days and ripens 5
// to 9. The law for that range has the median day 19.80 and the log spread
// √(0.21070² + 0.15² + 0.15²) = 0.29899, so that one bag in ten is done by day
// 13.50 and nine in ten by day 29.04.
func newForecastFarm(t *testing.T) *labFarm {
	t.Helper()
	f := newLabFarm(t)
	if err := f.PutSpecies(t.Context(), f.by, grow.Override{Slug: "pleurotus-eryngii", Days: &[3]float64{14, 20, 28}, RipeningDays: &[2]float64{5, 9}}); err != nil {
		t.Fatal(err)
	}
	return f
}

// wall logs a look at a bag's wall so many days after its batch was made; a nil
// pct is "not fully grown over".
func (f *labFarm) wall(b Batch, bag grow.Code, day float64, pct *float64) Bag {
	f.t.Helper()
	at := b.InoculatedAt.Add(time.Duration(day * 24 * float64(time.Hour)))
	d := grow.Draft{ID: f.id(), Bag: bag, Kind: grow.KindColonised, At: &at, Details: grow.Details{Pct: pct}}
	if pct == nil {
		d.Full = new(false)
	}
	_, g, _, err := f.AddEntry(f.t.Context(), f.by, d)
	if err != nil {
		f.t.Fatal(err)
	}
	return g
}

// on is a range of dates so many days after 22 November 2026.
func on(early, likely, late int) *DateRange {
	made := grow.DateOn(2026, 11, 22)
	return &DateRange{made + grow.Date(early), made + grow.Date(likely), made + grow.Date(late)}
}

func checkForecast(t *testing.T, when string, got Forecast, colonised, ready *DateRange) {
	t.Helper()
	if diff := cmp.Diff([]*DateRange{colonised, ready}, []*DateRange{got.Colonised, got.Ready}); diff != "" {
		t.Errorf("%s: colonised and ready (-want +got):\n%s", when, diff)
	}
	if got.IntervalPct != 80 || got.Basis == "" {
		t.Errorf("%s: interval of %d %%, basis %q", when, got.IntervalPct, got.Basis)
	}
}

// TestForecastOfAFreshBag: days 13.50, 19.80 and 29.04 from the published
// range, and 18.50, 26.80 and 38.04 with ripening, each rounded up to a date.
func TestForecastOfAFreshBag(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	_, bags := f.make(f.king(2))
	checkForecast(t, "fresh", f.bag(bags[0].Code).Forecast, on(14, 20, 30), on(19, 27, 39))
	f.days(9)
	f.add(bags[0].Code, grow.KindLook)
	checkForecast(t, "a plain look says nothing of growth", f.bag(bags[0].Code).Forecast, on(14, 20, 30), on(19, 27, 39))
}

// TestForecastEnds: no forecast once a bag is contaminated, culled or finished.
func TestForecastEnds(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	_, bags := f.make(f.king(3))
	f.days(5)
	bad := f.add(bags[0].Code, grow.KindContaminated, grow.Details{What: "green_mould"})
	checkForecast(t, "contaminated", bad.Forecast, nil, nil)
	f.add(bags[0].Code, grow.KindIsolate)
	checkForecast(t, "contaminated and set apart", f.bag(bags[0].Code).Forecast, nil, nil)
	back := f.add(bags[0].Code, grow.KindVoid, grow.Details{Entry: bad.Entries[0].ID})
	checkForecast(t, "a mistake", back.Forecast, on(14, 20, 30), on(19, 27, 39))
	checkForecast(t, "culled", f.add(bags[1].Code, grow.KindCull).Forecast, nil, nil)
	checkForecast(t, "finished", f.add(bags[2].Code, grow.KindFinish, grow.Details{Why: "sold"}).Forecast, nil, nil)
}

// TestForecastFromAReading: 40 % on day 10 means full on day 20.81 with a log
// error of 0.1636 (by Avrami with exponent 3); weighed with the median 19.80 and
// spread 0.29899 by their precisions that is 20.57, from 17.11 to 24.74.
func TestForecastFromAReading(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	b, bags := f.make(f.king(2))
	f.days(12)
	checkForecast(t, "40 % on day 10", f.wall(b, bags[0].Code, 10, new(40.0)).Forecast, on(18, 21, 25), on(23, 28, 34))
	colonised, ready := sisterOf(10)
	checkForecast(t, "its sister", f.bag(bags[1].Code).Forecast, colonised, ready)
	f.add(bags[0].Code, grow.KindLook)
	checkForecast(t, "looked at since", f.bag(bags[0].Code).Forecast, on(18, 21, 25), on(23, 28, 34))
	checkForecast(t, "not fully on day 11", f.wall(b, bags[0].Code, 11, nil).Forecast, on(18, 21, 25), on(23, 28, 34))
}

// sisterOf is the forecast for a bag never read whose one sister was not grown
// over on a day.
func sisterOf(day float64) (colonised, ready *DateRange) {
	d := forecast.FromRange(14, 28).Observe([]forecast.Span{forecast.Running(day)}).Days(0)
	r := d.Ready(forecast.RipeningFrom(5, 9))
	return on(forecast.WholeDay(d.Early), forecast.WholeDay(d.Likely), forecast.WholeDay(d.Late)), on(forecast.WholeDay(r.Early), forecast.WholeDay(r.Likely), forecast.WholeDay(r.Late))
}

// TestForecastGrownOver: seen so, that day is the answer and ripening follows.
func TestForecastGrownOver(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	b, bags := f.make(f.king(2))
	f.days(20)
	f.wall(b, bags[0].Code, 14, new(80.0))
	checkForecast(t, "full on day 17", f.wall(b, bags[0].Code, 17, new(99.0)).Forecast, on(17, 17, 17), on(22, 24, 26))
	checkForecast(t, "said again", f.wall(b, bags[0].Code, 19, new(100.0)).Forecast, on(17, 17, 17), on(22, 24, 26))
}

// TestForecastFromSisters: once a bag of the batch is finished, a reading is
// weighed with what the batch says, not with the range alone.
func TestForecastFromSisters(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	b, bags := f.make(f.king(5))
	f.days(22)
	var sisters []forecast.Span
	for i := range 3 {
		f.wall(b, bags[i].Code, 12, nil)
		f.wall(b, bags[i].Code, 15, new(100.0))
		sisters = append(sisters, forecast.Span{Left: 12, Right: 15})
	}
	dates := func(d forecast.Days) *DateRange {
		return on(forecast.WholeDay(d.Early), forecast.WholeDay(d.Likely), forecast.WholeDay(d.Late))
	}
	law, ripening := forecast.FromRange(14, 28), forecast.RipeningFrom(5, 9)
	fresh := law.Observe(sisters).Days(0)
	if fresh.Likely > 17 {
		t.Fatalf("three sisters done by day 15 leave the median at %v", fresh.Likely)
	}
	checkForecast(t, "never read", f.bag(bags[3].Code).Forecast, dates(fresh), dates(fresh.Ready(ripening)))
	got := f.wall(b, bags[3].Code, 10, new(40.0)).Forecast
	want := law.Bag(forecast.Bag{Span: forecast.Running(10), Reading: &forecast.Reading{Day: 10, Share: 0.4}, Today: 22}, sisters).Colonised
	checkForecast(t, "read", got, dates(want), dates(want.Ready(ripening)))
	if alone := on(18, 21, 25); cmp.Equal(got.Colonised, alone) {
		t.Error("the sisters change nothing")
	}
}

// TestSlowAndOverdue: overdue is past the 95 % point, day 32.38; slow is a
// reading below what a bag done on day 29.04 shows on that day, which by Avrami
// is 17 % on day 10.
func TestSlowAndOverdue(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	b, bags := f.make(f.king(3))
	f.days(11)
	if g := f.wall(b, bags[0].Code, 10, new(16.0)); !g.Forecast.Slow || g.Forecast.Overdue {
		t.Errorf("16 %% on day 10: slow %t, overdue %t", g.Forecast.Slow, g.Forecast.Overdue)
	}
	if g := f.wall(b, bags[1].Code, 10, new(19.0)); g.Forecast.Slow {
		t.Error("19 % on day 10 is slow")
	}
	f.days(21) // day 32
	if f.bag(bags[2].Code).Forecast.Overdue {
		t.Error("overdue on day 32")
	}
	f.days(1)
	if g := f.bag(bags[2].Code); !g.Forecast.Overdue {
		t.Error("not overdue on day 33")
	}
	if g := f.add(bags[2].Code, grow.KindFruiting); g.Forecast.Overdue {
		t.Error("overdue in fruiting")
	}
	if g := f.wall(b, bags[1].Code, 33, new(100.0)); g.Forecast.Overdue || g.Forecast.Slow {
		t.Error("overdue when grown over")
	}
}

// history makes three batches of four bags that were looked at every three
// days, long ago.
func (f *labFarm) history(strain string) {
	f.t.Helper()
	full := new(100.0)
	for i, looks := range [][4][2]float64{{{12, 15}, {15, 18}, {15, 18}, {18, 21}}, {{18, 21}, {18, 21}, {21, 24}, {21, 0}}, {{15, 18}, {18, 21}, {18, 21}, {18, 21}}} {
		b, bags := f.make(f.king(4, func(d *grow.BatchDraft) {
			d.InoculatedAt = f.clock.now().AddDate(0, 0, -100-i)
			if strain != "" {
				d.Strain = &strain
			}
		}))
		for k, look := range looks {
			f.wall(b, bags[k].Code, look[0], nil)
			if look[1] > 0 {
				f.wall(b, bags[k].Code, look[1], full)
			}
		}
	}
}

// TestForecastFromHistory: three batches of the farm's own make of the range a
// law with mean 2.9343 and log spreads 0.0824, 0.1370 and 0.1349 (computed with
// R's survreg): days 14.39, 18.81 and 24.59.
func TestForecastFromHistory(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	f.history("")
	b, bags := f.make(f.king(4))
	fresh := f.bag(bags[0].Code).Forecast
	checkForecast(t, "fresh", fresh, on(15, 19, 25), on(20, 26, 34))
	if want := "3 of your batches"; fresh.Basis != want {
		t.Errorf("basis %q, want %q", fresh.Basis, want)
	}
	_, other := f.make(f.king(1, func(d *grow.BatchDraft) { d.Species = "hericium-erinaceus" }))
	if got := f.bag(other[0].Code).Forecast.Basis; got != "published range" {
		t.Errorf("another species has the basis %q", got)
	}
	f.days(12)
	for i := range 3 {
		f.wall(b, bags[i].Code, 8, nil)
		f.wall(b, bags[i].Code, 9, new(100.0))
	}
	if got := f.bag(bags[3].Code).Forecast.Basis; got != "3 of your batches" {
		t.Errorf("with three bags done, a batch is history for its own fourth: %q", got)
	}
	_, next := f.make(f.king(1))
	after := f.bag(next[0].Code).Forecast
	if after.Basis != "4 of your batches" || !(after.Colonised.Likely-12 < fresh.Colonised.Likely) {
		t.Errorf("the next batch has the basis %q, likely %s; want 4 batches and earlier than %s", after.Basis, after.Colonised.Likely-12, fresh.Colonised.Likely)
	}
}

// TestForecastByStrain: the strain's own batches before the species'.
func TestForecastByStrain(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	f.history("Kö 7")
	quick, bags := f.make(f.king(3, func(d *grow.BatchDraft) { d.InoculatedAt, d.Strain = f.clock.now().AddDate(0, 0, -60), new("Q1") }))
	for _, g := range bags {
		f.wall(quick, g.Code, 7, nil)
		f.wall(quick, g.Code, 8, new(100.0))
	}
	for strain, want := range map[string]string{"kÖ  7": "3 of your batches", "Q1": "1 of your batches", "new": "4 of your batches"} {
		_, bags := f.make(f.king(1, func(d *grow.BatchDraft) { d.Strain = &strain }))
		if got := f.bag(bags[0].Code).Forecast.Basis; got != want {
			t.Errorf("strain %s: basis %q, want %q", strain, got, want)
		}
	}
}

// TestForecastForgets: laws kept in memory give way to what is logged and set.
func TestForecastForgets(t *testing.T) {
	t.Parallel()
	f := newForecastFarm(t)
	_, bags := f.make(f.king(1))
	likely := func() grow.Date { return f.bag(bags[0].Code).Forecast.Colonised.Likely }
	before := likely()
	f.history("")
	if likely() == before {
		t.Error("new history changes nothing")
	}
	if err := f.PutSpecies(t.Context(), f.by, grow.Override{Slug: "pleurotus-eryngii", Days: &[3]float64{40, 50, 60}}); err != nil {
		t.Fatal(err)
	}
	if g := f.bag(bags[0].Code); likely() <= before || g.Forecast.Basis != "3 of your batches" {
		t.Errorf("with other days set: likely %s, basis %q", likely(), g.Forecast.Basis)
	}
}
