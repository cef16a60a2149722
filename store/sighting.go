package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"bagmark/grow"
)

// Sighting rules
//
// A bag's log says where it stands. A round of a place says where its label was
// seen; the latest such sighting of each bag is kept beside the log and changes
// nothing in it. Where the two differ, and nobody moved the bag since it was
// seen, the pages of both places say so until somebody says which is right. A bag
// that stands at a part of what was walked over, or at what that is part of, is
// no difference.

// Round is one walk over a place. It is kept from the first bag seen on it.
type Round struct {
	ID      grow.ID   `json:"id"`
	Place   string    `json:"place"`
	BeganAt time.Time `json:"began_at"`
	By      string    `json:"by"`
}

// Sighting is where a bag's label was last seen.
type Sighting struct {
	Bag   grow.Code `json:"-"`
	Place string    `json:"place"`
	At    time.Time `json:"at"`
	By    string    `json:"by"`

	round  *string
	device string
}

// See notes that bags were seen at a round's place; a round without an id is none,
// somebody only said so. What was seen later than this already stays.
func (s *Store) See(ctx context.Context, by Actor, r Round, at time.Time, bags ...grow.Code) error {
	return s.writing(ctx, func(t *tx) error {
		place, err := t.resolvePlace(r.Place)
		if err != nil {
			return err
		}
		var round *string
		if r.ID != "" {
			round = new(string(r.ID))
			if _, err := t.exec(`INSERT INTO rounds (id, place_id, began_at, by_person, device) VALUES (?, ?, ?, ?, ?) ON CONFLICT (id) DO NOTHING`,
				*round, place.id, micros(r.BeganAt), by.Person, by.Device); err != nil {
				return err
			}
		}
		for _, code := range bags {
			bag, err := t.bagID(code)
			if err != nil {
				return err
			}
			if err := t.see(bag, place.id, Sighting{At: at, By: by.Person, device: by.Device, round: round}); err != nil {
				return err
			}
		}
		return nil
	})
}

func (t *tx) see(bag, place int64, s Sighting) error {
	_, err := t.exec(`INSERT INTO sightings (bag_id, place_id, at, round_id, by_person, device) VALUES (?, ?, ?, ?, ?, ?)
		ON CONFLICT (bag_id) DO UPDATE SET place_id = excluded.place_id, at = excluded.at, round_id = excluded.round_id, by_person = excluded.by_person, device = excluded.device
		WHERE excluded.at >= at`, bag, place, micros(s.At), s.round, s.By, s.device)
	return err
}

// Unsee takes back that a bag was seen, on a round or, with no round, otherwise.
// What was seen of it on another round since stays.
func (s *Store) Unsee(ctx context.Context, round grow.ID, bags ...grow.Code) error {
	return s.writing(ctx, func(t *tx) error {
		for _, code := range bags {
			bag, err := t.bagID(code)
			if err != nil {
				return err
			}
			if _, err := t.exec(`DELETE FROM sightings WHERE bag_id = ? AND coalesce(round_id, '') = ?`, bag, string(round)); err != nil {
				return err
			}
		}
		return nil
	})
}

// lastRound is the latest round of a place or of what it is part of, nil before
// the first.
func (t *tx) lastRound(place string, zone *time.Location) (*Round, error) {
	var last *Round
	for _, name := range grow.PlaceAndAround(place) {
		var r Round
		var began int64
		err := t.one(`SELECT r.id, p.name, r.began_at, r.by_person FROM rounds r JOIN places p ON p.id = r.place_id
			WHERE p.name_key = ? ORDER BY r.began_at DESC LIMIT 1`, []any{nameKey(name)}, &r.ID, &r.Place, &began, &r.By)
		if errors.Is(err, sql.ErrNoRows) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if r.BeganAt = instant(began, zone); last == nil || r.BeganAt.After(last.BeganAt) {
			last = &r
		}
	}
	return last, nil
}

// SeenBag is a bag that was last seen elsewhere than where it should stand.
type SeenBag struct {
	BagHit
	Seen Sighting `json:"seen"`
}

// The terms of the two queries below, over bags g, their sightings s and the
// places p of those.
const (
	// movedAt is when a bag was last said to stand somewhere.
	movedAt = `coalesce((SELECT max(e.at) FROM entries e WHERE e.bag_id = g.id AND e.kind IN ('move', 'fruiting') AND e.detail ->> '$.place' <> ''
		AND NOT EXISTS (SELECT 1 FROM entries v WHERE v.bag_id = g.id AND v.kind = 'void' AND v.detail ->> '$.entry' = e.id)), 0)`
	inCare = `g.state NOT IN ('finished', 'culled')`
	// standsIn takes a place, then both ends of its parts; see partsOf.
	standsIn = `(g.status ->> '$.place' = ? OR g.status ->> '$.place' > ? AND g.status ->> '$.place' < ?)`
)

// partsOf are the arguments of standsIn: a place and what all names of its parts
// lie between.
func partsOf(name string) []any {
	return []any{name, name + grow.PlaceSeparator, name + grow.PlaceSeparator + "\U0010FFFF"}
}

// seen gives bags with where they were last seen, if that is elsewhere and nobody
// moved them since. The clause is over g, s and p.
func (t *tx) seen(farm *Farm, where string, args ...any) ([]SeenBag, error) {
	out := []SeenBag{}
	err := t.each(`SELECT g.code, p.name, s.at, s.by_person FROM bags g JOIN sightings s ON s.bag_id = g.id JOIN places p ON p.id = s.place_id
		WHERE `+inCare+` AND p.name <> g.status ->> '$.place' AND `+where+` AND s.at > `+movedAt+` ORDER BY p.name_key, g.batch_id, g.number`, args, func(rows *sql.Rows) error {
		var b SeenBag
		var at int64
		err := rows.Scan(&b.Seen.Bag, &b.Seen.Place, &at, &b.Seen.By)
		b.Seen.At = instant(at, farm.Zone)
		out = append(out, b)
		return err
	})
	if err != nil {
		return nil, err
	}
	kept := out[:0]
	for _, b := range out {
		hits, err := t.hits(farm, `g.code = ?`, string(b.Seen.Bag))
		if err != nil {
			return nil, err
		}
		b.BagHit = hits[0]
		if b.Place == nil || !grow.PlaceWithin(*b.Place, b.Seen.Place) && !grow.PlaceWithin(b.Seen.Place, *b.Place) {
			kept = append(kept, b)
		}
	}
	return kept, nil
}

// SeenElsewhere is where a bag was last seen, if that is elsewhere than where its
// log says and nobody moved it since; nil if not.
func (s *Store) SeenElsewhere(ctx context.Context, bag grow.Code) (*Sighting, error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	var out *Sighting
	err = s.reading(ctx, func(t *tx) error {
		seen, err := t.seen(farm, `g.code = ?`, string(bag))
		if len(seen) > 0 {
			out = &seen[0].Seen
		}
		return err
	})
	return out, err
}
