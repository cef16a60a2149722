package trace

import "math"

// Ratio is the rate of the first group over that of the second with the score interval of Miettinen and Nurminen
// (1985, Stat Med 4:213-226). It explodes with few bags, so it is for those who ask; the difference is the headline.
// z is the normal quantile of its limits, or Student's where the counts are effective ones of few batches. ok is false
// where there is no ratio: an empty group, nothing contaminated, or everything.
func Ratio(with, without Counts, z float64) (ratio Interval, ok bool) {
	all := with.plus(without)
	if !(with.Bags > 0) || !(without.Bags > 0) || !(all.Bad > 0) || all.Bad >= all.Bags || all.Bags <= 1 {
		return Interval{math.NaN(), 0, math.Inf(1)}, false
	}
	const far = 30 // log ratios beyond this are 0 or infinite
	ratio = Interval{math.Inf(1), 0, math.Inf(1)}
	middle := float64(far)
	if without.Bad > 0 {
		ratio.Estimate = with.Rate() / without.Rate()
		middle = math.Max(-far, math.Log(ratio.Estimate))
	}
	if with.Bad > 0 {
		ratio.Low = math.Exp(bisect(-far, middle, func(l float64) bool { return ratioScore(with, without, math.Exp(l)) <= z }))
	}
	if without.Bad > 0 {
		ratio.High = math.Exp(bisect(middle, far, func(l float64) bool { return ratioScore(with, without, math.Exp(l)) <= -z }))
	}
	return ratio, true
}

// ratioScore is the score statistic of the hypothesis that the first rate is r times the second; it falls with r.
func ratioScore(with, without Counts, r float64) float64 {
	n := with.Bags + without.Bags
	a := n * r
	b := -(with.Bags*r + with.Bad + without.Bags + without.Bad*r)
	c := with.Bad + without.Bad
	q0 := (-b - math.Sqrt(math.Max(0, b*b-4*a*c))) / (2 * a)
	q1 := r * q0
	v := (q1*(1-q1)/with.Bags + r*r*q0*(1-q0)/without.Bags) * n / (n - 1)
	e := with.Rate() - r*without.Rate()
	switch {
	case v > 0:
		return e / math.Sqrt(v)
	case math.Abs(e) < countSlack:
		return 0
	}
	return math.Copysign(math.Inf(1), e)
}
