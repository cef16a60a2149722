package climate

import "math"

// LeastUsual is the growth, as a share of the best, below which a temperature is
// no reference for a pace: nearly nothing grows there, so that everything else
// would seem to fly. A band so far from its curve says that the curve is not this
// strain's (common practice).
const LeastUsual = 0.2

// A pace ahead is taken from the last known hours of the week before, if there
// are at least a day of them (common practice).
const (
	lookBack   = 7 * 24
	leastAhead = 24
)

// standsStill is the growth below which nobody can wait for a bag.
const standsStill = 0.05

// Paces are how fast a bag grew hour by hour against the growth that its forecast
// reckons with, and how fast it is taken to go on.
type Paces struct {
	Hours []float64 // from the first stay on; 1 where nothing is known
	Known int       // how many of them are known
	Ahead Ahead
}

// Ahead is the pace from now on: the mean of what was known of late where the bag
// stands. Known is how many hours that is; with 0 the pace is 1 and nothing else is
// a number.
type Ahead struct {
	Pace        float64
	Known       int
	AirC, CoreC float64
	Rate        float64 // growth as a share of the best
}

// PacesOf are the paces of a bag that stood in places one after the other, the
// last stay being where it stands. usual is the growth, as a share of the best, at
// which its days were counted: see LeastUsual.
func PacesOf(stays []Stay, growth Curve, usual float64) Paces {
	p := Paces{Ahead: Ahead{Pace: 1}}
	for _, s := range stays {
		first := len(p.Hours)
		for range max(0, s.To-s.From) {
			p.Hours = append(p.Hours, 1)
		}
		for _, h := range s.Track.Between(s.From, s.To) {
			p.Hours[first+int(h.Start-s.From)] = growth.Rate(h.C+s.OffsetC) / usual
			p.Known++
		}
	}
	if n := len(stays); n > 0 {
		p.Ahead = aheadOf(stays[n-1], growth, usual)
	}
	return p
}

func aheadOf(now Stay, growth Curve, usual float64) Ahead {
	hours := now.Track.Between(now.To-lookBack, now.To)
	if len(hours) < leastAhead {
		return Ahead{Pace: 1, AirC: math.NaN(), CoreC: math.NaN(), Rate: math.NaN()}
	}
	var air, rate float64
	for _, h := range hours {
		air += h.C
		rate += growth.Rate(h.C + now.OffsetC)
	}
	n := float64(len(hours))
	return Ahead{Pace: rate / n / usual, Known: len(hours), AirC: air / n, CoreC: air/n + now.OffsetC, Rate: rate / n}
}

// RateOf is the mean growth over the known hours of stays, as a share of the best,
// and the mean core temperature; not numbers where no hour is known.
func RateOf(stays []Stay, growth Curve) (rate, coreC float64, known, all int) {
	for _, s := range stays {
		all += int(max(0, s.To-s.From))
		for _, h := range s.Track.Between(s.From, s.To) {
			rate += growth.Rate(h.C + s.OffsetC)
			coreC += h.C + s.OffsetC
			known++
		}
	}
	if known == 0 {
		return math.NaN(), math.NaN(), 0, all
	}
	return rate / float64(known), coreC / float64(known), known, all
}
