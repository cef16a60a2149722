package store

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/grow/climate"
)

func (f *labFarm) climate(q ClimateQuery) RoomClimate {
	f.t.Helper()
	c, err := f.Climate(f.t.Context(), q)
	if err != nil {
		f.t.Fatal(err)
	}
	return c
}

// batchIn makes a batch of a species that stands in a place.
func (f *labFarm) batchIn(species grow.Slug, bags int, place string) (Batch, []BagRef) {
	f.t.Helper()
	return f.make(f.king(bags, func(d *grow.BatchDraft) { d.Species, d.Place = species, new(place) }))
}

// TestClimateOfARoom: enoki's built-in band ends at 22 °C, so a day at 24 is a day
// out and two degree-days over it; where bags touch it is four.
func TestClimateOfARoom(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	room := f.place("incubator")
	f.batchIn("flammulina-filiformis", 4, "incubator > shelf 1")
	f.batchIn("pleurotus-ostreatus", 10, "Incubator")
	f.batchIn("lentinula-edodes", 3, "shed")
	f.days(2)
	now := f.clock.now()
	f.air("incubator", airAt(now.Add(-24*time.Hour), 10*time.Minute, repeat(24, 145)...))
	c := f.climate(ClimateQuery{Place: room.Code})
	if len(c.Stands) != 2 || c.Stands[0].Bags != 10 || c.Stands[1].Bags != 4 || c.MeasuredIn != "incubator" || c.LastDay != 24 {
		t.Fatalf("stands: %+v, measured in %q, last day %v", c.Stands, c.MeasuredIn, c.LastDay)
	}
	e := c.Stands[1].Exposure
	if math.Abs(e.Above-1) > .05 || math.Abs(e.DegreeDays-2) > .1 || e.PastCeiling != 0 {
		t.Errorf("enoki: %+v", e)
	}
	if c.One.InBand.C < 18 || c.One.InBand.C > 22 || c.One.InBand.Cost != 0 {
		t.Errorf("set-points: %+v", c.One)
	}
	touching := true
	if _, _, err := f.PutPlaceFacts(t.Context(), f.by, f.place("incubator > shelf 1").Code, func(p *PlaceFacts) error { p.Touching = &touching; return nil }); err != nil {
		t.Fatal(err)
	}
	c = f.climate(ClimateQuery{Place: room.Code, Planned: []PlannedBags{{"ganoderma-lingzhi", 6}}})
	if e := c.Stands[2].Exposure; math.Abs(e.DegreeDays-4) > .2 {
		t.Errorf("enoki touching: %+v", e)
	}
	if c.Stands[1].Planned != 6 || len(c.Guests()) != 3 {
		t.Errorf("planned: %+v", c.Stands)
	}
	if shelf := f.climate(ClimateQuery{Place: f.place("incubator > shelf 1").Code}); shelf.MeasuredIn != "incubator" || len(shelf.Stands) != 1 {
		t.Errorf("the shelf is measured in %q, %d stand there", shelf.MeasuredIn, len(shelf.Stands))
	}
	if _, err := f.Climate(t.Context(), ClimateQuery{Place: room.Code, Planned: []PlannedBags{{"no-such", 1}}}); grow.KindOf(err) != grow.Invalid {
		t.Errorf("an unknown species was planned: %v", err)
	}
}

func repeat(c float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = c
	}
	return out
}

// TestGapsOfARoom: hours without readings are gaps, in no sum of days out of band,
// unless a thermostat was set or somebody typed readings less than a day apart;
// and then they are counted apart.
func TestGapsOfARoom(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	room := f.place("incubator")
	f.batchIn("flammulina-filiformis", 4, "incubator")
	f.days(4)
	start := f.clock.now().Truncate(time.Hour).Add(-72 * time.Hour)
	f.air("incubator", airAt(start, 10*time.Minute, repeat(24, 6*24)...))
	f.air("incubator", airAt(start.Add(48*time.Hour), 10*time.Minute, repeat(24, 6*24)...))
	c := f.climate(ClimateQuery{Place: room.Code})
	if len(c.Gaps) != 1 || c.Gaps[0].Length() != 24*time.Hour {
		t.Errorf("gaps: %v", c.Gaps)
	}
	if e := c.Stands[0].Exposure; math.Abs(e.Above-2) > .01 || math.Abs(e.Unknown-1) > .01 || math.Abs(e.Measured-2) > .01 {
		t.Errorf("exposure: %+v", e)
	}
	line := grow.RoomLine{ID: f.id(), Kind: grow.RoomSetPoint, At: start, TempC: num(20)}
	if _, _, err := f.AddRoomLine(t.Context(), f.by, room.Code, line); err != nil {
		t.Fatal(err)
	}
	c = f.climate(ClimateQuery{Place: room.Code})
	if e := c.Stands[0].Exposure; math.Abs(e.Above-2) > .01 || math.Abs(e.SetPoint-1) > .01 || e.Unknown > .01 {
		t.Errorf("with a thermostat: %+v", e)
	}
	if _, err := f.AddReadings(t.Context(), f.by, "shed", airAt(start, 12*time.Hour, 20, 22, 20), nil, ReadingsFrom{How: "typed"}); err != nil {
		t.Fatal(err)
	}
	e := f.climate(ClimateQuery{Place: f.place("shed").Code}).Others[0].Exposure
	if math.Abs(e.Between*24-22) > .01 || math.Abs(e.Measured*24-3) > .01 {
		t.Errorf("typed: %+v", e)
	}
}

// TestTracksAreKeptUntilTheyChange: a reading is seen at once, also by what had
// been kept in memory.
func TestTracksAreKeptUntilTheyChange(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	now := f.clock.now()
	f.air("room", airAt(now.Add(-2*time.Hour), 0, 20))
	room := f.place("room").Code
	if c := f.climate(ClimateQuery{Place: room}); c.LastDay != 20 {
		t.Errorf("first: %v", c.LastDay)
	}
	f.air("room", airAt(now.Add(-time.Hour), 0, 24))
	if c := f.climate(ClimateQuery{Place: room}); c.LastDay != 22 {
		t.Errorf("then: %v", c.LastDay)
	}
}

// twoYears fills a room with five-minute readings of two years.
func twoYears(b testing.TB) (*labFarm, grow.Code) {
	f := newLabFarm(b)
	end := f.clock.now().Truncate(time.Hour)
	var list []grow.AirReading
	for i := range 210000 {
		at := end.Add(-time.Duration(210000-i) * 5 * time.Minute)
		hours := at.Sub(end).Hours()
		list = append(list, grow.AirReading{At: at, TempC: num(21 + 3*math.Sin(hours/1390) + 1.5*math.Sin(hours/3.82)), RHPct: num(90), CO2ppm: num(900)})
		if len(list) == MostReadings {
			f.air("incubator", list)
			list = list[:0]
		}
	}
	for i, s := range grow.BuiltInSpecies() {
		f.batchIn(s.Slug, 4+i, fmt.Sprintf("incubator > rack %d", i%4))
	}
	return f, f.place("incubator").Code
}

// BenchmarkClimateOfTwoYears answers days out of band for all species over 210,000
// readings, with the days to draw: with nothing in memory, and again.
func BenchmarkClimateOfTwoYears(b *testing.B) {
	f, room := twoYears(b)
	if c := f.climate(ClimateQuery{Place: room}); len(c.Days) < 720 || len(c.Stands) != 15 || c.Known < 720 {
		b.Fatalf("%d days, %d species, %v known", len(c.Days), len(c.Stands), c.Known)
	}
	b.Run("cold", func(b *testing.B) {
		for b.Loop() {
			f.tracks.forget()
			f.climate(ClimateQuery{Place: room})
		}
	})
	b.Run("warm", func(b *testing.B) {
		for b.Loop() {
			f.climate(ClimateQuery{Place: room})
		}
	})
	b.Run("set-points alone", func(b *testing.B) { // of which the two above are a part
		guests := f.climate(ClimateQuery{Place: room}).Guests()
		for b.Loop() {
			climate.Suit(guests)
			climate.Share(guests)
		}
	})
	b.Run("adding up raw readings", func(b *testing.B) { // what the kept sums spare
		for b.Loop() {
			if err := f.reading(context.Background(), func(t *tx) error {
				var n int
				return t.one(`SELECT count(*) FROM (`+hourSums+` GROUP BY 1, 2)`, nil, &n)
			}); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// TestRoomChangesAreComparedByBatch: four batches before and four after a filter
// was changed, all of one room; batches elsewhere do not count. The p of a
// permutation of 8 batches, 4 a side, cannot be below 2 in 70, which is what a
// clean break gives.
func TestRoomChangesAreComparedByBatch(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	room := f.place("incubator")
	makeBatch := func(place string, bad int) {
		_, bags := f.batchIn("pleurotus-ostreatus", 6, place)
		for i, g := range bags {
			if i < bad {
				f.add(g.Code, grow.KindContaminated, grow.Details{What: "green_mould"})
			}
		}
		f.days(5)
	}
	for range 4 {
		makeBatch("incubator > rack 1", 4)
	}
	makeBatch("shed", 6)
	if _, _, err := f.AddRoomLine(t.Context(), f.by, room.Code, grow.RoomLine{ID: f.id(), Kind: grow.RoomFilter, At: f.clock.now()}); err != nil {
		t.Fatal(err)
	}
	f.days(1)
	for range 4 {
		makeBatch("incubator", 0)
	}
	f.days(30)
	err := f.reading(t.Context(), func(tx *tx) error {
		codes, err := tx.texts(`SELECT code FROM bags WHERE contaminated_at IS NULL`)
		for _, code := range codes {
			f.add(grow.Code(code), grow.KindLook)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	changes, err := f.RoomChanges(t.Context(), room.Code)
	if err != nil || len(changes) != 1 || changes[0].Row == nil {
		t.Fatalf("%+v, %v", changes, err)
	}
	row := changes[0].Row
	if row.With.Bags != 24 || row.With.Contaminated != 0 || row.Without.Bags != 24 || row.Without.Contaminated != 16 || row.Batches != 8 {
		t.Errorf("%+v", row)
	}
	if math.Abs(*row.P-2.0/70) > 1e-9 {
		t.Errorf("p = %v, want 2/70", *row.P)
	}
	for _, word := range []string{"because", "caused", "proved"} {
		if strings.Contains(strings.ToLower(row.Words), word) {
			t.Errorf("words: %s", row.Words)
		}
	}
	t.Log(row.Words)
}
