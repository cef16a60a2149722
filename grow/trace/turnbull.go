package trace

import (
	"cmp"
	"math"
	"slices"
)

// A Span is when an event happened: after the look on day Left, by the look on day Right. Right is +Inf while it has
// not been seen, and both are equal where the day itself is known.
type Span struct {
	Left, Right float64
}

// A Mass is a share of all events, known to lie in (From, To] and not where inside it; To is +Inf for what may never
// happen. Exact masses lie on To.
type Mass struct {
	From, To, Share float64
	Exact           bool
}

// A Curve is the distribution of the days of an event.
type Curve struct {
	Masses []Mass
	LogLik float64
	// Excess is n·(max d - 1), by which the log-likelihood can at most fall short of its maximum.
	Excess float64
}

const (
	mostExcess = 1e-4
	mostSteps  = 20_000
	leastMass  = 1e-14
)

// Turnbull is the nonparametric maximum-likelihood distribution of interval-censored times (Turnbull 1976, J R Stat
// Soc B 38:290-295). It stops when the Kuhn-Tucker condition bounds the log-likelihood to within 1e-4 of its maximum
// (Gentleman and Geyer 1994, Biometrika 81:618-623): a proof, where "little changed" would be none.
func Turnbull(spans []Span) Curve { return turnbull(spans, mostExcess, mostSteps) }

func turnbull(spans []Span, excess float64, steps int) Curve {
	obs, n := collapse(spans)
	if n == 0 {
		return Curve{}
	}
	masses := candidates(obs)
	for i := range obs {
		obs[i].place(masses)
	}
	s := make([]float64, len(masses))
	for j := range s {
		s[j] = 1 / float64(len(s))
	}
	d, sums := make([]float64, len(s)+1), make([]float64, len(s)+1)
	c := Curve{}
	for step := 0; ; step++ {
		c.LogLik = gradient(obs, s, n, d, sums)
		c.Excess = n * (slices.Max(d[:len(s)]) - 1)
		if c.Excess < excess || step >= steps {
			break
		}
		climb(s, d, n)
	}
	for j, m := range masses {
		m.Share = s[j]
		if m.Share > 0 {
			c.Masses = append(c.Masses, m)
		}
	}
	return c
}

// observed is one distinct span, how many bags have it, and which candidate masses lie in it.
type observed struct {
	Span
	count       float64
	first, last int
}

// collapse gathers equal spans, in order of left end and right end. Spans that are no spans are dropped.
func collapse(spans []Span) (out []observed, n float64) {
	count := make(map[Span]float64)
	for _, s := range spans {
		if s.Left >= 0 && s.Right >= s.Left && !math.IsInf(s.Left, 1) {
			count[s]++
			n++
		}
	}
	for s, k := range count {
		out = append(out, observed{Span: s, count: k})
	}
	slices.SortFunc(out, func(a, b observed) int { return cmp.Or(cmp.Compare(a.Left, b.Left), cmp.Compare(a.Right, b.Right)) })
	return out, n
}

// candidates are the only places where mass can lie: a left end followed directly by a right end. At one time an exact
// observation comes first, then right ends, then left ends.
func candidates(obs []observed) []Mass {
	type end struct {
		at    float64
		order int
		left  bool
	}
	var ends []end
	for _, o := range obs {
		l, r := end{o.Left, 3, true}, end{o.Right, 1, false}
		if o.Left == o.Right {
			l.order = 0
		}
		ends = append(ends, l, r)
	}
	slices.SortFunc(ends, func(a, b end) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.order, b.order)) })
	var out []Mass
	for i := 1; i < len(ends); i++ {
		if l, r := ends[i-1], ends[i]; l.left && !r.left {
			out = append(out, Mass{From: l.at, To: r.at, Exact: l.order == 0})
		}
	}
	return out
}

// place finds the candidates inside the span; they are next to each other.
func (o *observed) place(masses []Mass) {
	inside := func(m Mass) bool {
		switch {
		case o.Left == o.Right:
			return m.Exact && m.To == o.Left
		case m.Exact:
			return m.To > o.Left && m.To <= o.Right
		}
		return m.From >= o.Left && m.To <= o.Right
	}
	o.first = slices.IndexFunc(masses, inside)
	o.last = o.first
	for o.last+1 < len(masses) && inside(masses[o.last+1]) {
		o.last++
	}
}

// gradient fills d with the Kuhn-Tucker numbers and returns the log-likelihood.
func gradient(obs []observed, s []float64, n float64, d, sums []float64) float64 {
	for j, x := range s {
		sums[j+1] = sums[j] + x
		d[j] = 0
	}
	d[len(s)] = 0
	logLik := 0.0
	for _, o := range obs {
		p := math.Max(sums[o.last+1]-sums[o.first], 1e-300)
		logLik += o.count * math.Log(p)
		d[o.first] += o.count / p / n
		d[o.last+1] -= o.count / p / n
	}
	for j := 1; j < len(s); j++ {
		d[j] += d[j-1]
	}
	return logLik
}

// climb is one step of the self-consistency algorithm; a mass that was dropped too early starts again.
func climb(s, d []float64, n float64) {
	sum := 0.0
	for j := range s {
		if s[j] == 0 && d[j] > 1 {
			s[j] = 1 / n
		}
		s[j] *= d[j]
		if s[j] < leastMass {
			s[j] = 0
		}
		sum += s[j]
	}
	for j := range s {
		s[j] /= sum
	}
}

// Median is the interval that holds the median; ok is false where half has not been reached.
func (c Curve) Median() (low, high float64, ok bool) {
	sum := 0.0
	for _, m := range c.Masses {
		sum += m.Share
		if sum >= 0.5-1e-9 {
			return m.From, m.To, !math.IsInf(m.To, 1)
		}
	}
	return 0, 0, false
}

// Points are the share with the event by day, to be joined by straight lines: two for each mass. The line inside a
// mass is drawn, not known.
func (c Curve) Points() [][2]float64 {
	out := [][2]float64{}
	sum := 0.0
	for _, m := range c.Masses {
		out = append(out, [2]float64{m.From, sum})
		sum = math.Min(1, sum+m.Share)
		if !math.IsInf(m.To, 1) {
			out = append(out, [2]float64{m.To, sum})
		}
	}
	return out
}
