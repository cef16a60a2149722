package climate

import (
	"fmt"

	"bagmark/grow"
)

// A Curve is how fast mycelium grows at a temperature, relative to its best: the
// cardinal temperature model with inflection of Rosso, Lobry and Flandrois 1993
// (J. Theor. Biol. 162: 447-463; citation from memory, the equation as printed in
// the manual of an R package). Make one with [NewCurve].
type Curve struct{ minC, optC, maxC float64 }

// NewCurve refuses temperatures that do not rise, and an optimum at or below the
// middle of the other two: only above it has the formula no pole between them.
func NewCurve(c grow.Cardinal) (Curve, error) {
	if !(c.MinC < c.OptC && c.OptC < c.MaxC) {
		return Curve{}, fmt.Errorf("climate: %v, %v and %v °C do not rise", c.MinC, c.OptC, c.MaxC)
	}
	if !(c.OptC > (c.MinC+c.MaxC)/2) {
		return Curve{}, fmt.Errorf("climate: the optimum %v °C must lie above the middle of %v and %v °C", c.OptC, c.MinC, c.MaxC)
	}
	return Curve{c.MinC, c.OptC, c.MaxC}, nil
}

// Rate is the growth at a core temperature as a share of the fastest, 0 outside
// the two limits and 1 at the optimum.
func (c Curve) Rate(coreC float64) float64 {
	if !(coreC > c.minC && coreC < c.maxC) {
		return 0
	}
	up, over := coreC-c.minC, coreC-c.maxC
	width := c.optC - c.minC
	bracket := width*(coreC-c.optC) - (c.optC-c.maxC)*(c.optC+c.minC-2*coreC)
	return over * up * up / (width * bracket)
}

// Cardinal gives back the three temperatures.
func (c Curve) Cardinal() (minC, optC, maxC float64) { return c.minC, c.optC, c.maxC }
