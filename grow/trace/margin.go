package trace

import "math"

// A Verdict is what the records allow to be said of one condition.
type Verdict string

const (
	PointsTo         Verdict = "points_to"
	SmallDifference  Verdict = "small_difference"
	CannotTell       Verdict = "cannot_tell"
	NoDifference     Verdict = "no_difference_that_matters"
	NothingToCompare Verdict = "nothing_to_compare"
)

// DefaultMargin is the difference in contamination that would change what a grower does: 5 bags in 100. Common
// practice, no source; a setting of the farm.
const DefaultMargin = 0.05

// significant is the largest adjusted p at which anything is pointed to.
const significant = 0.05

// Judge joins a 95 % interval of a difference, a margin that matters and an adjusted p. Interval and p must agree
// before anything is pointed to; lying inside the margin with a 95 % interval is an equivalence test at 2.5 % a side.
// An adjusted p of NaN is left out of account.
func Judge(difference Interval, margin, adjustedP float64) Verdict {
	low, high := difference.Low, difference.High
	switch {
	case math.IsNaN(low) || math.IsNaN(high):
		return CannotTell
	case low > 0 || high < 0:
		if adjustedP > significant {
			return CannotTell
		}
		if low >= -margin && high <= margin {
			return SmallDifference
		}
		return PointsTo
	case low > -margin && high < margin:
		return NoDifference
	}
	return CannotTell
}
