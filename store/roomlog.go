package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"bagmark/grow"
)

// RoomEntry is one line of a room's log as it is kept.
type RoomEntry struct {
	grow.RoomLine
	Words       string     `json:"words"`
	By          string     `json:"by"`
	Device      string     `json:"device"`
	MadeAt      time.Time  `json:"received_at"`
	TakenBackAt *time.Time `json:"taken_back_at,omitempty"`
}

// AddRoomLine keeps a line of a room's log. The same line again is given as it
// was kept and created is false; another one under its id is a conflict.
func (s *Store) AddRoomLine(ctx context.Context, by Actor, place grow.Code, line grow.RoomLine) (e RoomEntry, created bool, err error) {
	err = s.changing(ctx, func(t *tx, f *Farm) error {
		said := line.At
		if said.IsZero() {
			line.At = t.now
		}
		if err := line.Validate(t.now); err != nil {
			return err
		}
		line.ID, _ = grow.ParseID(string(line.ID))
		r, err := t.byCode(codedPlaces, place)
		if err != nil {
			return notThere(err)
		}
		temp := grow.Scaled(line.TempC)
		done, err := t.exec(`INSERT INTO room_log (id, place_id, kind, at, temp, note, by_person, device, made_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
			string(line.ID), r.id, string(line.Kind), micros(line.At), temp, line.Note, by.Person, by.Device, micros(t.now))
		if err != nil {
			return err
		}
		n, err := done.RowsAffected()
		if err != nil {
			return err
		}
		if created = n == 1; created && line.Kind == grow.RoomSetPoint {
			t.airChanged(micros(line.At) / hourMicros)
		}
		line.At = said
		return t.keptLine(f, r.id, line, &e)
	})
	return e, created, err
}

// keptLine reads the line of an id back, and refuses one that says something else.
// One without a time says nothing of it.
func (t *tx) keptLine(f *Farm, place int64, line grow.RoomLine, e *RoomEntry) error {
	list, err := t.roomLines(f, `id = ?`, string(line.ID))
	if err != nil {
		return err
	}
	*e = list[0]
	var there int64
	if err := t.one(`SELECT place_id FROM room_log WHERE id = ?`, []any{string(line.ID)}, &there); err != nil {
		return err
	}
	same := there == place && e.Kind == line.Kind && e.Note == line.Note && (line.At.IsZero() || micros(e.At) == micros(line.At)) && equalNumbers(grow.Scaled(e.TempC), grow.Scaled(line.TempC))
	if !same {
		return grow.Errorf(grow.Conflict, "another line of a room's log has this id")
	}
	return nil
}

func equalNumbers(a, b *int64) bool { return a == b || a != nil && b != nil && *a == *b }

// TakeBackRoomLine takes a line back; once more changes nothing.
func (s *Store) TakeBackRoomLine(ctx context.Context, _ Actor, place grow.Code, id grow.ID) (e RoomEntry, err error) {
	err = s.changing(ctx, func(t *tx, f *Farm) error {
		r, err := t.byCode(codedPlaces, place)
		if err != nil {
			return notThere(err)
		}
		if _, err := t.exec(`UPDATE room_log SET taken_back_at = ? WHERE id = ? AND place_id = ? AND taken_back_at IS NULL`, micros(t.now), string(id), r.id); err != nil {
			return err
		}
		list, err := t.roomLines(f, `id = ? AND place_id = ?`, string(id), r.id)
		if err == nil && len(list) == 0 {
			return grow.Errorf(grow.NotFound, "the log of %s has no such line", r.name)
		}
		if err == nil {
			e = list[0]
			if e.Kind == grow.RoomSetPoint {
				t.airChanged(micros(e.At) / hourMicros)
			}
		}
		return err
	})
	return e, err
}

// RoomLog is the log of a place, newest first, also what was taken back.
func (s *Store) RoomLog(ctx context.Context, place grow.Code) (out []RoomEntry, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	err = s.reading(ctx, func(t *tx) error {
		r, err := t.byCode(codedPlaces, place)
		if err != nil {
			return notThere(err)
		}
		out, err = t.roomLines(farm, `place_id = ?`, r.id)
		return err
	})
	return out, err
}

func (t *tx) roomLines(f *Farm, where string, args ...any) ([]RoomEntry, error) {
	out := []RoomEntry{}
	err := t.each(`SELECT id, kind, at, temp, note, by_person, device, made_at, taken_back_at FROM room_log WHERE `+where+` ORDER BY at DESC, made_at DESC, id`, args, func(rows *sql.Rows) error {
		var e RoomEntry
		var at, made int64
		var temp, back *int64
		if err := rows.Scan(&e.ID, &e.Kind, &at, &temp, &e.Note, &e.By, &e.Device, &made, &back); err != nil {
			return err
		}
		e.At, e.MadeAt, e.TempC, e.Words = instant(at, f.Zone), instant(made, f.Zone), grow.Unscaled(temp), e.Kind.Words()
		if back != nil {
			t := instant(*back, f.Zone)
			e.TakenBackAt = &t
		}
		out = append(out, e)
		return nil
	})
	return out, err
}

// PlaceFacts are how large a place is and how its bags stand; nil where nobody
// said.
type PlaceFacts struct {
	Touching *bool    `json:"touching"` // bags stand against each other
	VolumeM3 *float64 `json:"volume_m3"`
}

func (f PlaceFacts) validate() error {
	var p grow.Problems
	if f.VolumeM3 != nil && !(*f.VolumeM3 > 0 && *f.VolumeM3 <= 100000) {
		p.Add("volume_m3", "must be more than 0 and at most 100000 m³")
	}
	return p.Err("this place cannot be kept as it is")
}

// PutPlaceFacts changes what a place is: change writes onto it as it stands.
func (s *Store) PutPlaceFacts(ctx context.Context, _ Actor, place grow.Code, change func(*PlaceFacts) error) (p Place, f PlaceFacts, err error) {
	err = s.writing(ctx, func(t *tx) error {
		r, err := t.byCode(codedPlaces, place)
		if err != nil {
			return notThere(err)
		}
		if p, err = t.place(r); err != nil {
			return err
		}
		if f, err = t.placeFacts(r.id); err != nil {
			return err
		}
		if err := change(&f); err != nil {
			return err
		}
		if err := f.validate(); err != nil {
			return err
		}
		t.airChanged(0) // how bags stand makes their cores warmer
		_, err = t.exec(`INSERT INTO place_facts (place_id, touching, volume_m3) VALUES (?, ?, ?)
			ON CONFLICT DO UPDATE SET touching = excluded.touching, volume_m3 = excluded.volume_m3`, r.id, f.Touching, f.VolumeM3)
		return err
	})
	return p, f, err
}

func (t *tx) placeFacts(place int64) (f PlaceFacts, err error) {
	err = t.one(`SELECT touching, volume_m3 FROM place_facts WHERE place_id = ?`, []any{place}, &f.Touching, &f.VolumeM3)
	if errors.Is(err, sql.ErrNoRows) {
		return f, nil
	}
	return f, err
}
