package climate

import (
	"errors"
	"math"

	"bagmark/grow"

	"gonum.org/v1/gonum/optimize"
)

// A Measured is one growth rate at one steady temperature, in any unit of rate.
type Measured struct{ C, Rate float64 }

// A Fit is a curve laid through measured rates by least squares.
type Fit struct {
	Curve     Curve
	Best      float64   // the rate at the optimum, in the unit that was measured
	Residuals []float64 // fit less measured, in the order given
	RMSE      float64
	// Freedom is how many measurements are left over after the parameters. At 0
	// the curve goes through every point and is evidence of nothing.
	Freedom int
}

// At is the fitted rate.
func (f Fit) At(c float64) float64 { return f.Best * f.Curve.Rate(c) }

// errNoCurve says that no curve of this shape lies near the points.
var errNoCurve = errors.New("climate: these rates lie on no growth curve")

// FitCurve lays a curve through rates at three or more temperatures. Few points
// cannot say where growth begins: give fixedMin to set it, nil to fit it too.
func FitCurve(points []Measured, fixedMin *float64) (Fit, error) {
	free := 4
	if fixedMin != nil {
		free = 3
	}
	if len(points) < free {
		return Fit{}, errors.New("climate: too few rates for a curve")
	}
	best := optimize.Result{Location: optimize.Location{F: math.Inf(1)}}
	problem := optimize.Problem{Func: func(x []float64) float64 { return squares(points, unpack(x, fixedMin)) }}
	for _, start := range starts(points, fixedMin) {
		for range 3 { // a simplex that has collapsed starts anew where it stopped
			r, err := optimize.Minimize(problem, start, &optimize.Settings{MajorIterations: 4000}, &optimize.NelderMead{})
			if r == nil || (err != nil && r.Status == optimize.NotTerminated) {
				break
			}
			start = r.X
			if r.F < best.F {
				best = *r
			}
		}
	}
	if math.IsInf(best.F, 0) {
		return Fit{}, errNoCurve
	}
	return fitted(points, unpack(best.X, fixedMin), len(points)-free)
}

// a trial holds parameters that may yet be illegal.
type trial struct{ minC, optC, maxC, best float64 }

// unpack turns optimiser coordinates into parameters: optimum, width above it and
// best rate as logarithms where they must be positive, last the width below.
func unpack(x []float64, fixedMin *float64) trial {
	t := trial{optC: x[0], maxC: x[0] + math.Exp(x[1]), best: math.Exp(x[2])}
	if fixedMin != nil {
		t.minC = *fixedMin
	} else {
		t.minC = x[0] - math.Exp(x[3])
	}
	return t
}

func squares(points []Measured, t trial) float64 {
	c, err := NewCurve(grow.Cardinal{MinC: t.minC, OptC: t.optC, MaxC: t.maxC})
	if err != nil {
		return math.Inf(1)
	}
	var sum float64
	for _, p := range points {
		d := t.best*c.Rate(p.C) - p.Rate
		sum += d * d
	}
	return sum
}

// starts are places around the fastest point from which the search begins.
func starts(points []Measured, fixedMin *float64) [][]float64 {
	top := points[0]
	for _, p := range points {
		if p.Rate > top.Rate {
			top = p
		}
	}
	var out [][]float64
	for _, shift := range []float64{-1, 1, 3} {
		for _, above := range []float64{5, 9} {
			x := []float64{top.C + shift, math.Log(above), math.Log(math.Max(top.Rate, 1e-9))}
			if fixedMin == nil {
				x = append(x, math.Log(above+8))
			}
			out = append(out, x)
		}
	}
	return out
}

func fitted(points []Measured, t trial, freedom int) (Fit, error) {
	c, err := NewCurve(grow.Cardinal{MinC: t.minC, OptC: t.optC, MaxC: t.maxC})
	if err != nil {
		return Fit{}, errNoCurve
	}
	f := Fit{Curve: c, Best: t.best, Freedom: freedom}
	for _, p := range points {
		f.Residuals = append(f.Residuals, f.At(p.C)-p.Rate)
	}
	f.RMSE = math.Sqrt(squares(points, t) / float64(len(points)))
	return f, nil
}
