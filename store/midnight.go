package store

import (
	"bagmark/grow"
	"bagmark/grow/climate"
)

// lineReach is how far back a reading typed by hand can make hours known: to the
// one typed before it, a day at most.
const lineReach = 24

// midnight is the hour in which the farm's day began.
func (t *tx) midnight(f *Farm) int64 {
	return climate.HourOf(grow.DateOf(t.now, f.Zone).In(f.Zone, 0))
}

// keptBy keeps what was known at midnight.
type keptBy[K comparable, V any] map[K]V

// mostKept bounds each of what is kept.
const mostKept = 5000

// findKnown is what is kept in one of the maps of the tracks, if that is of the
// same midnight.
func findKnown[K comparable, V any](c *cachedTracks, in *keptBy[K, V], key K, midnight int64) (V, bool) {
	c.Lock()
	defer c.Unlock()
	if c.midnight != midnight {
		c.midnight, c.hours, c.known, c.runs, c.fits = midnight, nil, nil, nil, nil
	}
	v, ok := (*in)[key]
	return v, ok
}

// keepKnown keeps what a transaction read, unless what it rests on has changed
// since it began.
func keepKnown[K comparable, V any](t *tx, in *keptBy[K, V], key K, v V, midnight int64) {
	c := &t.store.tracks
	t.keep(func() {
		c.Lock()
		defer c.Unlock()
		if c.earlier != t.earlierAt || c.midnight != midnight {
			return
		}
		if *in == nil || len(*in) >= mostKept {
			*in = keptBy[K, V]{}
		}
		(*in)[key] = v
	})
}

// earlierCount is how often what was known before midnight has changed.
func (c *cachedTracks) earlierCount() int {
	c.Lock()
	defer c.Unlock()
	return c.earlier
}

// airChanged notes a change of the air of any place from an hour on, to count once
// committed. Only one before today's midnight is felt by forecasts.
func (t *tx) airChanged(from int64) {
	s := t.store
	t.after = append(t.after, func() {
		if s.tracks.changedFrom(from) {
			s.counts.airChanged()
		}
	})
}

// changedFrom forgets what the air from an hour on has changed, and tells whether
// that was before midnight. Before the first forecast of a day nobody knows where
// midnight is, and all counts as before it.
func (c *cachedTracks) changedFrom(hour int64) bool {
	c.Lock()
	defer c.Unlock()
	if hour >= c.midnight && c.midnight > 0 {
		return false
	}
	c.earlier++
	c.hours, c.known, c.runs, c.fits = nil, nil, nil, nil
	return true
}

// airKnown tells whether anything at all is known of the air of any place.
func (t *tx) airKnown() (known bool, err error) {
	if t.air != nil {
		return *t.air, nil
	}
	t.air = &known
	err = t.one(`SELECT EXISTS (SELECT 1 FROM reading_hours) OR EXISTS (SELECT 1 FROM room_log WHERE kind = 'set_point')`, nil, &known)
	return known, err
}

// knownAt is what is known of the air of a place up to midnight.
func (t *tx) knownAt(place string, midnight int64) (placeKnown, error) {
	c := &t.store.tracks
	k, ok := findKnown(c, &c.known, place, midnight)
	if !ok {
		var err error
		if k, err = t.knownOf(place, midnight); err != nil {
			return k, err
		}
		keepKnown(t, &c.known, place, k, midnight)
	}
	return k, nil
}

// knownOf works it out. A shelf without a thermometer or thermostat of its own has
// the air of what it stands in, kept once for all of them.
func (t *tx) knownOf(place string, midnight int64) (k placeKnown, err error) {
	around, silent := outside(place), false
	if around != "" {
		silent, err = t.silent(place, midnight)
	}
	switch {
	case err != nil:
		return k, err
	case silent:
		if k, err = t.knownAt(around, midnight); err != nil {
			return k, err
		}
		k.offsetC, err = t.offsetAt(place)
		return k, err
	}
	k, err = t.placeKnown(place, func(id int64) (placeAir, error) { return t.hoursTo(id, midnight) })
	k.track = k.track.Between(0, midnight)
	return k, err
}

// silent tells whether a place itself says nothing of its air.
func (t *tx) silent(place string, midnight int64) (bool, error) {
	ids, err := t.numbers(`SELECT id FROM places WHERE name_key = ?`, nameKey(place))
	for _, id := range ids {
		own, err := t.hoursTo(id, midnight)
		if err != nil || len(own.track) > 0 {
			return false, err
		}
		settings, err := t.settings(id)
		if err != nil || len(settings) > 0 {
			return false, err
		}
	}
	return true, err
}

// hoursTo is what a place's own instruments said up to midnight: a room's serves
// all its shelves.
func (t *tx) hoursTo(place, midnight int64) (placeAir, error) {
	c := &t.store.tracks
	hours, ok := findKnown(c, &c.hours, place, midnight)
	if !ok {
		own, err := t.readAir(place, 0)
		if err != nil {
			return own, err
		}
		hours = own.track.Between(0, midnight)
		keepKnown(t, &c.hours, place, hours, midnight)
	}
	return placeAir{track: hours}, nil
}

// placeKnown puts together what is known of the air of a place.
func (t *tx) placeKnown(place string, read func(place int64) (placeAir, error)) (k placeKnown, err error) {
	if place == "" {
		return k, nil
	}
	if k.track, err = t.trackBy(place, read); err != nil {
		return k, err
	}
	k.offsetC, err = t.offsetAt(place)
	return k, err
}

// offsetAt is how much warmer than the air the cores of bags are where they stand
// in a place.
func (t *tx) offsetAt(place string) (float64, error) {
	facts, err := t.factsAround(place)
	if facts.Touching != nil && *facts.Touching {
		return climate.CoreTouchingC, err
	}
	return climate.CoreAloneC, err
}
