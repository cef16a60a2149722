package yield

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// cell is what one batch gave on one side of a comparison.
type cell struct{ n, sum, squares float64 }

func (c *cell) add(v float64) { c.n, c.sum, c.squares = c.n+1, c.sum+v, c.squares+v*v }

func (c cell) mean() float64 { return c.sum / c.n }

// within is the sum of squares about the cell's mean.
func (c cell) within() float64 { return math.Max(0, c.squares-c.sum*c.sum/c.n) }

// Spread is how bags of one batch and how batches differ: two variances, by
// analysis of variance pooled inside groups, with unequal batches weighed as in
// Searle, Casella and McCulloch 1992, Variance Components, ch. 3 (from memory).
type Spread struct {
	Within  float64 // between bags of one batch
	Between float64 // between batches, beside what bags bring; never below 0
	Free    float64 // batches less groups: how well Between is known
}

// spreadOf takes the batches of each group that is compared.
func spreadOf(groups ...[]cell) Spread {
	var between, within, free, bagsFree, size float64
	for _, g := range groups {
		var n, sum, squares float64
		for _, c := range g {
			n, sum, squares = n+c.n, sum+c.sum, squares+c.n*c.n
			within += c.within()
			bagsFree += c.n - 1
		}
		if n == 0 {
			continue
		}
		for _, c := range g {
			d := c.mean() - sum/n
			between += c.n * d * d
		}
		free += float64(len(g)) - 1
		size += n - squares/n
	}
	s := Spread{Free: free}
	switch {
	case free <= 0 && bagsFree <= 0:
		return Spread{math.NaN(), math.NaN(), 0}
	case free <= 0:
		s.Within, s.Between = within/bagsFree, math.NaN()
	case bagsFree <= 0: // one bag a batch: bags and batches cannot be told apart
		s.Between = between / free
	default:
		s.Within = within / bagsFree
		s.Between = (between/free - s.Within) * free / size
		if s.Between < 0 { // batches no more unlike than bags: then all bags tell of one spread
			s.Between, s.Within = 0, (between+within)/(free+bagsFree)
		}
	}
	return s
}

// variance of the plain mean of a group's bags.
func (s Spread) variance(g []cell) float64 {
	var n, squares float64
	for _, c := range g {
		n, squares = n+c.n, squares+c.n*c.n
	}
	return s.Within/n + s.Between*squares/(n*n)
}

// t975 is the 97.5 % point of Student's t; none below one degree of freedom.
func t975(free float64) float64 {
	if !(free >= 1) {
		return math.NaN()
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: free}.Quantile(0.975)
}

// meanOf is a group's mean with its limits: between batches where there are
// several, between the bags of the only one otherwise.
func meanOf(g []cell) (mean, low, high float64) {
	var n, sum float64
	for _, c := range g {
		n, sum = n+c.n, sum+c.sum
	}
	if n == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	mean = sum / n
	s, free := spreadOf(g), float64(len(g)-1)
	if len(g) == 1 {
		s.Between, free = 0, n-1
	}
	half := t975(free) * math.Sqrt(s.variance(g))
	return mean, math.Max(0, mean-half), mean + half
}
