package store

import (
	"database/sql"
	"strings"
	"sync"

	"bagmark/grow"
	"bagmark/grow/climate"
)

// cachedTracks keeps the air of places until a reading changes any, and what was
// known of it up to the last midnight until anything earlier changes.
type cachedTracks struct {
	sync.Mutex
	changes int
	of      map[int64]placeAir

	earlier  int   // changes of what was known before midnight
	midnight int64 // the hour up to which all below is known
	hours    keptBy[int64, climate.Track]
	known    keptBy[string, placeKnown]
	runs     keptBy[runKey, runAir]
	fits     keptBy[lawKey, keptFit]
}

func (c *cachedTracks) forget() {
	c.Lock()
	defer c.Unlock()
	c.changes++
	c.of = nil
}

func (c *cachedTracks) count() int {
	c.Lock()
	defer c.Unlock()
	return c.changes
}

func (c *cachedTracks) find(place int64) (placeAir, bool) {
	c.Lock()
	defer c.Unlock()
	t, ok := c.of[place]
	return t, ok
}

// keep keeps a track that was read when there had been so many changes, unless
// there have been more.
func (c *cachedTracks) keep(place int64, t placeAir, changes int) {
	c.Lock()
	defer c.Unlock()
	if c.changes != changes {
		return
	}
	if c.of == nil {
		c.of = map[int64]placeAir{}
	}
	c.of[place] = t
}

// measured is what a place's own instruments said.
func (t *tx) measured(place int64) (placeAir, error) {
	if air, ok := t.store.tracks.find(place); ok {
		return air, nil
	}
	air, err := t.readAir(place, 0)
	if err == nil {
		t.after = append(t.after, func() { t.store.tracks.keep(place, air, t.tracksAt) })
	}
	return air, err
}

// settings are what a place's thermostat was set to, in order.
func (t *tx) settings(place int64) (out []climate.Setting, err error) {
	err = t.each(`SELECT at, temp FROM room_log WHERE place_id = ? AND kind = 'set_point' AND taken_back_at IS NULL
		AND at BETWEEN ? AND ? ORDER BY at, made_at, id`, []any{place, firstMicros, lastMicros}, func(rows *sql.Rows) error {
		var at int64
		var temp *int64
		err := rows.Scan(&at, &temp)
		s := climate.Setting{From: (at + hourMicros - 1) / hourMicros, Off: temp == nil}
		if temp != nil {
			s.C = *grow.Unscaled(temp)
		}
		out = append(out, s)
		return err
	})
	return out, err
}

// track is what is known of the air where a place is, up to now: its own hours,
// then those of what it stands in, then what the thermostats were set to.
func (t *tx) track(name string) (climate.Track, error) { return t.trackBy(name, t.measured) }

// trackBy is track with the hours of each place as read gives them.
func (t *tx) trackBy(name string, read func(place int64) (placeAir, error)) (climate.Track, error) {
	var out climate.Track
	var settings []climate.Setting
	err := t.around(name, func(place int64) error {
		own, err := read(place)
		if err != nil {
			return err
		}
		out = out.Over(own.track)
		if settings == nil {
			settings, err = t.settings(place)
		}
		return err
	})
	if err != nil || len(settings) == 0 {
		return out, err
	}
	return out.WithSettings(settings, settings[0].From, climate.HourOf(t.now)), nil
}

// around calls do for a place and for all it stands in, inside first, as far as
// they are on record.
func (t *tx) around(name string, do func(place int64) error) error {
	for ; name != ""; name = outside(name) {
		ids, err := t.numbers(`SELECT id FROM places WHERE name_key = ?`, nameKey(name))
		if err != nil {
			return err
		}
		for _, id := range ids {
			if err := do(id); err != nil {
				return err
			}
		}
	}
	return nil
}

// outside is the name of what a place stands in, "" for a room.
func outside(name string) string {
	if i := strings.LastIndex(name, grow.PlaceSeparator); i >= 0 {
		return name[:i]
	}
	return ""
}

func (t *tx) numbers(query string, args ...any) (out []int64, err error) {
	err = t.each(query, args, func(rows *sql.Rows) error {
		var n int64
		err := rows.Scan(&n)
		out = append(out, n)
		return err
	})
	return out, err
}
