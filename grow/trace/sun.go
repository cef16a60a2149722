package trace

import "math"

// Scores are log-rank scores of interval-censored times from the curve of all of them together (Sun 1996, Stat Med
// 15:1387-1395, in the form of Fay and Shaw 2010, J Stat Softw 36(2)). Late events score low, so a group whose scores
// sum below expectation is slower. With right-censored exact days they are the log-rank scores.
func Scores(spans []Span, pooled Curve) []float64 {
	h := newHazard(pooled)
	known := make(map[Span]float64)
	out := make([]float64, len(spans))
	for i, s := range spans {
		c, ok := known[s]
		if !ok {
			c = h.score(s)
			known[s] = c
		}
		out[i] = c
	}
	return out
}

// hazard holds survival and cumulative hazard after each mass.
type hazard struct {
	at, survival, sum []float64
}

func newHazard(c Curve) hazard {
	var h hazard
	left, sum := 0.0, 0.0
	for _, m := range c.Masses {
		left += m.Share
	}
	all := left
	for i, m := range c.Masses {
		if left > 0 {
			sum += m.Share / left
		}
		left -= m.Share
		if i == len(c.Masses)-1 {
			left = 0
		}
		h.at = append(h.at, m.To)
		h.survival = append(h.survival, left/all)
		h.sum = append(h.sum, sum)
	}
	return h
}

// g is survival times minus the cumulative hazard at t, with the survival itself; mass on t counts if with is set.
func (h hazard) g(t float64, on bool) (g, survival float64) {
	survival = 1
	k := -1
	for i, at := range h.at {
		if at < t || on && at == t {
			k = i
			survival = h.survival[i]
		}
	}
	if k < 0 || survival <= 1e-12 || math.IsInf(t, 1) {
		if math.IsInf(t, 1) {
			survival = 0
		}
		return 0, survival
	}
	return -survival * h.sum[k], survival
}

func (h hazard) score(s Span) float64 {
	gl, sl := h.g(s.Left, s.Left != s.Right)
	gr, sr := h.g(s.Right, true)
	if sl-sr <= 0 {
		return 0
	}
	return (gl - gr) / (sl - sr)
}

// A ScoreTest compares two groups by the sum of scores.
type ScoreTest struct {
	Sum  float64 // of the centred scores of the group marked true; below 0: slower
	Z, P float64
}

// NormalScoreTest is the permutation test by its normal law, with the marks exchanged only inside a stratum (strata may
// be nil: one).
func NormalScoreTest(scores []float64, marks []bool, strata []int) ScoreTest {
	var t ScoreTest
	v := 0.0
	for _, g := range gatherStrata(scores, marks, strata) {
		n := float64(len(g.scores))
		if n < 2 {
			continue
		}
		m, k := g.mean(), float64(g.marks)
		ss := 0.0
		for i, c := range g.scores {
			if i < g.marks {
				t.Sum += c - m
			}
			ss += (c - m) * (c - m)
		}
		v += ss * k * (1 - k/n) / (n - 1)
	}
	if !(v > 0) {
		return ScoreTest{Sum: t.Sum, P: 1}
	}
	t.Z = t.Sum / math.Sqrt(v)
	t.P = math.Erfc(math.Abs(t.Z) / math.Sqrt2)
	return t
}

// scoreStratum is the scores of one stratum, the marked ones first.
type scoreStratum struct {
	scores []float64
	marks  int
}

func (g scoreStratum) mean() float64 {
	sum := 0.0
	for _, c := range g.scores {
		sum += c
	}
	return sum / float64(len(g.scores))
}

func gatherStrata(scores []float64, marks []bool, strata []int) []scoreStratum {
	var out []scoreStratum
	at := make(map[int]int)
	for pass := range 2 {
		for i, c := range scores {
			if marks[i] != (pass == 0) {
				continue
			}
			s := 0
			if strata != nil {
				s = strata[i]
			}
			k, ok := at[s]
			if !ok {
				k = len(out)
				at[s] = k
				out = append(out, scoreStratum{})
			}
			out[k].scores = append(out[k].scores, c)
			if marks[i] {
				out[k].marks++
			}
		}
	}
	return out
}
