package store

import (
	"context"
	"slices"
	"strings"

	"bagmark/grow"
)

// PlaceWhole is a place with what should stand there by the logs of the bags in
// the farm's care, and what was seen otherwise.
type PlaceWhole struct {
	Place Room `json:"place"`
	// Bags stand here itself, Parts are the racks and shelves beneath.
	Bags  []BagHit `json:"bags"`
	Parts []Room   `json:"parts"`
	// SeenElsewhere should stand here or at a part of it and were last seen
	// elsewhere; SeenHere were last seen here and belong elsewhere.
	SeenElsewhere []SeenBag `json:"seen_elsewhere"`
	SeenHere      []SeenBag `json:"seen_here"`
	// LastRound is the latest round that went over all of this place, NotSeen
	// what should have been seen on it and was not, nor since.
	LastRound *Round   `json:"last_round"`
	NotSeen   []BagHit `json:"not_seen"`
}

// byAge is the order of lists of bags: the oldest first.
const byAge = ` ORDER BY b.inoculated_at, b.code, g.number`

// Place gives a place and what stands there, the oldest bags first.
func (s *Store) Place(ctx context.Context, code grow.Code) (w PlaceWhole, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return w, err
	}
	err = s.reading(ctx, func(t *tx) error {
		r, err := t.byCode(codedPlaces, code)
		if err != nil {
			return notThere(err)
		}
		if w.Place, w.Parts, err = t.roomAndParts(r.name); err != nil {
			return err
		}
		if w.Bags, err = t.hits(farm, inCare+` AND g.status ->> '$.place' = ?`+byAge, r.name); err != nil {
			return err
		}
		if w.SeenElsewhere, err = t.seen(farm, standsIn, partsOf(r.name)...); err != nil {
			return err
		}
		if w.SeenHere, err = t.seen(farm, `(p.name = ? OR p.name > ? AND p.name < ?) AND NOT `+standsIn, append(partsOf(r.name), partsOf(r.name)...)...); err != nil {
			return err
		}
		return t.missed(farm, &w)
	})
	return w, err
}

// Standing are the bags in the farm's care that should stand at a place or at its
// parts, the oldest first; none where there is no such place.
func (s *Store) Standing(ctx context.Context, place string) (out []BagHit, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	err = s.reading(ctx, func(t *tx) error {
		out, err = t.hits(farm, inCare+` AND `+standsIn+byAge, partsOf(place)...)
		return err
	})
	return out, err
}

// missed fills in what the last round did not see.
func (t *tx) missed(farm *Farm, w *PlaceWhole) (err error) {
	w.NotSeen = []BagHit{}
	if w.LastRound, err = t.lastRound(w.Place.Name, farm.Zone); err != nil || w.LastRound == nil {
		return err
	}
	began := micros(w.LastRound.BeganAt)
	w.NotSeen, err = t.hits(farm, inCare+` AND `+standsIn+` AND b.inoculated_at < ? AND coalesce(g.last_seen_at, 0) < ?
		AND NOT EXISTS (SELECT 1 FROM sightings s WHERE s.bag_id = g.id AND s.at >= ?)`+byAge, append(partsOf(w.Place.Name), began, began, began)...)
	return err
}

// roomAndParts is a place with its bags counted, and its racks and shelves.
func (t *tx) roomAndParts(name string) (Room, []Room, error) {
	rooms, err := t.rooms()
	if err != nil {
		return Room{}, nil, err
	}
	i := slices.IndexFunc(rooms, func(r Room) bool { return strings.EqualFold(r.Name, name) })
	parts := []Room{}
	for _, r := range rooms {
		if r.Name != rooms[i].Name && grow.PlaceWithin(r.Name, rooms[i].Name) {
			parts = append(parts, r)
		}
	}
	return rooms[i], parts, nil
}
