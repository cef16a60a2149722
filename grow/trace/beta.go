package trace

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// A Beta is what is believed of the share of bags that turn, as a beta law: as if A bad and B clean bags had been
// seen.
type Beta struct {
	A, B float64
}

// BetaPrior is the farm's own law of contamination between batches: mean from all bags with half a bag each way, and
// size 1/rho - 1 from the correlation inside batches, held in 2 to 200. Where the data give no correlation it weighs
// as little as two bags; where batches are no more unlike than chance, 200.
func BetaPrior(batches []Counts) Beta {
	const least, most = 2.0, 200.0
	var all Counts
	used := 0
	for _, c := range batches {
		if c.Bags > 0 {
			all = all.plus(c)
			used++
		}
	}
	p := (all.Bad + 0.5) / (all.Bags + 1)
	rho := math.NaN()
	if used > 1 {
		rho = ICC(batches)
	}
	size := least
	switch {
	case math.IsNaN(rho):
	case rho <= 0:
		size = most
	default:
		size = math.Min(most, math.Max(least, 1/rho-1))
	}
	return Beta{p * size, (1 - p) * size}
}

// Update adds bags with a known fate; fractions of a bag are allowed.
func (b Beta) Update(c Counts) Beta {
	return Beta{b.A + math.Max(0, c.Bad), b.B + math.Max(0, c.Bags-c.Bad)}
}

// Mean is the expected share.
func (b Beta) Mean() float64 { return b.A / (b.A + b.B) }

// Quantile of the share.
func (b Beta) Quantile(p float64) float64 { return mathext.InvRegIncBeta(b.A, b.B, p) }

// Turning gives the probability of each number of alive bags turning, 0 to alive (the beta-binomial law).
func (b Beta) Turning(alive int) []float64 {
	out := make([]float64, max(0, alive)+1)
	base := mathext.Lbeta(b.A, b.B)
	for k := range out {
		out[k] = math.Exp(logChoose(alive, k) + mathext.Lbeta(b.A+float64(k), b.B+float64(alive-k)) - base)
	}
	return out
}

// A Turn is how many more bags may turn: the mean and the range in which it falls eight times in ten.
type Turn struct {
	Alive int     `json:"alive"`
	Mean  float64 `json:"mean"`
	Low   int     `json:"low"`
	High  int     `json:"high"`
}

// Turn sums up Turning.
func (b Beta) Turn(alive int) Turn {
	alive = max(0, alive)
	p := b.Turning(alive)
	return Turn{Alive: alive, Mean: float64(alive) * b.Mean(), Low: reach(p, 0.1), High: reach(p, 0.9)}
}

// reach is the first count whose cumulative probability is at least p.
func reach(pmf []float64, p float64) int {
	sum := 0.0
	for k, x := range pmf {
		sum += x
		if sum >= p-tieSlack {
			return k
		}
	}
	return len(pmf) - 1
}

// Residual is the chance that a bag found clean today will still turn: p for a bag in general, found the share of
// contaminations that are found by its age.
func Residual(p, found float64) float64 {
	p, found = math.Max(0, math.Min(1, p)), math.Max(0, math.Min(1, found))
	if p*found >= 1 {
		return 0
	}
	return p * (1 - found) / (1 - p*found)
}
