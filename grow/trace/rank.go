package trace

import (
	"cmp"
	"math"
	"slices"
)

var verdictOrder = map[Verdict]int{PointsTo: 0, SmallDifference: 1, CannotTell: 2, NoDifference: 3, NothingToCompare: 4}

// Rank puts rows in the order in which they deserve a look: by verdict, then by the lower limit of the difference,
// "at least this much", highest first, so that a condition seen on three bags does not outrank one seen on three
// hundred; ties by name. Rows with less contamination, all of their interval below 0, stand after the others of
// their verdict, by upper limit.
func Rank(rows []Row) {
	slices.SortStableFunc(rows, func(a, b Row) int {
		return cmp.Or(
			cmp.Compare(verdictOrder[a.Verdict], verdictOrder[b.Verdict]),
			cmp.Compare(a.below(), b.below()),
			cmp.Compare(a.strength(), b.strength()),
			cmp.Compare(a.Detail.Name, b.Detail.Name),
			cmp.Compare(a.Key, b.Key),
			cmp.Compare(a.Value, b.Value),
		)
	})
}

// below is 1 for a row whose whole interval lies below 0.
func (r Row) below() int {
	if r.Difference != nil && r.Difference.High != nil && *r.Difference.High < 0 {
		return 1
	}
	return 0
}

// strength sorts upward: the lower limit turned round, or the upper limit of a row below 0.
func (r Row) strength() float64 {
	switch {
	case r.Difference == nil || r.Difference.Low == nil:
		return math.Inf(1)
	case r.below() == 1:
		return *r.Difference.High
	}
	return -*r.Difference.Low
}

// ForBag puts the rows of one bag's own departures first and leaves the order otherwise as it is. departs tells
// whether the bag departs with that value of that key.
func ForBag(rows []Row, departs func(Suspect) bool) {
	own, other := make([]Row, 0, len(rows)), make([]Row, 0, len(rows))
	for _, r := range rows {
		if departs(Suspect{r.Key, r.Value}) {
			own = append(own, r)
		} else {
			other = append(other, r)
		}
	}
	copy(rows, append(own, other...))
}

// Suspects are the values that the rows point to with more contamination: the lots and runs under suspicion.
func Suspects(rows []Row) map[Suspect]bool {
	out := make(map[Suspect]bool)
	for _, r := range rows {
		if r.Verdict == PointsTo && r.Difference.Low != nil && *r.Difference.Low > 0 {
			out[Suspect{r.Key, r.Value}] = true
		}
	}
	return out
}

// A Suspect is one value of one condition.
type Suspect struct {
	Key, Value string
}
