package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"strings"

	"bagmark/grow"
)

// Names of places
//
// A place is its label; its name may change. Entries keep the name that was
// written, and are read with the name that the place has now: nameNow is the one
// place that knows. A former name still leads to its place, unless another place
// has taken it, so that phones out of reach and sensors go on as they were.

// RenamePlace gives a place another name, and with it its racks and shelves: a
// rack that goes to another room is a rename.
func (s *Store) RenamePlace(ctx context.Context, by Actor, code grow.Code, name string) (room Room, err error) {
	if err := grow.CheckPlaceName(name); err != nil {
		return room, err
	}
	name = grow.PlaceName(name)
	err = s.writing(ctx, func(t *tx) error {
		r, err := t.byCode(codedPlaces, code)
		if err != nil {
			return notThere(err)
		}
		if name, err = t.speltLike(name, r.name); err != nil {
			return err
		}
		if err := t.renamePlaces(by, r.name, name); err != nil {
			return err
		}
		room, _, err = t.roomAndParts(name)
		return err
	})
	return room, err
}

// speltLike is a name whose room and rack are spelt as they are already, so that
// no room is two by its capitals. Places within the one that is renamed do not
// count, "" for a new place.
func (t *tx) speltLike(name, renamed string) (string, error) {
	for of := outside(name); of != ""; of = outside(of) {
		var spelt string
		err := t.each(`SELECT name FROM places WHERE name_key = ?1 OR name_key > ?1 || ' > ' AND name_key < ?1 || ' >!' ORDER BY name_key DESC`, []any{nameKey(of)}, func(rows *sql.Rows) error {
			var there string
			err := rows.Scan(&there)
			if renamed == "" || !grow.PlaceWithin(there, renamed) {
				spelt = there[:min(len(of), len(there))] // the room itself comes last
			}
			return err
		})
		if err != nil {
			return "", err
		}
		if spelt != "" && strings.EqualFold(spelt, of) {
			return spelt + name[len(of):], nil
		}
	}
	return name, nil
}

func (t *tx) renamePlaces(by Actor, was, name string) error {
	if name == was {
		return nil
	}
	if grow.PlaceInside(name, was) {
		return nameRefused("would lie within itself")
	}
	last, _, err := t.lastEntry()
	if err != nil {
		return err
	}
	parts, err := t.placesWithin(was)
	if err != nil {
		return err
	}
	names := map[string]string{}
	for _, p := range parts {
		now := name + p.name[len(was):]
		if err := grow.CheckPlaceName(now); err != nil {
			return nameRefused("would make the name of a part too long: " + now)
		}
		if other, err := t.knownPlace(now); err == nil && other.id != p.id && nameKey(other.name) == nameKey(now) {
			return nameRefused("is the name of another place, or of a part of it: " + now)
		} else if err != nil && grow.KindOf(err) != grow.NotFound {
			return err
		}
		if err := t.renameOne(by, p, now, last); err != nil {
			return err
		}
		names[p.name] = now
	}
	if err := t.renameFruited(names); err != nil {
		return err
	}
	t.after = append(t.after, t.store.tracks.forget)
	t.farmChanged() // what is kept in memory holds names
	return nil
}

func nameRefused(why string) error {
	p := grow.Problems{"name": why}
	return p.Err("this place cannot be called that")
}

// placesWithin are a place and its parts.
func (t *tx) placesWithin(name string) (out []codedRow, err error) {
	err = t.each(`SELECT id, code, name FROM places ORDER BY id`, nil, func(rows *sql.Rows) error {
		var r codedRow
		err := rows.Scan(&r.id, &r.code, &r.name)
		if grow.PlaceWithin(r.name, name) {
			out = append(out, r)
		}
		return err
	})
	return out, err
}

func (t *tx) renameOne(by Actor, p codedRow, now string, last int64) error {
	if _, err := t.exec(`INSERT INTO former_places (place_id, name, name_key, until_seq, at, by_person, device) VALUES (?, ?, ?, ?, ?, ?, ?)`,
		p.id, p.name, nameKey(p.name), last, micros(t.now), by.Person, by.Device); err != nil {
		return err
	}
	if _, err := t.exec(`UPDATE places SET name = ?, name_key = ? WHERE id = ?`, now, nameKey(now), p.id); err != nil {
		return err
	}
	_, err := t.exec(`UPDATE bags SET status = json_set(status, '$.place', ?) WHERE status ->> '$.place' = ?`, now, p.name)
	return err
}

// renameFruited gives the places in which bags fruited their new names, all in one
// pass: a status has no index for that.
func (t *tx) renameFruited(names map[string]string) error {
	list, err := json.Marshal(names)
	if err != nil {
		return err
	}
	_, err = t.exec(`UPDATE bags SET status = json_set(status, '$.fruited_in', (SELECT value FROM json_each(?1) WHERE key = status ->> '$.fruited_in'))
		WHERE status ->> '$.fruited_in' IN (SELECT key FROM json_each(?1))`, string(list))
	return err
}

// formerPlace is a name that a place had while entries up to a number came in.
type formerPlace struct {
	name, now string
	until     int64
}

// nameNow is what the place of an entry is called now.
func (t *tx) nameNow(e *grow.Entry) error {
	if e.Place == "" {
		return nil
	}
	if t.former == nil {
		t.former = []formerPlace{}
		if err := t.each(`SELECT f.name, p.name, f.until_seq FROM former_places f JOIN places p ON p.id = f.place_id ORDER BY f.id`, nil, func(rows *sql.Rows) error {
			var f formerPlace
			err := rows.Scan(&f.name, &f.now, &f.until)
			t.former = append(t.former, f)
			return err
		}); err != nil {
			return err
		}
	}
	for _, f := range t.former {
		if f.name == e.Place && e.Seq <= f.until {
			e.Place = f.now
			return nil
		}
	}
	return nil
}

// byFormerName finds a place by a name that it had and no other place has now.
func (t *tx) byFormerName(name string) (r codedRow, known bool, err error) {
	err = t.one(`SELECT p.id, p.code, p.name FROM former_places f JOIN places p ON p.id = f.place_id WHERE f.name_key = ? ORDER BY f.id DESC LIMIT 1`,
		[]any{nameKey(name)}, &r.id, &r.code, &r.name)
	if errors.Is(err, sql.ErrNoRows) {
		return r, false, nil
	}
	return r, err == nil, err
}
