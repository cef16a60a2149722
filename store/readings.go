package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"bagmark/grow"
)

// Reading rules
//
// One instant of a place has one reading. The same again is known and changes
// nothing; one that brings what the kept one lacks (carbon dioxide from a second
// instrument) fills it in; one that says something else is refused, since one of
// the two is wrong. What is good is kept, whatever else was sent with it.
// reading_hours is worked out anew from the readings for every hour that is
// touched, in the same transaction.

// MostReadings is how many one request may bring.
const MostReadings = 5000

// ReadingsKept says what became of readings that were sent.
type ReadingsKept struct {
	Place   Place            `json:"place"`
	Stored  int              `json:"stored"`
	Known   int              `json:"known"`
	Refused []RefusedReading `json:"refused"`

	Filled int            `json:"-"` // of those known, which a value was brought to
	Source int64          `json:"-"`
	now    map[int64]bool // instants that this request brought
}

// clockLimit is how far a sensor's clock may be off before it is put right.
const clockLimit = 2 * time.Second

// RefusedReading is a reading that was not kept, by its place in the list.
type RefusedReading struct {
	Index   int    `json:"index"`
	Message string `json:"message"`
}

// ReadingsFrom says how readings came: sensor, file or typed, and the file's name.
type ReadingsFrom struct{ How, Name string }

// FromSensor are readings posted by a program.
var FromSensor = ReadingsFrom{How: "sensor"}

// AddReadings keeps readings of a place, named by its code or its name; a new name
// makes the place. sentAt is the sender's own clock, nil if it did not say: what
// it is off by is put right in every reading.
func (s *Store) AddReadings(ctx context.Context, by Actor, place string, list []grow.AirReading, sentAt *time.Time, from ReadingsFrom) (out ReadingsKept, err error) {
	if err := checkReadings(place, list); err != nil {
		return out, err
	}
	err = s.writing(ctx, func(t *tx) error {
		list, shifted := t.shifted(list, sentAt)
		out, err = t.addReadings(by, place, list, shifted, from)
		return err
	})
	return out, err
}

func checkReadings(place string, list []grow.AirReading) error {
	var p grow.Problems
	if _, err := grow.ParseCode(place); err != nil {
		if err := grow.CheckPlaceName(place); err != nil {
			p.Add("place", "must be the code of a place or its name, 1 to 60 characters")
		}
	}
	if len(list) == 0 || len(list) > MostReadings {
		p.Add("readings", "must be 1 to %d readings", MostReadings)
	}
	return p.Err("these readings cannot be kept as they are")
}

// shifted puts right what the sender's clock is off by, if that is more than two
// seconds.
func (t *tx) shifted(list []grow.AirReading, sentAt *time.Time) (out []grow.AirReading, shifted bool) {
	if sentAt == nil {
		return list, false
	}
	off := t.now.Sub(*sentAt)
	if off.Abs() <= clockLimit {
		return list, false
	}
	out = make([]grow.AirReading, len(list))
	for i, r := range list {
		r.At = r.At.Add(off)
		out[i] = r
	}
	return out, true
}

// keptBefore tells whether the sensor's reading is on record from an earlier
// request under nearly the same instant: how long a request is under way differs,
// so a wrong clock is never put right twice by quite the same.
func (t *tx) keptBefore(place int64, r grow.AirReading, out *ReadingsKept) (bool, error) {
	var at int64
	err := t.one(`SELECT at FROM readings WHERE place_id = ? AND source_id = ? AND at BETWEEN ? AND ? AND temp IS ? AND rh IS ? AND co2 IS ? LIMIT 1`,
		[]any{place, out.Source, micros(r.At.Add(-clockLimit)), micros(r.At.Add(clockLimit)), grow.Scaled(r.TempC), grow.Scaled(r.RHPct), grow.Scaled(r.CO2ppm)}, &at)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return !out.now[at], err
}

func (t *tx) addReadings(by Actor, place string, list []grow.AirReading, shifted bool, from ReadingsFrom) (out ReadingsKept, err error) {
	r, err := t.resolvePlace(place)
	if err != nil {
		return out, err
	}
	out.Refused, out.now = []RefusedReading{}, map[int64]bool{}
	if out.Place, err = t.place(r); err != nil {
		return out, err
	}
	if out.Source, err = t.readingSource(by, r.id, from); err != nil {
		return out, err
	}
	hours := touchedHours{}
	for i, reading := range list {
		refused, again := reading.Problem(t.now), false
		if refused == "" && shifted {
			again, err = t.keptBefore(r.id, reading, &out)
		}
		if err == nil && !again && refused == "" && from.How == FromSensor.How {
			again, err = t.wasTakenBack(out.Source, micros(reading.At))
		}
		switch {
		case err == nil && again:
			out.Known++
		case err == nil && refused == "":
			refused, err = t.keepReading(r.id, reading, &out, hours)
		}
		if err != nil {
			return out, err
		}
		if refused != "" {
			out.Refused = append(out.Refused, RefusedReading{i, refused})
		}
	}
	if len(out.Refused) == len(list) {
		if from.How == "file" { // one sentence for all its rows
			return out, grow.Errorf(grow.Invalid, "every row of this file stands at an instant that has another reading already: nothing was kept")
		}
		return out, refusal(out.Refused)
	}
	return out, t.sumHours(r.id, hours.stretches(), from.How)
}

// refusal is the error when nothing at all could be kept.
func refusal(refused []RefusedReading) error {
	var p grow.Problems
	for _, r := range refused {
		p.Add(fmt.Sprintf("readings[%d]", r.Index), "%s", r.Message)
	}
	return p.Err("none of these readings can be kept")
}

// readingSource is where readings come from: a sensor has one source a place, a
// file and a person one each time.
func (t *tx) readingSource(by Actor, place int64, from ReadingsFrom) (id int64, err error) {
	if from.How == FromSensor.How {
		err = t.one(`SELECT id FROM reading_sources WHERE place_id = ? AND how = 'sensor' AND by_person = ? AND device = ?`, []any{place, by.Person, by.Device}, &id)
		if !errors.Is(err, sql.ErrNoRows) {
			return id, err
		}
	}
	return t.insert(`INSERT INTO reading_sources (place_id, how, name, by_person, device, made_at) VALUES (?, ?, ?, ?, ?, ?)`,
		place, from.How, from.Name, by.Person, by.Device, micros(t.now))
}

// keepReading keeps one reading, or says why not.
func (t *tx) keepReading(place int64, r grow.AirReading, out *ReadingsKept, hours touchedHours) (refused string, err error) {
	at, temp, rh, co2 := micros(r.At), grow.Scaled(r.TempC), grow.Scaled(r.RHPct), grow.Scaled(r.CO2ppm)
	done, err := t.exec(`INSERT INTO readings (place_id, at, temp, rh, co2, source_id) VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`, place, at, temp, rh, co2, out.Source)
	if err != nil {
		return "", err
	}
	if n, err := done.RowsAffected(); err != nil || n == 1 {
		out.Stored++
		out.now[at] = true
		hours.add(at)
		return "", err
	}
	var was [3]*int64
	if err := t.one(`SELECT temp, rh, co2 FROM readings WHERE place_id = ? AND at = ?`, []any{place, at}, &was[0], &was[1], &was[2]); err != nil {
		return "", err
	}
	now := [3]*int64{temp, rh, co2}
	fills, clashes := lackingIn(was, now)
	if clashes {
		return "another reading of the same place and instant is on record, and says something else", nil
	}
	out.Known++
	if !fills {
		return "", nil
	}
	hours.add(at)
	out.Filled++
	return "", t.fill(place, at, was, now, out.Source)
}

// touchedHours are the hours whose sums must be worked out anew.
type touchedHours map[int64]bool

const hourMicros = 3600 * 1e6

func (h touchedHours) add(at int64) { h[at/hourMicros] = true } // readings are never before 2000

// stretches are the hours joined to stretches from first to last, both included;
// up to a day between two is no reason to ask twice.
func (h touchedHours) stretches() (out [][2]int64) {
	for _, hour := range slices.Sorted(maps.Keys(h)) {
		if n := len(out); n > 0 && hour-out[n-1][1] <= 24 {
			out[n-1][1] = hour
		} else {
			out = append(out, [2]int64{hour, hour})
		}
	}
	return out
}

// hourSums is the query that adds up the readings of a place by hours.
const hourSums = `SELECT r.place_id, at / 3600000000, count(temp), coalesce(sum(temp), 0), min(temp), max(temp), count(rh), coalesce(sum(rh), 0), min(rh), max(rh),
	count(co2), coalesce(sum(co2), 0), min(co2), max(co2), sum(s.how <> 'typed') FROM readings r JOIN reading_sources s ON s.id = r.source_id`

// sumHours adds up hours anew; how is where their readings came from. One typed by
// hand also makes hours known back to the one typed before it.
func (t *tx) sumHours(place int64, stretches [][2]int64, how string) error {
	for i, h := range stretches {
		if from := h[0]; i == 0 { // they are in order
			if how == "typed" {
				from -= lineReach
			}
			t.airChanged(from)
		}
		if _, err := t.exec(`DELETE FROM reading_hours WHERE place_id = ? AND hour BETWEEN ? AND ?`, place, h[0], h[1]); err != nil {
			return err
		}
		if _, err := t.exec(`INSERT INTO reading_hours `+hourSums+` WHERE r.place_id = ? AND at >= ? AND at < ? GROUP BY 1, 2`, place, h[0]*hourMicros, (h[1]+1)*hourMicros); err != nil {
			return err
		}
	}
	t.after = append(t.after, t.store.tracks.forget)
	return nil
}

// TakeBackReadings takes back what a file or a person brought to a place.
func (s *Store) TakeBackReadings(ctx context.Context, _ Actor, place grow.Code, source int64) (n int64, err error) {
	err = s.writing(ctx, func(t *tx) error {
		r, err := t.byCode(codedPlaces, place)
		if err != nil {
			return notThere(err)
		}
		var how string
		var first, last *int64
		err = t.one(`SELECT s.how, min(r.at), max(r.at), count(r.at) FROM reading_sources s
			LEFT JOIN (SELECT at, source_id FROM readings WHERE source_id = ?1 UNION ALL SELECT DISTINCT at, source_id FROM reading_fills WHERE source_id = ?1) r ON r.source_id = s.id
			WHERE s.id = ?1 AND s.place_id = ?2 GROUP BY s.id`, []any{source, r.id}, &how, &first, &last, &n)
		if errors.Is(err, sql.ErrNoRows) {
			return grow.Errorf(grow.NotFound, "there are no such readings of %s", r.name)
		}
		if err != nil || first == nil {
			return err
		}
		if how == FromSensor.How {
			return grow.Errorf(grow.Conflict, "what a sensor sent is taken back by a span of time")
		}
		if err := t.unfill(source); err != nil {
			return err
		}
		return t.sumHours(r.id, [][2]int64{{*first / hourMicros, *last / hourMicros}}, how)
	})
	return n, err
}

// ReadingQuery picks readings of one place.
type ReadingQuery struct {
	Place    string // code or name
	From, To *time.Time
	After    string // the cursor of a page before
	Limit    int
}

// ReadingPage is a page of readings, oldest first.
type ReadingPage struct {
	Place    Place             `json:"place"`
	Readings []grow.AirReading `json:"readings"`
	Next     *string           `json:"next"`
}

// Readings lists readings of a place.
func (s *Store) Readings(ctx context.Context, q ReadingQuery) (page ReadingPage, err error) {
	limit, err := limitOr(q.Limit)
	if err != nil {
		return page, err
	}
	from, to := int64(0), int64(1)<<62
	if q.From != nil {
		from = micros(*q.From)
	}
	if q.To != nil {
		to = micros(*q.To)
	}
	if q.After != "" {
		after, err := time.Parse(time.RFC3339Nano, q.After)
		if err != nil {
			p := grow.Problems{"after": "is not a cursor that this list gave"}
			return page, p.Err("the list cannot be given like this")
		}
		from = max(from, micros(after)+1)
	}
	farm, err := s.Farm(ctx)
	if err != nil {
		return page, err
	}
	err = s.reading(ctx, func(t *tx) error {
		r, err := t.knownPlace(q.Place)
		if err != nil {
			return err
		}
		page.Readings = []grow.AirReading{}
		if page.Place, err = t.place(r); err != nil {
			return err
		}
		return t.each(`SELECT at, temp, rh, co2 FROM readings WHERE place_id = ? AND at >= ? AND at < ? ORDER BY at LIMIT ?`, []any{r.id, from, to, limit + 1}, func(rows *sql.Rows) error {
			var at int64
			var temp, rh, co2 *int64
			err := rows.Scan(&at, &temp, &rh, &co2)
			page.Readings = append(page.Readings, grow.AirReading{At: instant(at, farm.Zone), TempC: grow.Unscaled(temp), RHPct: grow.Unscaled(rh), CO2ppm: grow.Unscaled(co2)})
			return err
		})
	})
	if len(page.Readings) > limit {
		page.Readings = page.Readings[:limit]
		next := page.Readings[limit-1].At.UTC().Format(time.RFC3339Nano)
		page.Next = &next
	}
	return page, err
}

// knownPlace is a place by its code or name, and never makes one.
func (t *tx) knownPlace(text string) (r codedRow, err error) {
	if code, err := grow.ParseCode(text); err == nil {
		if r, err := t.byCode(codedPlaces, code); err == nil {
			return r, nil
		} else if grow.KindOf(err) != grow.Conflict && grow.KindOf(err) != grow.NotFound {
			return r, err
		}
	}
	name := grow.PlaceName(text)
	err = t.one(`SELECT id, code, name FROM places WHERE name_key = ?`, []any{nameKey(name)}, &r.id, &r.code, &r.name)
	if !errors.Is(err, sql.ErrNoRows) {
		return r, err
	}
	former, known, err := t.byFormerName(name)
	if err == nil && !known {
		err = grow.Errorf(grow.NotFound, "this farm has no place %q", strings.TrimSpace(text))
	}
	return former, err
}

// ReadingSource is where readings of a place came from, and how many of them are
// on record.
type ReadingSource struct {
	ID          int64     `json:"id"`
	How         string    `json:"how"` // typed, file or sensor
	Name        string    `json:"name"`
	By          string    `json:"by"`
	Device      string    `json:"device"`
	MadeAt      time.Time `json:"made_at"`
	Readings    int       `json:"readings"`
	First, Last time.Time
}

// ReadingSources are the newest sources of a place's readings that are still on
// record.
func (s *Store) ReadingSources(ctx context.Context, place grow.Code, most int) (out []ReadingSource, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	err = s.reading(ctx, func(t *tx) error {
		r, err := t.byCode(codedPlaces, place)
		if err != nil {
			return notThere(err)
		}
		return t.each(`SELECT s.id, s.how, s.name, s.by_person, s.device, s.made_at, sum(r.n), min(r.first), max(r.last) FROM reading_sources s
			JOIN (SELECT source_id, count(*) AS n, min(at) AS first, max(at) AS last FROM readings WHERE source_id IN (SELECT id FROM reading_sources WHERE place_id = ?1) GROUP BY source_id
				UNION ALL SELECT source_id, count(DISTINCT at), min(at), max(at) FROM reading_fills WHERE place_id = ?1 GROUP BY source_id) r ON r.source_id = s.id
			GROUP BY s.id ORDER BY s.made_at DESC, s.id DESC LIMIT ?2`, []any{r.id, most}, func(rows *sql.Rows) error {
			var v ReadingSource
			var made, first, last int64
			err := rows.Scan(&v.ID, &v.How, &v.Name, &v.By, &v.Device, &made, &v.Readings, &first, &last)
			v.MadeAt, v.First, v.Last = instant(made, farm.Zone), instant(first, farm.Zone), instant(last, farm.Zone)
			out = append(out, v)
			return err
		})
	})
	return out, err
}
