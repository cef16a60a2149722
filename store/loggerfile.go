package store

import (
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
