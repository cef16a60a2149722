package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"bagmark/grow"
)

// Taking back a sensor's readings
//
// A sensor has one source a place for as long as it lives, so what it sent wrongly
// is taken back by a span of time, or above a temperature. Such readings leave the
// place's air and its sums, and stay in readings_taken_back; the same sent once
// more is known. Undone, they are kept again as if they came now.

// ReadingSpan picks readings of a source: both ends included, the zero value all.
type ReadingSpan struct {
	From, To time.Time
	OverC    *float64 // those warmer than this only
}

// limits are the ends in microseconds, and the temperature as it is kept.
func (s ReadingSpan) limits() (from, to, over int64) {
	from, to, over = 0, int64(1)<<62, -int64(1)<<62
	if !s.From.IsZero() {
		from = micros(s.From)
	}
	if !s.To.IsZero() {
		to = micros(s.To)
	}
	if c := grow.Scaled(s.OverC); c != nil {
		over = *c
	}
	return from, to, over
}

// broughtBy is the query for what a source brought to which instants, each value
// null that another source did: the source, the ends and the limit are ?1 to ?4.
var broughtBy = func() string {
	var own, filled []string
	for _, column := range readingValues {
		own = append(own, fmt.Sprintf(`CASE WHEN EXISTS (SELECT 1 FROM reading_fills f WHERE f.place_id = r.place_id AND f.at = r.at AND f.value = '%[1]s') THEN NULL ELSE r.%[1]s END AS %[1]s`, column))
		filled = append(filled, fmt.Sprintf(`max(CASE WHEN f.value = '%[1]s' THEN r.%[1]s END) AS %[1]s`, column))
	}
	return `SELECT at, temp, rh, co2 FROM (SELECT r.at, ` + strings.Join(own, ", ") + ` FROM readings r WHERE r.source_id = ?1 AND r.at BETWEEN ?2 AND ?3
		UNION ALL SELECT r.at, ` + strings.Join(filled, ", ") + ` FROM reading_fills f JOIN readings r ON r.place_id = f.place_id AND r.at = f.at WHERE f.source_id = ?1 AND r.at BETWEEN ?2 AND ?3 GROUP BY r.at)
		WHERE coalesce(temp, rh, co2) IS NOT NULL AND (?4 < -1000000000 OR temp > ?4)`
}()

// TakenBack says what was taken back and under which number it can be undone.
type TakenBack struct {
	ID       int64
	Readings int
}

// TakeBackSpan takes back readings that a sensor brought to a place.
func (s *Store) TakeBackSpan(ctx context.Context, by Actor, place grow.Code, source int64, span ReadingSpan) (out TakenBack, err error) {
	err = s.writing(ctx, func(t *tx) error {
		r, err := t.byCode(codedPlaces, place)
		if err != nil {
			return notThere(err)
		}
		var how string
		err = t.one(`SELECT how FROM reading_sources WHERE id = ? AND place_id = ?`, []any{source, r.id}, &how)
		if errors.Is(err, sql.ErrNoRows) || err == nil && how != FromSensor.How {
			return grow.Errorf(grow.NotFound, "there is no such sensor of %s", r.name)
		}
		if err != nil {
			return err
		}
		if out.ID, err = t.insert(`INSERT INTO reading_takebacks (place_id, source_id, at, by_person, device) VALUES (?, ?, ?, ?, ?)`, r.id, source, micros(t.now), by.Person, by.Device); err != nil {
			return err
		}
		from, to, over := span.limits()
		if _, err := t.exec(`INSERT INTO readings_taken_back (takeback_id, at, temp, rh, co2) SELECT ?5, at, temp, rh, co2 FROM (`+broughtBy+`)`, source, from, to, over, out.ID); err != nil {
			return err
		}
		hours, err := t.hoursTakenBack(out.ID, &out.Readings)
		if err != nil {
			return err
		}
		if out.Readings == 0 {
			return grow.Errorf(grow.NotFound, "this sensor sent no reading like that")
		}
		if err := t.unfill(source, out.ID); err != nil {
			return err
		}
		return t.sumHours(r.id, hours.stretches(), how)
	})
	return out, err
}

// hoursTakenBack are the hours of the readings that were taken back together; it
// counts them.
func (t *tx) hoursTakenBack(id int64, n *int) (touchedHours, error) {
	hours := touchedHours{}
	err := t.each(`SELECT at FROM readings_taken_back WHERE takeback_id = ?`, []any{id}, func(rows *sql.Rows) error {
		var at int64
		err := rows.Scan(&at)
		hours.add(at)
		*n++
		return err
	})
	return hours, err
}

// UndoTakeBack makes readings of what was taken back, as far as no other reading
// stands at their instants by now.
func (s *Store) UndoTakeBack(ctx context.Context, _ Actor, place grow.Code, id int64) (kept int, err error) {
	err = s.writing(ctx, func(t *tx) error {
		r, err := t.byCode(codedPlaces, place)
		if err != nil {
			return notThere(err)
		}
		out := ReadingsKept{now: map[int64]bool{}}
		err = t.one(`SELECT source_id FROM reading_takebacks WHERE id = ? AND place_id = ? AND undone_at IS NULL`, []any{id, r.id}, &out.Source)
		if errors.Is(err, sql.ErrNoRows) {
			return grow.Errorf(grow.NotFound, "this is not taken back any more")
		}
		if err != nil {
			return err
		}
		if _, err := t.exec(`UPDATE reading_takebacks SET undone_at = ? WHERE id = ?`, micros(t.now), id); err != nil {
			return err
		}
		list, err := t.takenBack(id)
		if err != nil {
			return err
		}
		hours := touchedHours{}
		for _, reading := range list {
			if _, err := t.keepReading(r.id, reading, &out, hours); err != nil {
				return err
			}
		}
		kept = out.Stored + out.Filled
		return t.sumHours(r.id, hours.stretches(), FromSensor.How)
	})
	return kept, err
}

func (t *tx) takenBack(id int64) (out []grow.AirReading, err error) {
	err = t.each(`SELECT at, temp, rh, co2 FROM readings_taken_back WHERE takeback_id = ? ORDER BY at`, []any{id}, func(rows *sql.Rows) error {
		var at int64
		var temp, rh, co2 *int64
		err := rows.Scan(&at, &temp, &rh, &co2)
		out = append(out, grow.AirReading{At: time.UnixMicro(at), TempC: grow.Unscaled(temp), RHPct: grow.Unscaled(rh), CO2ppm: grow.Unscaled(co2)})
		return err
	})
	return out, err
}

// wasTakenBack tells whether a source sends again what was taken back.
func (t *tx) wasTakenBack(source, at int64) (bool, error) {
	var there bool
	err := t.one(`SELECT EXISTS (SELECT 1 FROM reading_takebacks k JOIN readings_taken_back b ON b.takeback_id = k.id WHERE k.source_id = ? AND k.undone_at IS NULL AND b.at = ?)`, []any{source, at}, &there)
	return there, err
}

// jumpC is how far a sensor's reading may lie from the place's hour before, in °C,
// before its room's page asks about it (common practice: no room does that).
const jumpC = 25.0

// ReadingJump are a sensor's readings of the last day far from those before them.
type ReadingJump struct {
	Source      int64
	First, Last time.Time
	C           float64 // of the first
	BeforeC     float64 // mean of the hour before it
	Readings    int
}

// InFahrenheit tells whether the first would be near the hour before in °F.
func (j ReadingJump) InFahrenheit() bool {
	d := (j.C-32)/1.8 - j.BeforeC
	return d > -jumpC/2 && d < jumpC/2
}

// ReadingJumps asks about the readings of a place's sensors over the last day: one
// jump a sensor, the latest.
func (s *Store) ReadingJumps(ctx context.Context, place grow.Code) (out []ReadingJump, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	err = s.reading(ctx, func(t *tx) error {
		r, err := t.byCode(codedPlaces, place)
		if err != nil {
			return notThere(err)
		}
		var seek jumpSeeker
		err = t.each(`SELECT r.at, r.temp, r.source_id, s.how FROM readings r JOIN reading_sources s ON s.id = r.source_id
			WHERE r.place_id = ? AND r.at >= ? AND r.temp IS NOT NULL ORDER BY r.at`, []any{r.id, micros(t.now.Add(-25 * time.Hour))}, func(rows *sql.Rows) error {
			var at, temp, source int64
			var how string
			err := rows.Scan(&at, &temp, &source, &how)
			seek.take(instant(at, farm.Zone), float64(temp)/grow.ReadingScale, source, how)
			return err
		})
		out = seek.jumps
		return err
	})
	return out, err
}

// jumpSeeker goes over a place's temperatures in their order.
type jumpSeeker struct {
	near  []grow.AirReading // of the hour before, none that jumped
	mean  float64           // of them, or of the last hour that had any
	known bool
	jumps []ReadingJump
}

func (j *jumpSeeker) take(at time.Time, c float64, source int64, how string) {
	for len(j.near) > 0 && at.Sub(j.near[0].At) > time.Hour {
		j.near = j.near[1:]
	}
	if len(j.near) > 0 {
		j.known, j.mean = true, 0
		for _, r := range j.near {
			j.mean += *r.TempC / float64(len(j.near))
		}
	}
	if how != FromSensor.How || !j.known || c-j.mean < jumpC && j.mean-c < jumpC {
		j.near = append(j.near, grow.AirReading{At: at, TempC: &c})
		return
	}
	for i, known := range j.jumps {
		if known.Source == source {
			j.jumps[i].Last, j.jumps[i].Readings = at, known.Readings+1
			return
		}
	}
	j.jumps = append(j.jumps, ReadingJump{Source: source, First: at, Last: at, C: c, BeforeC: j.mean, Readings: 1})
}
