package trace

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A Pattern is the counted bags that are alike in every column of a joint look.
type Pattern struct {
	X []float64 // one value a column, 0 or 1 for a yes/no condition
	Counts
}

// A Coefficient is a log odds ratio with its 95 % profile limits and the p of its being 0.
type Coefficient struct {
	Interval
	P float64
}

// A Joint is Firth's logistic regression; Coefficients[0] is the constant.
type Joint struct {
	Coefficients []Coefficient
	LogLik       float64 // penalised
}

// leastEventsPerColumn: with fewer contaminated (or clean) bags a joint look says nothing. Common practice, no source.
const leastEventsPerColumn = 5

// EnoughForJoint tells whether there are bags enough for so many columns.
func EnoughForJoint(all Counts, columns int) bool {
	return math.Min(all.Bad, all.Bags-all.Bad) >= float64(leastEventsPerColumn*columns)
}

// FirthLogistic looks at several conditions at once by logistic regression with Jeffreys' prior as a penalty (Firth
// 1993, Biometrika 80:27-38), which stays finite where a condition had no clean or no contaminated bag, with profile
// limits (Heinze and Schemper 2002, Stat Med 21:2409-2419). For columns of whole batches effect is the design effect
// and freedom the batches less columns less 1; for independent bags they are 1 and +Inf. ok is false where the
// columns depend on each other: see FindAliases.
func FirthLogistic(patterns []Pattern, effect, freedom float64) (j Joint, ok bool) {
	m, ok := newFirth(patterns)
	if !ok {
		return Joint{}, false
	}
	best, ok := m.maximise(make([]float64, m.width), -1)
	if !ok {
		return Joint{}, false
	}
	j.LogLik = best.logLik
	for k := range m.width {
		c, ok := m.coefficient(best, k, math.Max(1, effect), freedom)
		if !ok {
			return Joint{}, false
		}
		j.Coefficients = append(j.Coefficients, c)
	}
	return j, true
}

type firth struct {
	rows  []Pattern // distinct ones, X with the constant in front
	width int
}

func newFirth(patterns []Pattern) (firth, bool) {
	if len(patterns) == 0 {
		return firth{}, false
	}
	m := firth{width: len(patterns[0].X) + 1}
	at := make(map[string]int)
	for _, p := range patterns {
		if len(p.X) != m.width-1 {
			return firth{}, false
		}
		if !(p.Bags > 0) {
			continue
		}
		key := make([]byte, 8*len(p.X))
		for i, x := range p.X {
			putFloat(key[8*i:], x)
		}
		if k, ok := at[string(key)]; ok {
			m.rows[k].Counts = m.rows[k].plus(p.Counts)
			continue
		}
		at[string(key)] = len(m.rows)
		m.rows = append(m.rows, Pattern{append([]float64{1}, p.X...), p.Counts})
	}
	return m, len(m.rows) > 0
}

// firthPoint is the model at one set of coefficients.
type firthPoint struct {
	beta   []float64
	logLik float64 // penalised
	info   *mat.SymDense
	chol   mat.Cholesky
}

func (m firth) at(beta []float64) (firthPoint, bool) {
	pt := firthPoint{beta: beta, info: mat.NewSymDense(m.width, nil)}
	for _, r := range m.rows {
		eta := dot(r.X, beta)
		pt.logLik += r.Bad*logistic(eta) + (r.Bags-r.Bad)*logistic(-eta)
		w := r.Bags * math.Exp(logistic(eta)+logistic(-eta))
		pt.info.SymRankOne(pt.info, w, mat.NewVecDense(m.width, r.X))
	}
	if !pt.chol.Factorize(pt.info) {
		return pt, false
	}
	pt.logLik += pt.chol.LogDet() / 2
	return pt, !math.IsNaN(pt.logLik)
}

// logistic is the logarithm of 1/(1+exp(-x)).
func logistic(x float64) float64 {
	if x > 0 {
		return -math.Log1p(math.Exp(-x))
	}
	return x - math.Log1p(math.Exp(x))
}

// score is the penalised score Σ [y - p + h(½ - p)] x.
func (m firth) score(pt firthPoint) []float64 {
	u := make([]float64, m.width)
	var solved mat.VecDense
	for _, r := range m.rows {
		p := math.Exp(logistic(dot(r.X, pt.beta)))
		x := mat.NewVecDense(m.width, r.X)
		if pt.chol.SolveVecTo(&solved, x) != nil {
			continue
		}
		h := r.Bags * p * (1 - p) * mat.Dot(x, &solved)
		g := r.Bad - r.Bags*p + h*(0.5-p)
		for i, v := range r.X {
			u[i] += g * v
		}
	}
	return u
}

// maximise climbs from start with coefficient fixed held where it is (-1: none).
func (m firth) maximise(start []float64, fixed int) (firthPoint, bool) {
	pt, ok := m.at(start)
	for range 500 {
		if !ok {
			return pt, false
		}
		u := m.score(pt)
		step, most, steepest := m.step(pt, u, fixed)
		if step == nil {
			return pt, false
		}
		if steepest < 1e-9 || most < 1e-10 {
			break
		}
		pt, ok = m.advance(pt, u, step)
	}
	return pt, ok
}

// step is the Newton step over the free coefficients, no component above 5.
func (m firth) step(pt firthPoint, u []float64, fixed int) (step []float64, most, steepest float64) {
	var free []int
	for i := range m.width {
		if i != fixed {
			free = append(free, i)
		}
	}
	step = make([]float64, m.width)
	if len(free) == 0 {
		return step, 0, 0
	}
	info, score := mat.NewSymDense(len(free), nil), mat.NewVecDense(len(free), nil)
	for a, i := range free {
		score.SetVec(a, u[i])
		steepest = math.Max(steepest, math.Abs(u[i]))
		for b := a; b < len(free); b++ {
			info.SetSym(a, b, pt.info.At(i, free[b]))
		}
	}
	var chol mat.Cholesky
	var s mat.VecDense
	if !chol.Factorize(info) || chol.SolveVecTo(&s, score) != nil {
		return nil, 0, 0
	}
	for a := range free {
		most = math.Max(most, math.Abs(s.AtVec(a)))
	}
	shrink := math.Min(1, 5/math.Max(most, 1e-300))
	for a, i := range free {
		step[i] = s.AtVec(a) * shrink
	}
	return step, most, steepest
}

// advance halves the step while the penalised likelihood falls, then corrects its length once by the secant of the
// slope along it: the information is not the penalised curvature, and with few bags a plain step overshoots for ever.
func (m firth) advance(pt firthPoint, u, step []float64) (firthPoint, bool) {
	length := 1.0
	next, ok := m.along(pt, step, length)
	for !(ok && next.logLik >= pt.logLik-1e-11*(1+math.Abs(pt.logLik))) && length > 1e-9 {
		length /= 2
		next, ok = m.along(pt, step, length)
	}
	if !ok {
		return next, false
	}
	before, after := dot(u, step), dot(m.score(next), step)
	if math.Abs(after) < 0.01*math.Abs(before) || before == after {
		return next, true
	}
	factor := math.Max(0.1, math.Min(3, before/(before-after)))
	if better, ok := m.along(pt, step, length*factor); ok && better.logLik >= next.logLik {
		return better, true
	}
	return next, true
}

func (m firth) along(pt firthPoint, step []float64, length float64) (firthPoint, bool) {
	beta := make([]float64, m.width)
	for i := range beta {
		beta[i] = pt.beta[i] + step[i]*length
	}
	return m.at(beta)
}
