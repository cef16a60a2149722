package climate

import (
	"cmp"
	"slices"
)

// parcels are the guests that count, by target. Each stands alone while they are
// few enough to be tried every way; else neighbours stay together, the pair with
// the least weight first.
func parcels(guests []Guest) [][]int {
	var groups [][]int
	for i, g := range guests {
		if g.Weight > 0 {
			groups = append(groups, []int{i})
		}
	}
	target := func(g []int) float64 { return guests[g[0]].Band.TargetC }
	slices.SortStableFunc(groups, func(a, b []int) int { return cmp.Compare(target(a), target(b)) })
	for len(groups) > largestSplit {
		least := 0
		for i := 1; i+1 < len(groups); i++ {
			if pair(guests, groups, i) < pair(guests, groups, least) {
				least = i
			}
		}
		groups[least] = append(groups[least], groups[least+1]...)
		groups = slices.Delete(groups, least+1, least+2)
	}
	return groups
}

// pair is the weight of two neighbouring groups together.
func pair(guests []Guest, groups [][]int, first int) (sum float64) {
	for _, i := range slices.Concat(groups[first], groups[first+1]) {
		sum += guests[i].Weight
	}
	return sum
}
