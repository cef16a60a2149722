package climate

import (
	"slices"
	"time"
)

// A Basis says where an hour's temperature comes from. Only a measured hour is
// knowledge; the other two are stated wherever they are used.
type Basis uint8

// The bases. Two readings typed by hand half a day apart say little about the
// hours between them, a thermostat's setting says what was asked for.
const (
	HourMeasured Basis = iota
	HourBetween        // on the straight line between two readings typed by hand
	HourSetPoint       // what the thermostat was set to
)

// An Hour is the mean temperature of a room's air over one hour. A bag follows the
// air over hours, so swings within one are not looked at.
type Hour struct {
	Start int64 // hours since 1970 UTC
	C     float64
	Basis Basis
}

// HourOf is the hour that an instant lies in.
func HourOf(t time.Time) int64 { return floorDiv(t.Unix(), 3600) }

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// A Track is the hours of one place that are known, in order, each once. An hour
// that is not in it is unknown.
type Track []Hour

// Between is the part of the track from one hour up to, not including, another.
func (t Track) Between(from, to int64) Track {
	at := func(h int64) int {
		i, _ := slices.BinarySearchFunc(t, h, func(a Hour, h int64) int { return int(min(1, max(-1, a.Start-h))) })
		return i
	}
	i, j := at(from), at(to)
	return t[i:max(i, j):max(i, j)]
}

// longestBetween is how far apart two hand-typed readings may lie for the hours
// between them to be drawn as a line: a day (common practice).
const longestBetween = 24

// WithLines adds the hours between neighbouring typed hours no more than a day
// apart, marked as what they are. typed says which hours were typed by hand.
func (t Track) WithLines(typed func(hour int64) bool) Track {
	out := make(Track, 0, len(t))
	for i, h := range t {
		if i > 0 {
			a := t[i-1]
			steps := h.Start - a.Start
			if steps > 1 && steps <= longestBetween && typed(a.Start) && typed(h.Start) {
				for s := int64(1); s < steps; s++ {
					share := float64(s) / float64(steps)
					out = append(out, Hour{a.Start + s, a.C + share*(h.C-a.C), HourBetween})
				}
			}
		}
		out = append(out, h)
	}
	return out
}

// A Setting is a set-point and the hour from which it held. Off has no number: the
// thermostat was taken out of service, and nothing is known from it.
type Setting struct {
	From int64
	C    float64
	Off  bool
}

// WithSettings fills hours from one up to, not including, another that are unknown
// with what the thermostat was set to then. The settings must be in order.
func (t Track) WithSettings(settings []Setting, from, to int64) Track {
	if len(settings) == 0 {
		return t
	}
	out := make(Track, 0, len(t))
	i, k := 0, -1
	for hour := from; hour < to; hour++ {
		for i < len(t) && t[i].Start < hour { // before from
			out, i = append(out, t[i]), i+1
		}
		for k+1 < len(settings) && settings[k+1].From <= hour {
			k++
		}
		switch {
		case i < len(t) && t[i].Start == hour:
			out, i = append(out, t[i]), i+1
		case k >= 0 && !settings[k].Off:
			out = append(out, Hour{hour, settings[k].C, HourSetPoint})
		}
	}
	return append(out, t[i:]...)
}

// Unknown are the stretches from one hour up to another that the track does not
// know, longest stretches of neighbouring hours each as one gap.
func (t Track) Unknown(from, to int64) []Gap {
	var gaps []Gap
	next := from
	add := func(until int64) {
		if until > next {
			gaps = append(gaps, Gap{hourStart(next), hourStart(until)})
		}
	}
	for _, h := range t.Between(from, to) {
		add(h.Start)
		next = h.Start + 1
	}
	add(to)
	return gaps
}

func hourStart(hour int64) time.Time { return time.Unix(hour*3600, 0).UTC() }

// Over fills hours that this track does not know with those of another: a shelf's
// own thermometer first, then its room's.
func (t Track) Over(under Track) Track {
	if len(t) == 0 {
		return under
	}
	if len(under) == 0 {
		return t
	}
	out := make(Track, 0, len(t)+len(under))
	i, j := 0, 0
	for i < len(t) || j < len(under) {
		switch {
		case j == len(under) || i < len(t) && t[i].Start <= under[j].Start:
			if j < len(under) && t[i].Start == under[j].Start {
				j++
			}
			out, i = append(out, t[i]), i+1
		default:
			out, j = append(out, under[j]), j+1
		}
	}
	return out
}
