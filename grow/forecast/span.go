package forecast

import "math"

// A Span is what the looks at one bag say about its day: not grown over on day Left, grown over on day Right.
// A bag found grown over at its first look has Left 0; one still growing has Right +Inf (see Running), and so has
// one that was contaminated or culled, with its last clean look as Left: it is taken to have been neither faster
// nor slower than its sisters.
type Span struct {
	Left, Right float64
}

// Running is the span of a bag last seen not grown over on the given day.
func Running(day float64) Span { return Span{Left: day, Right: math.Inf(1)} }

// Finished tells whether the bag was seen grown over.
func (s Span) Finished() bool { return !math.IsInf(s.Right, 1) }

// legal is the span with nonsense taken out: not a number, below 0, or ends in the wrong order. A bag seen not
// grown over and grown over on one day is given that day as its width, as whole days are all that is known.
func (s Span) legal() Span {
	if !(s.Left > 0) {
		s.Left = 0
	}
	if math.IsNaN(s.Right) || s.Right < 0 {
		s.Right = math.Inf(1)
	}
	if s.Right <= s.Left {
		s.Left = math.Max(0, s.Right-1)
	}
	if s.Right <= 0 {
		s.Right = 0.5 // grown over on the day it was made: the earliest half day that the law can hold
	}
	if math.IsInf(s.Left, 1) {
		s.Left = 0
	}
	return s
}

func (s Span) logs() (left, right float64) { return math.Log(s.Left), math.Log(s.Right) } // log 0 is -Inf, as wanted

// weighted is one distinct span and how many bags have it.
type weighted struct {
	a, b, n float64 // log left, log right, bags
}

// collapse turns spans into distinct ones in order of first appearance, dropping those that say nothing.
func collapse(spans []Span) []weighted {
	at := make(map[Span]int, len(spans))
	out := make([]weighted, 0, len(spans))
	for _, s := range spans {
		s = s.legal()
		if s.Left == 0 && !s.Finished() {
			continue
		}
		if i, ok := at[s]; ok {
			out[i].n++
			continue
		}
		at[s] = len(out)
		a, b := s.logs()
		out = append(out, weighted{a, b, 1})
	}
	return out
}

// logLikelihood of spans whose log days are normal with the given mean and standard deviation.
func logLikelihood(ws []weighted, mean, sd float64) float64 {
	sum := 0.0
	for _, w := range ws {
		sum += w.n * logBetween((w.a-mean)/sd, (w.b-mean)/sd)
	}
	return sum
}

// slope is the first derivative of the log-likelihood by the mean and the information (minus the second).
func slope(ws []weighted, mean, sd float64) (first, information float64) {
	for _, w := range ws {
		za, zb := (w.a-mean)/sd, (w.b-mean)/sd
		lp := logBetween(za, zb)
		ha, hb := ratio(za, lp), ratio(zb, lp)
		d := (ha - hb) / sd
		first += w.n * d
		information += w.n * (d*d - (product(za, ha)-product(zb, hb))/(sd*sd))
	}
	return first, information
}

// ratio is the normal density at z over exp(lp); 0 at an infinite end.
func ratio(z, lp float64) float64 {
	if math.IsInf(z, 0) {
		return 0
	}
	return math.Exp(-z*z/2-lp) / math.Sqrt(2*math.Pi)
}

func product(z, h float64) float64 {
	if math.IsInf(z, 0) {
		return 0
	}
	return z * h
}
