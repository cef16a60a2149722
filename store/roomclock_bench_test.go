package store

import (
	"fmt"
	"math"
	"testing"
	"time"

	"bagmark/grow"
)

// BenchmarkTodayWithRooms is BenchmarkToday on a farm whose 5,000 living bags stand
// on thirty shelves of a room with two years of readings, one bag in twenty moved
// since it was made.
func BenchmarkTodayWithRooms(b *testing.B) {
	f := statisticsFarm(b, 220, 45)
	f.readTwoYears("incubator")
	f.standOnShelves()
	today, err := f.Today(b.Context())
	if err != nil {
		b.Fatal(err)
	}
	b.Logf("%d bags in care", today.InCare)
	for _, c := range []struct {
		name   string
		before func()
	}{
		{"again", func() {}}, {"after-an-entry", func() { f.counts.changed(1, 1) }},
		{"after-a-sensor-of-now", func() {
			f.air("incubator", airAt(f.clock.now(), time.Hour, 22))
			f.clock.move(time.Second)
			f.counts.changed(1, 1)
		}},
		{"after-late-readings", func() { f.tracks.changedFrom(0); f.counts.airChanged() }}, {"cold", f.counts.forget},
	} {
		b.Run(c.name, func(b *testing.B) {
			measured(b, f, func() error {
				c.before()
				_, err := f.Today(b.Context())
				return err
			})
		})
	}
}

// readTwoYears gives a place hourly readings that swing about 22 °C.
func (f *labFarm) readTwoYears(place string) {
	f.t.Helper()
	const hours = 2 * 365 * 24
	start := f.clock.now().Add(-hours * time.Hour)
	for at := 0; at < hours; at += MostReadings {
		var celsius []float64
		for h := at; h < min(hours, at+MostReadings); h++ {
			celsius = append(celsius, 22+2*math.Sin(float64(h)/4))
		}
		f.air(place, airAt(start.Add(time.Duration(at)*time.Hour), time.Hour, celsius...))
	}
}

func (f *labFarm) standOnShelves() {
	f.t.Helper()
	for i := range 30 {
		p := f.place(fmt.Sprintf("incubator > shelf %d", i))
		if _, err := f.write.Exec(`UPDATE batches SET place_id = (SELECT id FROM places WHERE code = ?) WHERE id % 30 = ?`, string(p.Code), i); err != nil {
			f.t.Fatal(err)
		}
	}
	rows, err := f.write.Query(`SELECT code FROM bags WHERE id % 20 = 0 AND state NOT IN ('finished', 'culled')`)
	if err != nil {
		f.t.Fatal(err)
	}
	var moves []grow.Draft
	for rows.Next() {
		var code grow.Code
		if err := rows.Scan(&code); err != nil {
			f.t.Fatal(err)
		}
		moves = append(moves, grow.Draft{ID: f.id(), Bag: code, Kind: grow.KindMove, Details: grow.Details{Place: "incubator > shelf 3"}})
	}
	if err := rows.Close(); err != nil {
		f.t.Fatal(err)
	}
	for len(moves) > 0 {
		n := min(500, len(moves))
		if _, err := f.AddEntries(f.t.Context(), f.by, moves[:n]); err != nil {
			f.t.Fatal(err)
		}
		moves = moves[n:]
	}
	f.forgetFarm()
}
