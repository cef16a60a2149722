package trace

import (
	"math"
	"slices"
)

// An Ending is how one bag's watch ended: on which day, and by which of the competing ends; Kind 0 is still running.
type Ending struct {
	Day  float64
	Kind int
}

// An Incidence is one step of a cumulative incidence.
type Incidence struct {
	Day     float64
	AtRisk  int
	Share   float64 // ended by the kind asked for, by this day
	SE      float64
	Running float64 // not ended by any kind
}

// AalenJohansen is the cumulative incidence of one kind of end among several that compete, at each day with an end:
// one minus Kaplan and Meier would overstate contamination, as it takes culled bags for bags that may still turn
// (Aalen and Johansen 1978, Scand J Stat 5:141-150). With one kind it is that estimator with Greenwood's error.
func AalenJohansen(endings []Ending, kind int) []Incidence {
	sorted := slices.Clone(endings)
	slices.SortStableFunc(sorted, func(a, b Ending) int {
		switch {
		case a.Day < b.Day:
			return -1
		case a.Day > b.Day:
			return 1
		}
		return 0
	})
	var steps []incidenceStep
	survival, share := 1.0, 0.0
	for i := 0; i < len(sorted); {
		j, d, dk := i, 0.0, 0.0
		for ; j < len(sorted) && sorted[j].Day == sorted[i].Day; j++ {
			if sorted[j].Kind != 0 {
				d++
			}
			if sorted[j].Kind == kind && kind != 0 {
				dk++
			}
		}
		if n := float64(len(sorted) - i); d > 0 {
			share += survival * dk / n
			steps = append(steps, incidenceStep{sorted[i].Day, n, d, dk, survival, share})
			survival *= 1 - d/n
		}
		i = j
	}
	return incidences(steps)
}

// incidenceStep is the day's numbers: at risk, all ends, ends of the kind, running before it, share by it.
type incidenceStep struct {
	day, n, d, dk, before, share float64
}

// incidences adds the standard errors. The sums over earlier days of the published variance are opened into powers
// of the share, so that one pass is enough.
func incidences(steps []incidenceStep) []Incidence {
	out := make([]Incidence, len(steps))
	var a, b, c, e, f, g float64
	for i, s := range steps {
		if s.n > s.d {
			w := s.d / (s.n * (s.n - s.d))
			a += w
			b += w * s.share
			c += w * s.share * s.share
		}
		e += s.before * s.before * s.dk * (s.n - s.dk) / (s.n * s.n * s.n)
		u := s.before * s.dk / (s.n * s.n)
		f += u
		g += u * s.share
		v := s.share*s.share*a - 2*s.share*b + c + e - 2*(s.share*f-g)
		out[i] = Incidence{s.day, int(s.n), s.share, math.Sqrt(math.Max(0, v)), s.before * (1 - s.d/s.n)}
	}
	return out
}

// Interval is the 95 % range on the log(-log) scale, the error made larger by a design effect (1 for bags that are
// independent). Where nothing has ended yet it is Wilson's of none among those at the start.
func (i Incidence) Interval(start int, effect float64) Interval {
	effect = math.Max(1, effect)
	switch {
	case i.Share <= 0:
		w := Wilson(Counts{0, float64(start) / effect})
		return Interval{0, 0, w.High}
	case i.Share >= 1:
		w := Wilson(Counts{float64(start) / effect, float64(start) / effect})
		return Interval{1, w.Low, 1}
	}
	k := z975 * i.SE * math.Sqrt(effect) / (i.Share * math.Log(i.Share))
	x, y := math.Pow(i.Share, math.Exp(k)), math.Pow(i.Share, math.Exp(-k))
	return Interval{i.Share, math.Min(x, y), math.Max(x, y)}
}

// Kinds of ends of a bag's watch.
const (
	endContaminated = 1
	endGone         = 2 // culled for another reason, finished, sold, lost
)

// ending is how the watch of a bag ended for AalenJohansen: found contaminated, gone, or still running when last seen,
// all up to its species' day. What is estimated is "found contaminated by that day", so the day is that of the look
// that found it, and it is given as a share of the species' day: bags of several species then stand together. ok is
// false of a bag that nobody ever looked at.
func (b Bag) ending() (e Ending, ok bool) {
	at := func(day, kind int) (Ending, bool) {
		if day > b.Horizon {
			day, kind = b.Horizon, 0
		}
		return Ending{float64(day) / float64(max(1, b.Horizon)), kind}, true
	}
	bad, gone := b.badOn(), b.Gone
	switch {
	case bad.known && !(gone.known && gone.day < bad.day):
		return at(bad.day, endContaminated)
	case gone.known:
		return at(gone.day, endGone)
	case b.LastSeen.known:
		return at(b.LastSeen.day, 0)
	}
	return Ending{}, false
}
