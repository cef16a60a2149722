package trace

import (
	"cmp"
	"math"
	"slices"
)

// Adjust gives the Benjamini-Hochberg adjusted p of each p: the share of false finds to expect among all that are
// called at it (Benjamini and Hochberg 1995, J R Stat Soc B 57:289-300). Only questions that were tested belong in it.
func Adjust(p []float64) []float64 {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[a], p[b]) })
	out := make([]float64, len(p))
	least := 1.0
	for k := len(order) - 1; k >= 0; k-- {
		least = math.Min(least, p[order[k]]*float64(len(p))/float64(k+1))
		out[order[k]] = least
	}
	return out
}
