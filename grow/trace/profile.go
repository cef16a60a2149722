package trace

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// coefficient profiles one coefficient.
func (m firth) coefficient(best firthPoint, k int, effect, freedom float64) (Coefficient, bool) {
	drop := func(value float64) float64 {
		start := append([]float64(nil), best.beta...)
		start[k] = value
		pt, ok := m.maximise(start, k)
		if !ok {
			return math.Inf(1)
		}
		return 2 * (best.logLik - pt.logLik)
	}
	var inverse mat.SymDense
	if best.chol.InverseTo(&inverse) != nil {
		return Coefficient{}, false
	}
	se := math.Sqrt(inverse.At(k, k))
	limit := effect * criticalRatio(freedom)
	end := func(sign float64) float64 {
		reach := se
		for range 60 {
			if drop(best.beta[k]+sign*reach) >= limit {
				break
			}
			reach *= 1.5
		}
		return best.beta[k] + sign*bisectTo(1e-9*se, 0, reach, func(d float64) bool { return drop(best.beta[k]+sign*d) >= limit })
	}
	c := Coefficient{Interval: Interval{best.beta[k], end(-1), end(1)}}
	c.P = ratioP(drop(0)/effect, freedom)
	return c, true
}

// criticalRatio is the 95 % point of a likelihood ratio: chi-squared with one degree of freedom, or F(1, freedom).
func criticalRatio(freedom float64) float64 {
	if math.IsInf(freedom, 1) {
		return z975 * z975
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: math.Max(1, freedom)}.Quantile(0.975)
	return t * t
}

func ratioP(ratio, freedom float64) float64 {
	r := math.Sqrt(math.Max(0, ratio))
	if math.IsInf(freedom, 1) {
		return math.Erfc(r / math.Sqrt2)
	}
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: math.Max(1, freedom)}.Survival(r)
}
