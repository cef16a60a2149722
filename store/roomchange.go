package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"bagmark/grow"
	"bagmark/grow/trace"
)

// RoomChange sets the batches inoculated after something was done in a room
// against those inoculated before, as conditions of whole batches are compared.
// Only batches that were made to stand in the room count, from eight weeks before
// to eight weeks after, and only up to the next event of the same kind.
type RoomChange struct {
	Kind  grow.RoomEvent
	Words string
	On    grow.Date
	Row   *trace.Row // nil while nothing can be compared
}

// changeWindow is how far before and after an event batches count (common
// practice: a room's season is longer).
const changeWindow = 56

// mostChanges is how many events of a room are looked at, the newest.
const mostChanges = 12

// RoomChanges compares contamination before and after each event of a room.
func (s *Store) RoomChanges(ctx context.Context, place grow.Code) (out []RoomChange, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	r, err := s.recordsNow(ctx, farm)
	if err != nil {
		return nil, err
	}
	var log []RoomEntry
	var here map[int64]bool
	err = s.reading(ctx, func(t *tx) error {
		row, err := t.byCode(codedPlaces, place)
		if err != nil {
			return notThere(err)
		}
		if log, err = t.roomLines(farm, `place_id = ? AND taken_back_at IS NULL AND kind <> 'note'`, row.id); err != nil {
			return err
		}
		here, err = t.batchesMadeIn(farm, row.name)
		return err
	})
	if err != nil || len(here) == 0 {
		return nil, err
	}
	log = log[:min(len(log), mostChanges)]
	for i, e := range log {
		out = append(out, r.change(farm, log, i, e, here))
	}
	return out, nil
}

// batchesMadeIn are the batches that were made to stand in a place or a part of
// it.
func (t *tx) batchesMadeIn(f *Farm, name string) (map[int64]bool, error) {
	out := map[int64]bool{}
	list, err := t.batches(f, `b.place_id IS NOT NULL ORDER BY b.id`)
	for _, b := range list {
		if b.Place != nil && grow.PlaceWithin(*b.Place, name) {
			out[b.row] = true
		}
	}
	return out, err
}

func (r *records) change(f *Farm, log []RoomEntry, at int, e RoomEntry, here map[int64]bool) RoomChange {
	on := grow.DateOf(e.At, f.Zone)
	from, to := on-changeWindow, on+changeWindow
	for i, other := range log { // newest first
		if other.Kind != e.Kind || i == at {
			continue
		}
		if day := grow.DateOf(other.At, f.Zone); i < at {
			to = min(to, day-1)
		} else {
			from = max(from, day)
		}
	}
	out := RoomChange{Kind: e.Kind, Words: roomEventWords(e, f.Writing), On: on}
	var bags []trace.Bag
	after := fmt.Sprintf("since %s (%s)", dayMonth(on), out.Words)
	column := trace.Column{Key: "room", Label: "batches made", Level: trace.BatchLevel, Normal: "before"}
	for _, g := range r.bags {
		if !here[g.batch] || g.inoculated < from || g.inoculated > to || g.inoculated == on {
			continue
		}
		value := "before"
		if g.inoculated > on {
			value = after
		}
		bags, column.Values = append(bags, g.bag), append(column.Values, trace.Exposure{Value: value})
	}
	rows := trace.Compare(bags, []trace.Column{column}, f.Margin)
	if i := slices.IndexFunc(rows, func(r trace.Row) bool { return r.Value == after }); i >= 0 {
		out.Row = &rows[i]
	}
	return out
}

func dayMonth(d grow.Date) string { return d.Time().Format("2 Jan") }

// roomEventWords is an event with its number, as the farm writes.
func roomEventWords(e RoomEntry, u grow.Units) string {
	if e.Kind != grow.RoomSetPoint {
		return e.Words
	}
	if e.TempC == nil {
		return "thermostat off"
	}
	return "thermostat set to " + u.TempWords(*e.TempC)
}

// AddTyped keeps one reading that somebody typed, now unless said.
func (s *Store) AddTyped(ctx context.Context, by Actor, place grow.Code, r grow.AirReading) (ReadingsKept, error) {
	if r.At.IsZero() {
		r.At = s.now().Truncate(time.Second)
	}
	return s.AddReadings(ctx, by, string(place), []grow.AirReading{r}, nil, ReadingsFrom{How: "typed"})
}

// TypedReadings are the newest readings of a place that somebody typed, by their
// source.
func (s *Store) TypedReadings(ctx context.Context, place grow.Code) (map[int64]grow.AirReading, error) {
	out := map[int64]grow.AirReading{}
	err := s.reading(ctx, func(t *tx) error {
		r, err := t.byCode(codedPlaces, place)
		if err != nil {
			return notThere(err)
		}
		return t.each(`SELECT r.source_id, r.temp, r.rh, r.co2 FROM readings r JOIN (SELECT id FROM reading_sources WHERE place_id = ? AND how = 'typed' ORDER BY made_at DESC LIMIT 20) s ON s.id = r.source_id`, []any{r.id}, func(rows *sql.Rows) error {
			var source int64
			var temp, rh, co2 *int64
			err := rows.Scan(&source, &temp, &rh, &co2)
			out[source] = grow.AirReading{TempC: grow.Unscaled(temp), RHPct: grow.Unscaled(rh), CO2ppm: grow.Unscaled(co2)}
			return err
		})
	})
	return out, err
}
