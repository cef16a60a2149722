package trace

import "math"

// A Stratum is one batch (or batch and second condition) in which some bags had a condition and some had not.
type Stratum struct {
	ExposedBad int // bags with the condition that were contaminated
	Exposed    int // bags with the condition
	Bad        int // contaminated bags
	Bags       int
}

// support is the range of ExposedBad that the margins allow.
func (s Stratum) support() (low, high int) {
	return max(0, s.Bad-(s.Bags-s.Exposed)), min(s.Exposed, s.Bad)
}

// legal holds the counts inside each other, so that no formula sees an impossible table.
func (s Stratum) legal() Stratum {
	s.Bags = max(0, s.Bags)
	s.Exposed = min(max(0, s.Exposed), s.Bags)
	s.Bad = min(max(0, s.Bad), s.Bags)
	low, high := s.support()
	s.ExposedBad = min(max(low, s.ExposedBad), high)
	return s
}

// contrast tells whether both kinds of bags are there.
func (s Stratum) contrast() bool { return s.Exposed > 0 && s.Exposed < s.Bags }

// informs tells whether the stratum says anything about the odds ratio: its support has more than one point.
func (s Stratum) informs() bool { return s.contrast() && s.Bad > 0 && s.Bad < s.Bags }

// Exact is the distribution of the number of exposed contaminated bags, given every stratum's margins: the
// convolution of one hypergeometric law a stratum (Gart 1970, Biometrika 57:471-475; Mehta, Patel and Gray 1985,
// J Am Stat Assoc 80:969-973). A stratum with one possible outcome changes nothing.
type Exact struct {
	low      int       // smallest possible sum
	observed int       // the sum seen
	logw     []float64 // log weights at odds ratio 1 over the support, up to a constant
}

// convolutionCost is how many multiply-adds NewExact would take.
func convolutionCost(strata []Stratum) float64 {
	size, cost := 1.0, 0.0
	for _, s := range strata {
		s = s.legal()
		low, high := s.support()
		k := float64(high - low + 1)
		cost += size * k
		size += k - 1
	}
	return cost
}

// NewExact builds the distribution. Each stratum is tilted by the pooled odds ratio, so that the mass sits where the
// observed sum is and nothing underflows, and the tilt is taken out again in the logarithm.
func NewExact(strata []Stratum) Exact {
	tilt := pooledLogOdds(strata)
	e := Exact{}
	w := []float64{1}
	for _, s := range strata {
		s = s.legal()
		low, _ := s.support()
		e.low += low
		e.observed += s.ExposedBad
		if v := s.weights(tilt); len(v) > 1 {
			w = convolve(w, v)
		}
	}
	e.logw = make([]float64, len(w))
	for i, x := range w {
		e.logw[i] = math.Log(x) - float64(e.low+i)*tilt
	}
	return e
}

// weights are the stratum's hypergeometric weights, tilted, with maximum 1.
func (s Stratum) weights(tilt float64) []float64 {
	low, high := s.support()
	out := make([]float64, high-low+1)
	most := math.Inf(-1)
	for i := range out {
		u := low + i
		out[i] = logChoose(s.Exposed, u) + logChoose(s.Bags-s.Exposed, s.Bad-u) + float64(u)*tilt
		most = math.Max(most, out[i])
	}
	for i := range out {
		out[i] = math.Exp(out[i] - most)
	}
	return out
}

// convolve rescales its answer to maximum 1.
func convolve(w, v []float64) []float64 {
	r := make([]float64, len(w)+len(v)-1)
	for k, x := range v {
		if x == 0 {
			continue
		}
		row := r[k : k+len(w)]
		for j, y := range w {
			row[j] += x * y
		}
	}
	most := 0.0
	for _, x := range r {
		most = math.Max(most, x)
	}
	for i := range r {
		r[i] /= most
	}
	return r
}

func logChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}

// pooledLogOdds is a log odds ratio near the data's, for numerical ease only: Mantel and Haenszel's with half a bag
// added on each side, held within ±20.
func pooledLogOdds(strata []Stratum) float64 {
	var r, s float64
	for _, t := range strata {
		t = t.legal()
		if !t.informs() {
			continue
		}
		a, b, c, d := t.cells()
		r += a * d / float64(t.Bags)
		s += b * c / float64(t.Bags)
	}
	if r == 0 && s == 0 {
		return 0
	}
	return math.Max(-20, math.Min(20, math.Log((r+0.5)/(s+0.5))))
}

// cells are the four counts: exposed bad, exposed clean, other bad, other clean.
func (s Stratum) cells() (a, b, c, d float64) {
	return float64(s.ExposedBad), float64(s.Exposed - s.ExposedBad),
		float64(s.Bad - s.ExposedBad), float64(s.Bags - s.Exposed - s.Bad + s.ExposedBad)
}
