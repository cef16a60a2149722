package store

import (
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/grow/climate"
)

// Stay rules
//
// A bag stands where it was made, then wherever a move that was not taken back put
// it; setting it apart moves it nowhere. Its spawn run ends when it goes to
// fruiting. Forecasts know the air up to the last midnight in the farm's zone, so
// that what they say changes once a day and not with every reading of a sensor;
// pages know it up to the last whole hour.

// aStay is a bag's time in one place; until is zero for one that goes on.
type aStay struct {
	place       string
	from, until time.Time
}

// batchStays are the stays of a batch's bags. Most bags of a batch stand together
// all the time, so that only the others have a list of their own.
type batchStays struct {
	usual []aStay
	own   map[int64][]aStay
}

func (b batchStays) of(bag int64) []aStay {
	if own, ok := b.own[bag]; ok {
		return own
	}
	return b.usual
}

// stays reads where the bags of a batch have stood.
func (t *tx) stays(b Batch) (batchStays, error) {
	first := aStay{from: b.InoculatedAt}
	if b.Place != nil {
		first.place = *b.Place
	}
	out := batchStays{usual: []aStay{first}, own: map[int64][]aStay{}}
	err := t.each(`SELECT g.id, p.name FROM bags g JOIN places p ON p.id = g.made_place_id WHERE g.batch_id = ?`, []any{b.row}, func(rows *sql.Rows) error {
		var bag int64
		made := first
		err := rows.Scan(&bag, &made.place)
		out.own[bag] = []aStay{made}
		return err
	})
	if err != nil {
		return out, err
	}
	type move struct {
		bag int64
		grow.Entry
	}
	var moves []move
	err = t.each(`SELECT e.bag_id, e.seq, e.kind, e.at, coalesce(e.detail ->> '$.place', '') FROM bags g CROSS JOIN entries e ON e.bag_id = g.id
		WHERE g.batch_id = ? AND e.kind IN ('move', 'fruiting')
			AND NOT EXISTS (SELECT 1 FROM entries v WHERE v.bag_id = e.bag_id AND v.kind = 'void' AND v.detail ->> '$.entry' = e.id)
		ORDER BY e.bag_id, e.at, e.seq`, []any{b.row}, func(rows *sql.Rows) error {
		var m move
		var us int64
		err := rows.Scan(&m.bag, &m.Seq, &m.Kind, &us, &m.Place)
		m.At = instant(us, b.InoculatedAt.Location())
		moves = append(moves, m)
		return err
	})
	for _, m := range moves {
		if err == nil {
			err = t.nameNow(&m.Entry)
		}
		out.own[m.bag] = moved(out.of(m.bag), m.At, m.Place, m.Kind)
	}
	return out, err
}

// moved is a list of stays after one more move. One to fruiting ends the spawn
// run: what follows it is another life. The list given is left as it is.
func moved(stays []aStay, at time.Time, place string, kind grow.EntryKind) []aStay {
	last := stays[len(stays)-1]
	if !last.until.IsZero() { // in fruiting already
		return stays
	}
	if at.Before(last.from) {
		at = last.from
	}
	last.until = at
	out := append(stays[:len(stays)-1:len(stays)-1], last)
	if kind == grow.KindMove {
		out = append(out, aStay{place: place, from: at})
	}
	return out
}

// stood notes that an entry says of an earlier day where a bag of a batch that is
// history stood: what is known of the air of the batch's run has changed.
func (a *adding) stood(e grow.Entry) error {
	if i := slices.IndexFunc(a.log, func(was grow.Entry) bool { return e.Kind == grow.KindVoid && was.ID == e.Entry }); i >= 0 {
		e = a.log[i]
	}
	if e.Kind != grow.KindMove && e.Kind != grow.KindFruiting {
		return nil
	}
	history, err := a.isHistory(a.bag.batch)
	if history {
		a.airChanged(climate.HourOf(e.At))
	}
	return err
}

// staysKey tells lists of stays apart that differ by an hour.
func staysKey(stays []aStay) string {
	var b strings.Builder
	for _, s := range stays {
		fmt.Fprintf(&b, "%s\x00%d %d ", s.place, climate.HourOf(s.from), climate.HourOf(s.until))
	}
	return b.String()
}

// placeKnown is what is known of the air where a place is, and how bags stand in it.
type placeKnown struct {
	track   climate.Track
	offsetC float64
}

// inAir are stays with their air, from one hour up to another. What follows the
// spawn run is left out.
func inAir(stays []aStay, first, end int64, airOf func(place string) (placeKnown, error)) ([]climate.Stay, error) {
	var out []climate.Stay
	for _, s := range stays {
		from, to := max(first, climate.HourOf(s.from)), end
		if s.until.IsZero() { // also where it begins after the end: it stands there now
			from = min(from, end)
		} else if to = min(end, climate.HourOf(s.until)); to <= from {
			continue
		}
		k, err := airOf(s.place)
		if err != nil {
			return nil, err
		}
		out = append(out, climate.Stay{From: from, To: to, Track: k.track, OffsetC: k.offsetC})
	}
	return out, nil
}
