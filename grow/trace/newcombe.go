package trace

import "math"

// NewcombeDifference is the rate of the first group less that of the second with the hybrid score interval
// (Newcombe 1998, Stat Med 17:873-890, method 10). Where one group is empty there is no difference: NaN, -1 to 1.
func NewcombeDifference(with, without Counts) Interval {
	return NewcombeDifferenceAt(with, without, z975)
}

// NewcombeDifferenceAt is NewcombeDifference with another quantile in place of 1.96.
func NewcombeDifferenceAt(with, without Counts, z float64) Interval {
	if !(with.Bags > 0) || !(without.Bags > 0) {
		return Interval{math.NaN(), -1, 1}
	}
	a, b := WilsonAt(with, z), WilsonAt(without, z)
	d := a.Estimate - b.Estimate
	low := d - math.Hypot(a.Estimate-a.Low, b.High-b.Estimate)
	high := d + math.Hypot(a.High-a.Estimate, b.Estimate-b.Low)
	return Interval{d, math.Max(-1, low), math.Min(1, high)}
}
