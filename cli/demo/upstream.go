package demo

import (
	"fmt"
	"math"
	"time"

	"bagmark/grow"
	"bagmark/grow/climate"
	"bagmark/store"
)

// What stood before the bags: where the spawn came from, which jar each bag of
// one batch had, and what the steriliser did. The run of nine weeks ago was short:
// its probe says so. Of the batch in which three bags are slow, those three had
// their spawn from one jar. The last run left a dozen bags unused, and a control
// that stays closed.

const (
	slowJarBatch = 12 // days ago
	lastRunAgo   = 3
	usedUpAfter  = 30 // days since the last batch from a lot
)

// readSteriliserLog hands in the probe's file of the run of nine weeks ago, which
// was read two days later: it went short, and so its batches are corrected.
func (f *farm) readSteriliserLog(ago int) error {
	if ago != shortRunRead {
		return nil
	}
	f.clock.moveTo(f.at(ago, 15, 50))
	short := f.batchesOf(func(b *batch) bool { return b.ago == shortRunMade })[0]
	whole, err := f.store.Batch(f.ctx, short.code)
	if err != nil {
		return err
	}
	return f.steam(*whole.Batch.SteriliserRun, f.at(shortRunMade+1, 13, 0), 112, 25)
}

// steam puts a run on record with what its probes read: so high the core came,
// and so many minutes it was held there.
func (f *farm) steam(name string, started time.Time, coreC, hold float64) error {
	method, vessel, gauge := grow.PressureSteam, "the tall one", 104.0
	twelve := 12
	d := grow.RunDraft{RunFields: grow.RunFields{Name: name, Method: &method, StartedAt: &started, Vessel: &vessel, GaugeKPa: &gauge,
		Load: []grow.LoadPlace{{Position: "door", Bags: &twelve}, {Position: "middle", Bags: &twelve}, {Position: "top", Bags: &twelve}}}}
	if _, _, err := f.store.CreateRun(f.ctx, joss, d); err != nil {
		return err
	}
	middle := "middle"
	series := []store.SeriesDraft{
		{Probe: "probe 1", Spot: "core", Position: &middle, Points: probeOf(started, coreC, 150, hold, 1.1)},
		{Probe: "probe 2", Spot: "chamber", Points: probeOf(started, coreC+1, 40, hold+110, 2.4)},
	}
	_, _, err := f.store.AddRunReadings(f.ctx, joss, name, series)
	return err
}

// probeOf is a probe's file: coming up for so many minutes, held, cooling by so
// many degrees a minute, a reading every two minutes.
func probeOf(started time.Time, high, comeUp, hold, cooling float64) []climate.Point {
	var out []climate.Point
	for m := 0.0; m <= comeUp+hold+30; m += 2 {
		c := high
		switch {
		case m < comeUp:
			c = 18 + (high-18)*math.Sin(m/comeUp*math.Pi/2)
		case m > comeUp+hold:
			c = high - cooling*(m-comeUp-hold)
		}
		out = append(out, climate.Point{At: started.Add(time.Duration(m) * time.Minute), C: math.Round(10*c) / 10})
	}
	return out
}

// upstream puts on record where the spawn came from, and what waits.
func (f *farm) upstream(now time.Time) error {
	f.clock.moveTo(now)
	used, err := f.store.Used(f.ctx)
	if err != nil {
		return err
	}
	for _, name := range used.SpawnLots {
		if err := f.spawnLot(name); err != nil {
			return err
		}
	}
	if err := f.slowJar(); err != nil {
		return err
	}
	return f.leftOver()
}

// spawnLot says what a lot of spawn was made from and when, three weeks before
// its first batch.
func (f *farm) spawnLot(name string) error {
	first := f.batchesOf(func(b *batch) bool { return b.lotInUse() == name })
	if len(first) == 0 {
		return nil
	}
	made := f.today - grow.Date(first[0].ago+21)
	expires := made + 90
	amount, look := "8 jars of 1 L, rye", "white to the bottom"
	lot, _, _, err := f.store.CreateLot(f.ctx, maren, grow.LotDraft{Jars: 8, LotFields: grow.LotFields{Kind: grow.SpawnLot, Name: name, MadeFrom: []string{"culture " + first[0].kind.lot},
		Species: &first[0].slug, MadeOn: &made, ExpiresOn: &expires, Amount: &amount, Look: &look}})
	if err != nil {
		return err
	}
	full, last := 100.0, first[len(first)-1].ago
	grownOver, used := f.at(first[0].ago+4, 8, 40), f.at(last, 17, 0)
	seen := []grow.Draft{{At: &grownOver, Kind: grow.KindColonised, Details: grow.Details{Pct: &full}}}
	if last > usedUpAfter {
		seen = append(seen, grow.Draft{At: &used, Kind: grow.KindFinish, Details: grow.Details{Why: "used_as_spawn"}})
	}
	for _, d := range seen {
		d.ID, d.Bag = f.newID(), lot.Code
		if _, _, err := f.store.AddStockEntry(f.ctx, joss, d); err != nil {
			return err
		}
	}
	return nil
}

// slowJar gives each bag of the batch with three slow bags its jar: the slow ones
// had the third.
func (f *farm) slowJar() error {
	b := f.batchesOf(func(b *batch) bool { return b.ago == slowJarBatch })[0]
	w, err := f.store.Lot(f.ctx, b.lotInUse())
	if err != nil {
		return err
	}
	for i, g := range b.bags {
		jar := w.Jars[i/8]
		if n := i + 1; n == 4 || n == 11 || n == 16 {
			jar = w.Jars[2]
		}
		at := b.made.Add(time.Duration(30+i) * time.Minute)
		f.say(joss, at, grow.Draft{Bag: g.code, Kind: grow.KindCondition, Details: grow.Details{Key: grow.SpawnJarKey, Value: grow.KnownValue(string(jar.Code))}})
	}
	return f.handInLate()
}

// handInLate gives the farm what was said of days gone by.
func (f *farm) handInLate() error {
	drafts := make([]grow.Draft, len(f.said))
	for i, s := range f.said {
		drafts[i] = s.draft
	}
	f.said = nil
	results, err := f.store.AddEntries(f.ctx, joss, drafts)
	for _, r := range results {
		if r.Err != nil {
			return r.Err
		}
	}
	return err
}

// leftOver is the last run: a dozen bags that wait, one that burst, and the
// control.
func (f *farm) leftOver() error {
	name := fmt.Sprintf("run %d", f.runs+1)
	if err := f.steam(name, f.at(lastRunAgo, 13, 0), 121.4, 60); err != nil {
		return err
	}
	filled, recipe, position := f.today-lastRunAgo, "oak 80, bran 20", "top"
	bags, _, err := f.store.CreateSterile(f.ctx, joss, name, store.SterileDraft{Count: 13, Recipe: &recipe, FilledOn: &filled, Position: &position})
	if err != nil {
		return err
	}
	burst := grow.Draft{ID: f.newID(), Bag: bags[0].Code, Kind: grow.KindCull, Details: grow.Details{Why: "burst"}}
	if _, _, err := f.store.AddStockEntry(f.ctx, joss, burst); err != nil {
		return err
	}
	_, _, err = f.store.CreateSterile(f.ctx, joss, name, store.SterileDraft{Count: 1, FilledOn: &filled, Position: &position, Control: true})
	return err
}
