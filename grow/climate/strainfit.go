package climate

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"bagmark/grow"

	"gonum.org/v1/gonum/stat/distuv"
)

// A StrainFit is a growth curve laid through a farm's own batches of one strain:
// one over the days that each took, against the mean temperature in the cores of
// its bags.
type StrainFit struct {
	Fit
	Batches    int
	FromC, ToC float64 // the coolest and the warmest batch, in the core
	// OptLowC and OptHighC hold the optimum in 80 of 100 farms like this one, by the
	// profile of least squares; an end that the search did not reach is where it
	// stopped.
	OptLowC, OptHighC float64
}

// What a farm's own batches must be before a curve is laid through them, and how
// sure its optimum before it is used (common practice, all of them).
const (
	LeastBatches  = 6
	leastWidthC   = 4.0
	mostDoubtC    = 6.0
	optimumRange  = 0.8
	searchTenths  = 200 // the optimum is looked for this far from the batches' middle
	profileSpread = 60  // steps of the width above the optimum
)

// ErrTooFewBatches says that nothing can be learnt of a strain's temperatures yet.
var ErrTooFewBatches = errors.New("climate: too few batches, or all at much the same temperature")

// FitStrain lays a curve through a farm's batches. Growth is held to begin at minC:
// no farm keeps bags so cold that it could tell.
func FitStrain(batches []Measured, minC float64) (StrainFit, error) {
	if len(batches) < LeastBatches {
		return StrainFit{}, ErrTooFewBatches
	}
	colder := func(a, b Measured) int { return cmp.Compare(a.C, b.C) }
	out := StrainFit{Batches: len(batches), FromC: slices.MinFunc(batches, colder).C, ToC: slices.MaxFunc(batches, colder).C}
	if out.ToC-out.FromC < leastWidthC {
		return StrainFit{}, ErrTooFewBatches
	}
	fit, err := FitCurve(batches, &minC)
	if err != nil {
		return StrainFit{}, err
	}
	out.Fit = fit
	out.OptLowC, out.OptHighC = optimumBetween(batches, minC, fit)
	return out, nil
}

// Usable tells whether the optimum is known well enough for the curve to stand in
// for the built-in one: it lies among the batches, and its range is no wider than
// 6 °C.
func (f StrainFit) Usable() bool {
	_, optC, _ := f.Curve.Cardinal()
	return optC >= f.FromC && optC <= f.ToC && f.OptHighC-f.OptLowC <= mostDoubtC
}

// Cardinal are the fitted temperatures, marked as what they are.
func (f StrainFit) Cardinal() grow.Cardinal {
	minC, optC, maxC := f.Curve.Cardinal()
	return grow.Cardinal{MinC: minC, OptC: optC, MaxC: maxC, Mark: grow.Mark(fmt.Sprintf("fitted from your %d batches", f.Batches))}
}

// optimumBetween is the range of optima whose best curve lies not much further
// from the batches than the best of all: the sum of squares times 1 + t²/(n-3), t
// being Student's quantile (Bates and Watts 1988, Nonlinear Regression Analysis,
// chapter 6; from memory).
func optimumBetween(batches []Measured, minC float64, best Fit) (low, high float64) {
	_, opt, _ := best.Curve.Cardinal()
	freedom := float64(len(batches) - 3)
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Quantile((1 + optimumRange) / 2)
	most := best.RMSE * best.RMSE * float64(len(batches)) * (1 + t*t/freedom)
	within := func(optC float64) bool { return leastSquares(batches, minC, optC) <= most+1e-15 }
	low, high = opt, opt
	for i := 1; i <= searchTenths && within(opt-float64(i)/10); i++ {
		low = opt - float64(i)/10
	}
	for i := 1; i <= searchTenths && within(opt+float64(i)/10); i++ {
		high = opt + float64(i)/10
	}
	return low, high
}

// leastSquares is how near to the batches a curve with this optimum can come. The
// best rate follows from the shape, so only the width above the optimum is tried.
func leastSquares(batches []Measured, minC, optC float64) float64 {
	least := math.Inf(1)
	for i := 1; i < profileSpread; i++ {
		c, err := NewCurve(grow.Cardinal{MinC: minC, OptC: optC, MaxC: optC + (optC-minC)*float64(i)/profileSpread})
		if err != nil {
			return least
		}
		var rr, rg, gg float64
		for _, b := range batches {
			g := c.Rate(b.C)
			rr, rg, gg = rr+b.Rate*b.Rate, rg+b.Rate*g, gg+g*g
		}
		if gg > 0 {
			least = min(least, rr-rg*rg/gg)
		}
	}
	return max(0, least)
}
