package store

import (
	"bytes"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func num(v float64) *float64 { return &v }

// airAt are readings of temperature every step from start.
func airAt(start time.Time, step time.Duration, celsius ...float64) (out []grow.AirReading) {
	for i, c := range celsius {
		out = append(out, grow.AirReading{At: start.Add(time.Duration(i) * step), TempC: num(c)})
	}
	return out
}

func (f *labFarm) air(place string, list []grow.AirReading) ReadingsKept {
	f.t.Helper()
	kept, err := f.AddReadings(f.t.Context(), f.by, place, list, nil, FromSensor)
	if err != nil {
		f.t.Fatal(err)
	}
	return kept
}

func (f *labFarm) place(name string) Place {
	f.t.Helper()
	p, _, err := f.CreatePlace(f.t.Context(), f.by, name)
	if err != nil {
		f.t.Fatal(err)
	}
	return p
}

// hoursAgree compares the kept sums with the readings they are sums of.
func (f *labFarm) hoursAgree() {
	f.t.Helper()
	read := func(t *tx, query string) (out []string) {
		if err := t.each(query, nil, func(rows *sql.Rows) error {
			cells := make([]any, 15)
			for i := range cells {
				cells[i] = new(any)
			}
			err := rows.Scan(cells...)
			var line []string
			for _, c := range cells {
				line = append(line, fmt.Sprint(*c.(*any)))
			}
			out = append(out, strings.Join(line, " "))
			return err
		}); err != nil {
			f.t.Fatal(err)
		}
		return out
	}
	err := f.reading(f.t.Context(), func(t *tx) error {
		kept := read(t, `SELECT * FROM reading_hours ORDER BY 1, 2`)
		fresh := read(t, hourSums+` GROUP BY 1, 2 ORDER BY 1, 2`)
		if d := cmp.Diff(fresh, kept); d != "" {
			f.t.Errorf("sums (-readings +kept):\n%s", d)
		}
		return nil
	})
	if err != nil {
		f.t.Fatal(err)
	}
}

func TestReadingsAreKeptOnce(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	room := f.place("incubator")
	start := f.clock.now().Add(-time.Hour)
	list := airAt(start, 5*time.Minute, 21, 21.0625, 21.2)
	if k := f.air("Incubator", list); k.Stored != 3 || k.Known != 0 || k.Place.Code != room.Code {
		t.Errorf("first: %+v", k)
	}
	if k := f.air(string(room.Code), list); k.Stored != 0 || k.Known != 3 || len(k.Refused) != 0 {
		t.Errorf("again: %+v", k)
	}
	second := []grow.AirReading{{At: list[0].At, CO2ppm: num(1800)}, {At: list[1].At, TempC: num(30)}, {At: start.Add(time.Hour * 2), TempC: num(20)}}
	k := f.air("incubator", second)
	if k.Known != 1 || k.Stored != 0 || len(k.Refused) != 2 || k.Refused[0].Index != 1 || k.Refused[1].Index != 2 {
		t.Errorf("filled, contradicted, from the future: %+v", k)
	}
	page, err := f.Readings(t.Context(), ReadingQuery{Place: "incubator", Limit: 2})
	if err != nil {
		t.Fatal(err)
	}
	if len(page.Readings) != 2 || *page.Readings[0].CO2ppm != 1800 || *page.Readings[1].TempC != 21.0625 || page.Next == nil {
		t.Errorf("first page: %+v", page)
	}
	page, err = f.Readings(t.Context(), ReadingQuery{Place: "incubator", Limit: 2, After: *page.Next})
	if err != nil || len(page.Readings) != 1 || page.Next != nil || *page.Readings[0].TempC != 21.2 {
		t.Errorf("second page: %+v, %v", page, err)
	}
	f.hoursAgree()
}

func TestReadingsThatAreRefused(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	now := f.clock.now()
	for name, c := range map[string]struct {
		place string
		list  []grow.AirReading
		field string
	}{
		"no place":      {"", airAt(now, 0, 20), "place"},
		"no readings":   {"room", nil, "readings"},
		"too many":      {"room", make([]grow.AirReading, MostReadings+1), "readings"},
		"all bad":       {"room", []grow.AirReading{{At: now}}, "readings[0]"},
		"in Fahrenheit": {"room", airAt(now, 0, 98.6), "readings[0]"},
	} {
		_, err := f.AddReadings(t.Context(), f.by, c.place, c.list, nil, FromSensor)
		e, ok := err.(*grow.Error)
		if !ok || e.Kind != grow.Invalid || e.Fields[c.field] == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	if places, err := f.Places(t.Context()); err != nil || len(places) != 0 {
		t.Errorf("refused readings made a place: %v, %v", places, err)
	}
	if _, err := f.Readings(t.Context(), ReadingQuery{Place: "nowhere"}); grow.KindOf(err) != grow.NotFound {
		t.Errorf("readings of nowhere: %v", err)
	}
}

// TestWrongClockIsPutRight: what the sender's clock is off by at sending, all its
// readings are off by.
func TestWrongClockIsPutRight(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	now := f.clock.now()
	sent := now.Add(90 * time.Minute) // its clock is fast
	if _, err := f.AddReadings(t.Context(), f.by, "room", airAt(sent.Add(-5*time.Minute), 0, 20), &sent, FromSensor); err != nil {
		t.Fatal(err)
	}
	page, err := f.Readings(t.Context(), ReadingQuery{Place: "room"})
	if err != nil {
		t.Fatal(err)
	}
	if got := page.Readings[0].At; !got.Equal(now.Add(-5 * time.Minute)) {
		t.Errorf("kept at %s", got)
	}
}

// TestHourlySumsStayExact: readings of several kinds in any order, and taking some
// back; the sums are always those of the readings.
func TestHourlySumsStayExact(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	random := rand.New(rand.NewPCG(7, 7))
	start := f.clock.now().Add(-400 * time.Hour)
	for range 30 {
		var list []grow.AirReading
		for range 1 + random.IntN(40) {
			r := grow.AirReading{At: start.Add(time.Duration(random.IntN(390*3600)) * time.Second), TempC: num(15 + 10*random.Float64())}
			if random.IntN(3) == 0 {
				r.RHPct = num(100 * random.Float64())
			}
			if random.IntN(3) == 0 {
				r.TempC, r.CO2ppm = nil, num(400+5000*random.Float64())
			}
			list = append(list, r)
		}
		from := []ReadingsFrom{FromSensor, {How: "file", Name: "logger.csv"}, {How: "typed"}}[random.IntN(3)]
		if _, err := f.AddReadings(t.Context(), f.by, []string{"room", "room > rack 1"}[random.IntN(2)], list, nil, from); err != nil {
			t.Fatal(err)
		}
	}
	f.hoursAgree()
	for _, p := range []string{"room", "room > rack 1"} {
		sources, err := f.ReadingSources(t.Context(), f.place(p).Code, 100)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range sources {
			n, err := f.TakeBackReadings(t.Context(), f.by, f.place(p).Code, s.ID)
			if s.How == "sensor" {
				if grow.KindOf(err) != grow.Conflict {
					t.Errorf("a sensor's readings were taken back: %v", err)
				}
			} else if err != nil || n != int64(s.Readings) {
				t.Errorf("taking back %+v: %d, %v", s, n, err)
			}
		}
	}
	f.hoursAgree()
	if _, err := f.TakeBackReadings(t.Context(), f.by, f.place("room").Code, 999); grow.KindOf(err) != grow.NotFound {
		t.Errorf("taking nothing back: %v", err)
	}
}

// TestTakingBackOneOfTwoInstruments: a thermometer's file and a carbon dioxide
// meter's of the same minutes, and a sensor that knows both; each is taken back
// without the others.
func TestTakingBackOneOfTwoInstruments(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name string
		back []string // files, in this order
		left []string // values at the first minute, as temp rh co2
	}{
		{"the first", []string{"warm.csv"}, []string{"- 90 900", "- - 950"}},
		{"the second", []string{"air.csv"}, []string{"21 90 -", "22 - -"}},
		{"both", []string{"warm.csv", "air.csv"}, []string{"- 90 -"}},
		{"both, the second first", []string{"air.csv", "warm.csv"}, []string{"- 90 -"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			f := newLabFarm(t)
			at := f.clock.now().Add(-3 * time.Hour)
			keep := func(from ReadingsFrom, list ...grow.AirReading) {
				t.Helper()
				if _, err := f.AddReadings(t.Context(), f.by, "room", list, nil, from); err != nil {
					t.Fatal(err)
				}
			}
			keep(ReadingsFrom{How: "file", Name: "warm.csv"}, grow.AirReading{At: at, TempC: num(21)}, grow.AirReading{At: at.Add(time.Hour), TempC: num(22)})
			keep(ReadingsFrom{How: "file", Name: "air.csv"}, grow.AirReading{At: at, CO2ppm: num(900)}, grow.AirReading{At: at.Add(time.Hour), CO2ppm: num(950)})
			keep(FromSensor, grow.AirReading{At: at, RHPct: num(90)})
			room := f.place("room").Code
			for _, name := range test.back {
				sources, err := f.ReadingSources(t.Context(), room, 10)
				if err != nil {
					t.Fatal(err)
				}
				i := slices.IndexFunc(sources, func(s ReadingSource) bool { return s.Name == name })
				if i < 0 || sources[i].Readings != 2 {
					t.Fatalf("%s: %+v", name, sources)
				}
				if n, err := f.TakeBackReadings(t.Context(), f.by, room, sources[i].ID); err != nil || n != 2 {
					t.Errorf("%s: %d taken back, %v", name, n, err)
				}
			}
			page, err := f.Readings(t.Context(), ReadingQuery{Place: "room"})
			if err != nil {
				t.Fatal(err)
			}
			var left []string
			for _, r := range page.Readings {
				left = append(left, fmt.Sprintf("%s %s %s", valueOrDash(r.TempC), valueOrDash(r.RHPct), valueOrDash(r.CO2ppm)))
			}
			if diff := cmp.Diff(test.left, left); diff != "" {
				t.Errorf("left on record (-want +got):\n%s", diff)
			}
			f.hoursAgree()
		})
	}
}

func valueOrDash(v *float64) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprint(*v)
}

func TestRoomLog(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	room := f.place("incubator").Code
	line := grow.RoomLine{ID: f.id(), Kind: grow.RoomSetPoint, At: f.clock.now().Add(-time.Hour), TempC: num(22.5), Note: "was 24"}
	e, created, err := f.AddRoomLine(t.Context(), f.by, room, line)
	if err != nil || !created || *e.TempC != 22.5 || e.By != f.by.Person {
		t.Fatalf("%+v, %v, %v", e, created, err)
	}
	if _, created, err := f.AddRoomLine(t.Context(), f.by, room, line); err != nil || created {
		t.Errorf("again: %v, %v", created, err)
	}
	line.Note = "something else"
	if _, _, err := f.AddRoomLine(t.Context(), f.by, room, line); grow.KindOf(err) != grow.Conflict {
		t.Errorf("another line under the id: %v", err)
	}
	for name, bad := range map[string]grow.RoomLine{
		"kind":   {ID: f.id(), Kind: "danced"},
		"id":     {ID: "7", Kind: grow.RoomCleaned},
		"temp_c": {ID: f.id(), Kind: grow.RoomCleaned, TempC: num(20)},
		"note":   {ID: f.id(), Kind: grow.RoomNote},
		"at":     {ID: f.id(), Kind: grow.RoomCleaned, At: f.clock.now().Add(time.Hour)},
	} {
		_, _, err := f.AddRoomLine(t.Context(), f.by, room, bad)
		if e, ok := err.(*grow.Error); !ok || e.Fields[name] == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	for range 2 { // once more changes nothing
		if e, err := f.TakeBackRoomLine(t.Context(), f.by, room, line.ID); err != nil || e.TakenBackAt == nil {
			t.Errorf("taken back: %+v, %v", e, err)
		}
		f.clock.move(time.Minute)
	}
	if _, err := f.TakeBackRoomLine(t.Context(), f.by, room, f.id()); grow.KindOf(err) != grow.NotFound {
		t.Errorf("a line that is not there: %v", err)
	}
	if list, err := f.RoomLog(t.Context(), room); err != nil || len(list) != 1 || list[0].TakenBackAt == nil {
		t.Errorf("log: %+v, %v", list, err)
	}
}

func TestPlaceFacts(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	shelf := f.place("room > shelf 1").Code
	yes := true
	_, facts, err := f.PutPlaceFacts(t.Context(), f.by, shelf, func(p *PlaceFacts) error { p.Touching = &yes; return nil })
	if err != nil || !*facts.Touching {
		t.Fatal(facts, err)
	}
	_, facts, err = f.PutPlaceFacts(t.Context(), f.by, shelf, func(p *PlaceFacts) error { p.VolumeM3 = num(30); return nil })
	if err != nil || !*facts.Touching || *facts.VolumeM3 != 30 {
		t.Errorf("the rest stays: %+v, %v", facts, err)
	}
	if _, _, err := f.PutPlaceFacts(t.Context(), f.by, shelf, func(p *PlaceFacts) error { p.VolumeM3 = num(-1); return nil }); grow.KindOf(err) != grow.Invalid {
		t.Errorf("a room of less than nothing: %v", err)
	}
}

func TestExportOfRooms(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	at := f.clock.now().Add(-time.Hour)
	f.air("room", []grow.AirReading{{At: at, TempC: num(21.5), RHPct: num(93)}})
	if _, _, err := f.AddRoomLine(t.Context(), f.by, f.place("room").Code, grow.RoomLine{ID: f.id(), Kind: grow.RoomNote, At: at, Note: "=1+1"}); err != nil {
		t.Fatal(err)
	}
	var readings, rooms bytes.Buffer
	if err := f.ExportReadings(t.Context(), &readings); err != nil {
		t.Fatal(err)
	}
	if err := f.ExportRooms(t.Context(), &rooms); err != nil {
		t.Fatal(err)
	}
	if want := "room,2026-11-22T14:00:00Z,21.5,93,,sensor,,Ana Invented,bench phone\r\n"; !strings.HasSuffix(readings.String(), want) {
		t.Errorf("readings:\n%s", readings.String())
	}
	if !strings.Contains(rooms.String(), "room,2026-11-22T14:00:00Z,note,,'=1+1,Ana Invented") {
		t.Errorf("rooms:\n%s", rooms.String())
	}
}

// TestAWrongClockSentTwice: a sensor whose clock is an hour slow sends its readings
// again because an answer was lost. The second request is under way for longer, so
// its times are put right by a little more; each reading is on record once. Two
// alike within one request are two.
func TestAWrongClockSentTwice(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	at := f.clock.now().Add(-90 * time.Minute)
	list := []grow.AirReading{{At: at, TempC: new(22.5)}, {At: at.Add(time.Second), TempC: new(22.5)}, {At: at.Add(5 * time.Minute), TempC: new(23.0)}}
	for n, wait := range []time.Duration{80 * time.Millisecond, 900 * time.Millisecond, 10 * time.Millisecond} {
		sent := f.clock.now().Add(-time.Hour)
		f.clock.move(wait)
		got := must(f.AddReadings(t.Context(), f.owner, "incubator", list, &sent, FromSensor))(t)
		if want := []int{3, 0, 0}[n]; got.Stored != want || got.Known != 3-want {
			t.Errorf("request %d: %d stored, %d known", n+1, got.Stored, got.Known)
		}
	}
}
