package store

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"

	"bagmark/grow"
	"bagmark/grow/logfile"
)

// AddLoggerFile keeps the readings of a logger's file and remembers how its
// heading was read.
func (s *Store) AddLoggerFile(ctx context.Context, by Actor, place grow.Code, name string, list []grow.AirReading, heading string, m logfile.RoomMap) (out ReadingsKept, err error) {
	if len(list) == 0 {
		return out, grow.Errorf(grow.Invalid, "this file has no reading that can be kept")
	}
	data, err := json.Marshal(m)
	if err != nil {
		return out, err
	}
	err = s.writing(ctx, func(t *tx) error {
		r, err := t.byCode(codedPlaces, place)
		if err != nil {
			return notThere(err)
		}
		if _, err := t.exec(`INSERT INTO logger_maps (heading, data, used_at) VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET data = excluded.data, used_at = excluded.used_at`, heading, string(data), micros(t.now)); err != nil {
			return err
		}
		out, err = t.addReadings(by, string(r.code), list, false, ReadingsFrom{How: "file", Name: shortName(name)})
		return err
	})
	return out, err
}

// LoggerRows is how a file's readings stand to what is on record: new ones, those
// that fill a reading which lacked a value, those that are known, and those that
// say something else than a reading of their instant, which stays.
type LoggerRows struct{ New, Filling, Known, Clashing int }

// Brings is how many readings change anything.
func (r LoggerRows) Brings() int { return r.New + r.Filling }

// LoggerAgainst holds a file's readings, oldest first, against what is on record
// of a place.
func (s *Store) LoggerAgainst(ctx context.Context, place grow.Code, list []grow.AirReading) (out LoggerRows, err error) {
	if len(list) == 0 {
		return out, nil
	}
	err = s.reading(ctx, func(t *tx) error {
		r, err := t.byCode(codedPlaces, place)
		if err != nil {
			return notThere(err)
		}
		there := map[int64][3]*int64{}
		err = t.each(`SELECT at, temp, rh, co2 FROM readings WHERE place_id = ? AND at BETWEEN ? AND ?`, []any{r.id, micros(list[0].At), micros(list[len(list)-1].At)}, func(rows *sql.Rows) error {
			var at int64
			var v [3]*int64
			err := rows.Scan(&at, &v[0], &v[1], &v[2])
			there[at] = v
			return err
		})
		out.count(list, there)
		return err
	})
	return out, err
}

// count goes over the readings as they would be kept one after the other.
func (r *LoggerRows) count(list []grow.AirReading, there map[int64][3]*int64) {
	for _, reading := range list {
		at := micros(reading.At)
		now := [3]*int64{grow.Scaled(reading.TempC), grow.Scaled(reading.RHPct), grow.Scaled(reading.CO2ppm)}
		was, known := there[at]
		fills, clashes := lackingIn(was, now)
		switch {
		case !known:
			r.New++
		case clashes:
			r.Clashing++
			continue
		case fills:
			r.Filling++
		default:
			r.Known++
		}
		for i := range was {
			was[i] = cmp.Or(was[i], now[i])
		}
		there[at] = was
	}
}

// lackingIn tells whether a reading brings a value that the one on record lacks,
// and whether it says something else.
func lackingIn(was, now [3]*int64) (fills, clashes bool) {
	for i, v := range now {
		switch {
		case v == nil:
		case was[i] == nil:
			fills = true
		case *was[i] != *v:
			clashes = true
		}
	}
	return fills, clashes
}

// shortName is a file's name as far as it is kept.
func shortName(name string) string {
	runes := []rune(name)
	return string(runes[:min(len(runes), 60)])
}

// LoggerMap is how a file with this heading was read last; false if none was.
func (s *Store) LoggerMap(ctx context.Context, heading string) (m logfile.RoomMap, ok bool, err error) {
	err = s.reading(ctx, func(t *tx) error {
		var data string
		err := t.one(`SELECT data FROM logger_maps WHERE heading = ?`, []any{heading}, &data)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		if err != nil {
			return err
		}
		ok = true
		return json.Unmarshal([]byte(data), &m)
	})
	return m, ok, err
}
