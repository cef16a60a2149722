package store

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
)

// TestTakeBackASensorsSpan: a sensor that posts 71.6 °F as 71.6 °C for an hour. Its
// readings leave the air, the export and the hourly sums, are known when sent once
// more, and come back undone; what a second instrument brought to them stays.
func TestTakeBackASensorsSpan(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	code := f.place("incubator").Code
	f.days(1)
	start := f.clock.now().Add(-3 * time.Hour).Truncate(time.Hour)
	good, bad := airAt(start, 10*time.Minute, repeat(22, 6)...), airAt(start.Add(time.Hour), 10*time.Minute, repeat(71.6, 6)...)
	f.air("incubator", good)
	f.air("incubator", bad)
	meter := []grow.AirReading{{At: bad[2].At, CO2ppm: num(900)}}
	must(f.AddReadings(t.Context(), f.by, "incubator", meter, nil, ReadingsFrom{How: "file", Name: "co2.csv"}))(t)
	exported := func() string {
		var out bytes.Buffer
		if err := f.ExportReadings(t.Context(), &out); err != nil {
			t.Fatal(err)
		}
		return out.String()
	}
	sound := func() {
		t.Helper()
		if report := must(Check(t.Context(), f.dir))(t); len(report.Problems) > 0 {
			t.Errorf("check: %v", report.Problems)
		}
	}
	before := exported()
	jumps := must(f.ReadingJumps(t.Context(), code))(t)
	if len(jumps) != 1 || jumps[0].Readings != 6 || !jumps[0].First.Equal(bad[0].At) || !jumps[0].InFahrenheit() {
		t.Fatalf("jumps: %+v", jumps)
	}
	j := jumps[0]
	back := must(f.TakeBackSpan(t.Context(), f.by, code, j.Source, ReadingSpan{From: j.First, To: j.Last}))(t)
	sound()
	if out := exported(); back.Readings != 6 || strings.Contains(out, "71.6") || strings.Count(out, ",22,") != 6 || !strings.Contains(out, "900") {
		t.Errorf("%d taken back, exported:\n%s", back.Readings, out)
	}
	if jumps := must(f.ReadingJumps(t.Context(), code))(t); len(jumps) != 0 {
		t.Errorf("still asked about: %+v", jumps)
	}
	if kept := f.air("incubator", bad); kept.Known != 6 || kept.Stored != 0 {
		t.Errorf("sent once more: %+v", kept)
	}
	if n := must(f.UndoTakeBack(t.Context(), f.by, code, back.ID))(t); n != 6 {
		t.Errorf("%d kept again", n)
	}
	sound()
	if out := exported(); strings.Count(out, "71.6") != 6 || len(strings.Split(out, "\n")) != len(strings.Split(before, "\n")) {
		t.Errorf("undone:\n%s", out)
	}
	over := must(f.TakeBackSpan(t.Context(), f.by, code, j.Source, ReadingSpan{OverC: num(40)}))(t)
	sound()
	if over.Readings != 6 || strings.Count(exported(), ",22,") != 6 {
		t.Errorf("over 40 °C: %d", over.Readings)
	}
	if _, err := f.UndoTakeBack(t.Context(), f.by, code, back.ID); grow.KindOf(err) != grow.NotFound {
		t.Errorf("undone twice: %v", err)
	}
}
