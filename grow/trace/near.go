package trace

import (
	"cmp"
	"slices"
	"time"
)

// What counts as made near each other, and the pause after which the bench is another sitting, so that the first bag
// of a morning is not a neighbour of the last one of the evening before. Common practice, no source.
const (
	nearBags  = 5
	nearTime  = 15 * time.Minute
	benchRest = 2 * time.Hour
)

// Near are the bags made near the subject, over batches: within five bags of it in the order of the bench, or within
// fifteen minutes. bench holds the time each bag was scanned live at the bench, zero where it was not: such bags are
// near nothing, as their order is not evidence.
func Near(bench []time.Time, subject int) []int {
	var out []int
	for i := range steps(bench, subject) {
		out = append(out, i)
	}
	slices.Sort(out)
	return out
}

// steps are the bags near the subject with their places from it in the order of the bench, those before it negative.
func steps(bench []time.Time, subject int) map[int]int {
	if subject < 0 || subject >= len(bench) || bench[subject].IsZero() {
		return nil
	}
	var order []int
	for i, t := range bench {
		if !t.IsZero() {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Or(bench[a].Compare(bench[b]), cmp.Compare(a, b)) })
	here := slices.Index(order, subject)
	out := make(map[int]int)
	for _, step := range []int{-1, 1} {
		for k := here + step; k >= 0 && k < len(order); k += step {
			if !neighbours(bench, order, here, k, step) {
				break
			}
			out[order[k]] = k - here
		}
	}
	return out
}

// neighbours tells whether the bag at place k of the order is still near the one at place here.
func neighbours(bench []time.Time, order []int, here, k, step int) bool {
	if bench[order[k]].Sub(bench[order[k-step]]).Abs() > benchRest {
		return false
	}
	return (k-here)*step <= nearBags || bench[order[k]].Sub(bench[order[here]]).Abs() <= nearTime
}
