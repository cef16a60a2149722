package store

import (
	"slices"
	"time"

	"bagmark/grow/climate"
)

// Rules of places
//
// One probe at one place of a load may be read in pieces: typed while the run goes
// on, a logger read out before the end and again after it. Pieces that follow each
// other, or say the same of the time that both tell of, are one place, or the piece
// that ends early would be the coldest core. Pieces that contradict each other are
// two places: nobody named the second.

// longestUnread is how far apart the readings of a place may lie at most, however
// seldom it was read: fire that goes out and is lit again shows within the hour
// (common practice).
const longestUnread = time.Hour

// soak is what readings of one place of a run say.
func soak(points []climate.Point, r Run) (climate.Soaked, error) {
	return climate.Soak(points, r.holdC(), min(climate.LongestStep(points), longestUnread))
}

// measuredPlace is one place and all that was read there.
type measuredPlace struct {
	name, probe string
	core        bool
	points      []climate.Point // by time
	last        int64           // the series handed in last
}

// measuredPlaces are the places of a run, of the series that count.
func measuredPlaces(series []Series) []measuredPlace {
	var out []measuredPlace
	for _, s := range series {
		if s.VoidedAt != nil {
			continue
		}
		next := measuredPlace{name: s.place(), probe: s.Probe, core: s.Spot == "core", points: byTime(s.Points), last: s.ID}
		i := slices.IndexFunc(out, func(p measuredPlace) bool { return p.continues(next) })
		if i < 0 {
			out = append(out, next)
			continue
		}
		out[i].points, out[i].last = byTime(append(slices.Clone(out[i].points), next.points...)), next.last
	}
	return out
}

func byTime(points []climate.Point) []climate.Point {
	out := slices.Clone(points)
	slices.SortStableFunc(out, func(a, b climate.Point) int { return a.At.Compare(b.At) })
	return out
}

// continues tells whether another piece may be of the same place.
func (p measuredPlace) continues(o measuredPlace) bool {
	if p.name != o.name || p.probe != o.probe || p.core != o.core {
		return false
	}
	from, to := p.points[0].At, p.points[len(p.points)-1].At
	if o.points[0].At.After(from) {
		from = o.points[0].At
	}
	if end := o.points[len(o.points)-1].At; end.Before(to) {
		to = end
	}
	return slices.Equal(between(p.points, from, to), between(o.points, from, to))
}

// between are the readings from one moment to another, each once.
func between(points []climate.Point, from, to time.Time) []climate.Point {
	var out []climate.Point
	for _, x := range points {
		if x.At.Before(from) || x.At.After(to) || len(out) > 0 && out[len(out)-1] == x {
			continue
		}
		out = append(out, x)
	}
	return out
}

func (p measuredPlace) probed(r Run) (climate.Probed, error) {
	soaked, err := soak(p.points, r)
	return climate.Probed{Name: p.name, Core: p.core, Soaked: soaked}, err
}
