package demo

import (
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/store"
)

// The shelves' story: yesterday evening Wick walked over the fullest shelf of the
// bag room. A bag of the next shelf stood there, nobody had said that it was moved,
// and one of the shelf's own was not to be found.

const roundHour = 18

// lastRound walks over a shelf. Every shelf says how many bags it takes; the one
// walked over takes four more than stand there.
func (f *farm) lastRound(now time.Time) error {
	f.clock.moveTo(now)
	walked, next, err := f.fullestShelves()
	if err != nil {
		return err
	}
	takes := walked.Bags + 4
	if _, err := f.store.SetCapacity(f.ctx, maren, walked.Code, &takes); err != nil {
		return err
	}
	here, err := f.store.Standing(f.ctx, walked.Name)
	if err != nil {
		return err
	}
	there, err := f.store.Standing(f.ctx, next.Name)
	if err != nil {
		return err
	}
	round := store.Round{ID: f.newID(), Place: walked.Name, BeganAt: f.at(1, roundHour, 30)}
	at := round.BeganAt
	for _, b := range append(here[1:], there[0]) {
		at = at.Add(6 * time.Second)
		if err := f.store.See(f.ctx, wick, round, at, b.Code); err != nil {
			return err
		}
	}
	return nil
}

// fullestShelves are the two shelves of the bag room with the most bags.
func (f *farm) fullestShelves() (most, next store.Room, err error) {
	rooms, err := f.store.Rooms(f.ctx)
	for _, r := range rooms {
		if !strings.HasPrefix(r.Name, bagRoom+grow.PlaceSeparator) || strings.Count(r.Name, grow.PlaceSeparator) < 2 {
			continue
		}
		switch {
		case r.Bags > most.Bags:
			most, next = r, most
		case r.Bags > next.Bags:
			next = r
		}
	}
	return most, next, err
}
