package store

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/grow/climate"

	"github.com/google/go-cmp/cmp"
)

// steadyBatches makes a batch of a strain in a room of its own for each core
// temperature; they took as many days as a strain that is fastest at 24 °C, between 8
// and 32 °C, and there takes 14.
func (f *labFarm) steadyBatches(strain string, cores ...float64) {
	f.t.Helper()
	start := f.clock.now()
	for _, core := range cores {
		room := fmt.Sprintf("room at %g", core)
		b, bags := f.make(f.king(4, func(d *grow.BatchDraft) { d.Strain, d.Place = &strain, &room }))
		f.clock.at = start.AddDate(0, 0, 45)
		f.air(room, airAt(start, time.Hour, repeat(core-climate.CoreAloneC, 45*24)...))
		days := 14 / ctmi(8, 24, 32, core)
		for _, g := range bags {
			f.wall(b, g.Code, math.Floor(days), nil)
			f.wall(b, g.Code, math.Ceil(days), new(100.0))
		}
		f.clock.at = start
	}
	f.clock.at = start.AddDate(0, 0, 46)
}

// TestStrainIsFittedToItsOwnBatches: king oyster is built in as fastest at 25.3 °C
// in the core; the farm's strain is fastest at 24, which seven batches between 17
// and 27 °C tell from whole days to within half a degree. From then on its curve is
// used for what stands there, for the bag and for set-points, and says what it is.
func TestStrainIsFittedToItsOwnBatches(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.steadyBatches("K 7", 17, 19, 20, 22, 24, 25)
	fits := func() []GrowthFit {
		t.Helper()
		fits, err := f.GrowthFits(t.Context(), "pleurotus-eryngii")
		if err != nil {
			t.Fatal(err)
		}
		return fits
	}
	f.steadyBatches("k 7 ", 27) // the same strain
	all := fits()
	if len(all) != 1 || all[0].Batches != 7 || !all[0].Usable() || math.Abs(all[0].FromC-17) > .01 || math.Abs(all[0].ToC-27) > .01 {
		t.Fatalf("fits: %+v", all)
	}
	if _, opt, _ := all[0].Curve.Cardinal(); math.Abs(opt-24) > .5 || all[0].OptLowC > 24 || all[0].OptHighC < 24 {
		t.Errorf("fastest at %v, between %v and %v", opt, all[0].OptLowC, all[0].OptHighC)
	}
	f.air("here", f.steadyAir(3, 22))
	made := func(strain string) grow.Code {
		t.Helper()
		_, bags := f.make(f.king(3, func(d *grow.BatchDraft) { d.Strain, d.Place = &strain, new("here") }))
		return bags[0].Code
	}
	own, other := made("K 7"), made("another")
	if got := f.bag(own).Air.Curve; got.Mark != "fitted from your 7 batches" {
		t.Errorf("the bag's curve is %+v", got)
	}
	if got := f.bag(other).Air.Curve; got.OptC != 25.3 || got.Mark != grow.Published {
		t.Errorf("a bag of another strain has the curve %+v", got)
	}
	c := f.climate(ClimateQuery{Place: f.place("here").Code, Days: 3})
	if len(c.Stands) != 2 || c.Stands[0].Species.Strain != "K 7" || c.Stands[0].Species.Growth.Mark != "fitted from your 7 batches" || c.Stands[1].Species.Growth.OptC != 25.3 {
		t.Errorf("stands: %+v", c.Stands)
	}
}

// TestAFitNeedsBatchesThatAreDone: five batches are too few; one with a bag that
// still grows is none, and neither is one of whose air too little is known.
func TestAFitNeedsBatchesThatAreDone(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.steadyBatches("K 7", 17, 19, 21, 23, 25)
	late, bags := f.make(f.king(4, func(d *grow.BatchDraft) { d.Strain, d.Place = new("K 7"), new("late room") }))
	f.days(20)
	f.air("late room", f.steadyAir(20, 25))
	for _, g := range bags[:3] {
		f.wall(late, g.Code, 15, nil)
		f.wall(late, g.Code, 16, new(100.0))
	}
	f.days(1)
	count := func(want int) {
		t.Helper()
		fits, err := f.GrowthFits(t.Context(), "pleurotus-eryngii")
		if err != nil || len(fits) != want {
			t.Errorf("%d fits, want %d: %+v, %v", len(fits), want, fits, err)
		}
	}
	count(0)
	f.add(bags[3].Code, grow.KindCull, grow.Details{Why: "stalled"})
	f.days(1)
	count(1)
	sources, err := f.ReadingSources(t.Context(), f.place("late room").Code, 1)
	if err != nil || len(sources) != 1 {
		t.Fatal(sources, err)
	}
	if _, err := f.write.Exec(`UPDATE reading_sources SET how = 'file' WHERE id = ?`, sources[0].ID); err != nil {
		t.Fatal(err)
	}
	if _, err := f.TakeBackReadings(t.Context(), f.by, f.place("late room").Code, sources[0].ID); err != nil {
		t.Fatal(err)
	}
	count(0)
}

// TestOwnBatchesSayWhatIsUsual: days learnt in a room at 19 °C hold for the next
// batch in such a room, whatever the target of the band, 23 °C; at 22 °C growth is as
// much faster as the curve (8, 25.3 and 33.1 °C) says of cores of 24 and of 21 °C.
func TestOwnBatchesSayWhatIsUsual(t *testing.T) {
	t.Parallel()
	colonised := func(measured bool, celsius float64) *DateRange {
		f := newLabFarm(t)
		start := f.clock.now()
		for range 4 {
			b, bags := f.batchIn("pleurotus-eryngii", 4, "old room")
			f.clock.at = start.AddDate(0, 0, 30)
			for _, g := range bags {
				f.wall(b, g.Code, 20, nil)
				f.wall(b, g.Code, 21, new(100.0))
			}
			f.clock.at = start
		}
		f.clock.at = start.AddDate(0, 0, 30)
		if measured {
			f.air("old room", airAt(start, time.Hour, repeat(19, 30*24)...))
			f.air("new room", f.steadyAir(8, celsius))
		}
		got := f.bag(f.lone("pleurotus-eryngii", "new room")).Forecast
		if !strings.HasPrefix(got.Basis, "4 of your batches") {
			t.Fatalf("basis %q", got.Basis)
		}
		if measured && celsius != 19 && !strings.Contains(strings.Join(got.Words, " "), "than in your batches so far") {
			t.Errorf("words: %v", got.Words)
		}
		return got.Colonised
	}
	unknown := colonised(false, 0)
	if diff := cmp.Diff(unknown, colonised(true, 19)); diff != "" {
		t.Errorf("a room like that of the batches learnt from (-unknown +known):\n%s", diff)
	}
	made := grow.DateOn(2026, 12, 22)
	pace := ctmi(8, 25.3, 33.1, 24) / ctmi(8, 25.3, 33.1, 21)
	warm := colonised(true, 22)
	for name, pair := range map[string][2]grow.Date{"early": {unknown.Earliest, warm.Earliest}, "likely": {unknown.Likely, warm.Likely}, "late": {unknown.Latest, warm.Latest}} {
		if was, now := float64(pair[0]-made), float64(pair[1]-made); math.Abs(now-was/pace) > 1 { // both are rounded up
			t.Errorf("%s: %v days, were %v at the usual pace, %v times slower", name, now, was, pace)
		}
	}
}

// TestLateMoveOfBatchLearntFrom: four batches are said to have stood in a room at
// 19 °C; it turns out the same day that they stood at 22 °C all along, which is then
// the usual: a bag in a room like that goes at the usual pace.
func TestLateMoveOfBatchLearntFrom(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	start := f.clock.now()
	var all []grow.Code
	for range 4 {
		b, bags := f.batchIn("pleurotus-eryngii", 4, "cool")
		f.clock.at = start.AddDate(0, 0, 30)
		for _, g := range bags {
			f.wall(b, g.Code, 20, nil)
			f.wall(b, g.Code, 21, new(100.0))
			all = append(all, g.Code)
		}
		f.clock.at = start
	}
	f.clock.at = start.AddDate(0, 0, 30)
	f.air("cool", airAt(start, time.Hour, repeat(19, 30*24)...))
	f.air("warm", airAt(start, time.Hour, repeat(22, 30*24)...))
	bag := f.lone("pleurotus-eryngii", "warm")
	pace := func() float64 {
		t.Helper()
		got := f.bag(bag).Forecast.Room
		if got == nil || got.Pace == nil {
			t.Fatalf("the room is %+v", got)
		}
		return *got.Pace
	}
	faster := ctmi(8, 25.3, 33.1, 24) / ctmi(8, 25.3, 33.1, 21)
	if got := pace(); math.Abs(got-faster) > .001 {
		t.Fatalf("before: pace %v, want %v", got, faster)
	}
	var moves []grow.ID
	for _, code := range all {
		d := grow.Draft{ID: f.id(), Bag: code, Kind: grow.KindMove, At: new(start.Add(time.Minute)), Details: grow.Details{Place: "warm"}}
		if _, _, _, err := f.AddEntry(t.Context(), f.by, d); err != nil {
			t.Fatal(err)
		}
		moves = append(moves, d.ID)
	}
	if got := pace(); math.Abs(got-1) > .001 {
		t.Errorf("moved long ago: pace %v, want 1", got)
	}
	for i, code := range all {
		f.add(code, grow.KindVoid, grow.Details{Entry: moves[i]})
	}
	if got := pace(); math.Abs(got-faster) > .001 {
		t.Errorf("taken back: pace %v, want %v", got, faster)
	}
}
