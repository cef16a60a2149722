package store

import (
	"context"
	"database/sql"
	"strings"

	"bagmark/grow"
)

// Room is a place whose bags are counted: those that stand in it or in any part
// of it.
type Room struct {
	Place
	Bags int `json:"bags"`
}

// Free is how many more bags it takes; false where nobody said how many it does.
func (r Room) Free() (int, bool) {
	if r.CapacityBags == nil {
		return 0, false
	}
	return max(0, *r.CapacityBags-r.Bags), true
}

// mostCapacity is how many bags a place may be said to take.
const mostCapacity = 100_000

// SetCapacity says how many bags a place takes; nil for "nobody knows".
func (s *Store) SetCapacity(ctx context.Context, _ Actor, code grow.Code, bags *int) (room Room, err error) {
	if bags != nil && (*bags < 1 || *bags > mostCapacity) {
		var p grow.Problems
		p.Add("capacity_bags", "must be 1 to %d", mostCapacity)
		return room, p.Err("this cannot be kept as it is")
	}
	err = s.writing(ctx, func(t *tx) error {
		r, err := t.byCode(codedPlaces, code)
		if err != nil {
			return notThere(err)
		}
		if _, err := t.exec(`UPDATE places SET capacity_bags = ? WHERE id = ?`, bags, r.id); err != nil {
			return err
		}
		room.Place = Place{Code: r.code, Name: r.name, CapacityBags: bags}
		counts, err := t.bagsByPlace()
		room.Bags = counts.in(r.name)
		return err
	})
	return room, err
}

// Rooms are all places by name, with the bags in each.
func (s *Store) Rooms(ctx context.Context) (out []Room, err error) {
	err = s.reading(ctx, func(t *tx) error {
		out, err = t.rooms()
		return err
	})
	return out, err
}

// RoomNamed is one place by its name; [grow.NotFound] if there is none.
func (s *Store) RoomNamed(ctx context.Context, name string) (Room, error) {
	rooms, err := s.Rooms(ctx)
	for _, r := range rooms {
		if strings.EqualFold(r.Name, name) {
			return r, nil
		}
	}
	if err == nil {
		err = grow.Errorf(grow.NotFound, "there is no place %s", name)
	}
	return Room{}, err
}

func (t *tx) rooms() ([]Room, error) {
	counts, err := t.bagsByPlace()
	if err != nil {
		return nil, err
	}
	out := []Room{}
	err = t.each(`SELECT code, name, capacity_bags FROM places ORDER BY name_key`, nil, func(rows *sql.Rows) error {
		var r Room
		err := rows.Scan(&r.Code, &r.Name, &r.CapacityBags)
		r.Bags = counts.in(r.Name)
		out = append(out, r)
		return err
	})
	return out, err
}

// placeCounts are the bags in the farm's care by the place they stand at.
type placeCounts map[string]int

func (t *tx) bagsByPlace() (placeCounts, error) {
	out := placeCounts{}
	err := t.each(`SELECT status ->> '$.place', count(*) FROM bags WHERE state NOT IN ('finished', 'culled') GROUP BY 1`, nil, func(rows *sql.Rows) error {
		var place string
		var n int
		err := rows.Scan(&place, &n)
		out[place] = n
		return err
	})
	return out, err
}

// in counts the bags in a place and in all its parts.
func (c placeCounts) in(place string) (n int) {
	for at, bags := range c {
		if grow.PlaceWithin(at, place) {
			n += bags
		}
	}
	return n
}
