package store

import (
	"context"
	"database/sql"
	"errors"
	"io"
	"slices"
	"strings"
	"time"

	"bagmark/grow"
)

// Calendar rules
//
// A person has at most one private address. Whoever knows it may read what is to
// come, and nothing else; it stands until its person makes another, ends it, or
// is ended. What it shows goes by batch, never by bag.

// NewCalendar draws a private address for the person who asks. The one before is
// worth nothing from then on.
func (s *Store) NewCalendar(ctx context.Context, a Actor) (secret string, err error) {
	if a.PersonID == 0 {
		return "", grow.Errorf(grow.Forbidden, "a token has no calendar; sign in as a person")
	}
	var b [16]byte
	if _, err := io.ReadFull(s.random, b[:]); err != nil {
		return "", noRandom(err)
	}
	secret = crockford.EncodeToString(b[:])
	return secret, s.writing(ctx, func(t *tx) error {
		_, err := t.exec(`INSERT INTO calendars (person_id, sha256, made_at) VALUES (?, ?, ?)
			ON CONFLICT (person_id) DO UPDATE SET sha256 = excluded.sha256, made_at = excluded.made_at`, a.PersonID, secretSum(secret), micros(t.now))
		return err
	})
}

// EndCalendar makes the address of the person who asks worth nothing.
func (s *Store) EndCalendar(ctx context.Context, a Actor) error {
	return s.writing(ctx, func(t *tx) error {
		_, err := t.exec(`DELETE FROM calendars WHERE person_id = ?`, a.PersonID)
		return err
	})
}

// CalendarSince is when the person's address was made, nil if there is none.
func (s *Store) CalendarSince(ctx context.Context, a Actor) (since *time.Time, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	err = s.reading(ctx, func(t *tx) error {
		var made int64
		err := t.one(`SELECT made_at FROM calendars WHERE person_id = ?`, []any{a.PersonID}, &made)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		at := instant(made, farm.Zone)
		since = &at
		return err
	})
	return since, err
}

// Calendar is what is to come.
type Calendar struct {
	AsOf   time.Time
	Events []CalendarEvent
}

// CalendarKind says what is to come.
type CalendarKind string

// The kinds of events.
const (
	CalendarFirstLook CalendarKind = "first-look"
	CalendarReady     CalendarKind = "ready"
	CalendarOverdue   CalendarKind = "overdue"
)

// CalendarEvent is what is to come for the bags of one batch, from one day to
// another, both inclusive.
type CalendarEvent struct {
	Kind     CalendarKind
	Batch    Batch
	Bags     int
	From, To grow.Date
}

// Calendar gives what is to come to whoever knows a private address.
func (s *Store) Calendar(ctx context.Context, secret string) (out Calendar, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, err
	}
	err = s.reading(ctx, func(t *tx) error {
		var person int64
		err := t.one(`SELECT c.person_id FROM calendars c JOIN people p ON p.id = c.person_id WHERE c.sha256 = ? AND p.ended_at IS NULL`,
			[]any{secretSum(strings.ToUpper(secret))}, &person)
		if errors.Is(err, sql.ErrNoRows) {
			return grow.Errorf(grow.NotFound, "there is no calendar at this address; its owner may have ended it or made another")
		}
		if err != nil {
			return err
		}
		out.AsOf = t.now
		days := calendarDays{}
		err = t.eachInCare(farm, func(p *prospect, g bagRow) error { days.add(p, g, t.now); return nil })
		out.Events = days.events
		return err
	})
	return out, err
}

// calendarDays gathers the events of batches, in the order of the batches.
type calendarDays struct{ events []CalendarEvent }

func (d *calendarDays) add(p *prospect, g bagRow, now time.Time) {
	o, s := p.of(g, now), g.status
	if s.Contaminated != nil || s.State == grow.Fruiting || s.State == grow.Isolated {
		return
	}
	if !s.InHandAfterMark {
		day := p.made + grow.Date(p.farm.FirstLookDay)
		d.note(CalendarFirstLook, p.batch, day, day)
	}
	if ready := o.forecast.Ready; ready != nil {
		d.note(CalendarReady, p.batch, ready.Earliest, ready.Latest)
	}
	if s.GrownOverAt == nil && o.OverdueSince != nil {
		d.note(CalendarOverdue, p.batch, *o.OverdueSince, *o.OverdueSince)
	}
}

// note counts a bag into its batch's event, which stretches to hold it.
func (d *calendarDays) note(kind CalendarKind, b Batch, from, to grow.Date) {
	i := slices.IndexFunc(d.events, func(e CalendarEvent) bool { return e.Kind == kind && e.Batch.row == b.row })
	if i < 0 {
		d.events = append(d.events, CalendarEvent{Kind: kind, Batch: b, Bags: 1, From: from, To: max(from, to)})
		return
	}
	e := &d.events[i]
	e.Bags, e.From, e.To = e.Bags+1, min(e.From, from), max(e.To, to)
}
