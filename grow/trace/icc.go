package trace

import "math"

// defaultICC is used where the data say nothing, because no bag or every bag was contaminated (0/0). Common practice,
// no source.
const defaultICC = 0.05

// ICC is the intraclass correlation of contamination between bags of one batch, by analysis of variance pooled inside
// groups (Donner 1989, Biometrics 45:605-611). It may be below 0 and is NaN where the data say nothing. groups holds
// one list of batches for each group compared.
func ICC(groups ...[]Counts) float64 {
	var between, within, betweenFree, withinFree, size float64
	for _, g := range groups {
		var all Counts
		var squares, used float64
		for _, c := range g {
			if c.Bags > 0 {
				all = all.plus(c)
				squares += c.Bags * c.Bags
				used++
			}
		}
		if used == 0 {
			continue
		}
		for _, c := range g {
			if c.Bags > 0 {
				d := c.Rate() - all.Rate()
				between += c.Bags * d * d
				within += c.Bags * c.Rate() * (1 - c.Rate())
			}
		}
		betweenFree += used - 1
		withinFree += all.Bags - used
		size += all.Bags - squares/all.Bags
	}
	msb, msw, n0 := between/betweenFree, within/withinFree, size/betweenFree
	return (msb - msw) / (msb + (n0-1)*msw)
}

// usedICC is never below 0, and the default where the data say nothing.
func usedICC(rho float64) float64 {
	if math.IsNaN(rho) || math.IsInf(rho, 0) {
		return defaultICC
	}
	return math.Max(0, math.Min(1, rho))
}

// Effective is a group's counts worth as many independent bags as its batches are: N/(1 + (Σn²/Σn - 1)·rho) (Rao and
// Scott 1992, Biometrics 48:577-585). One batch keeps its plain number.
func Effective(batches []Counts, rho float64) Counts {
	var all Counts
	squares, used := 0.0, 0
	for _, c := range batches {
		if c.Bags > 0 {
			all = all.plus(c)
			squares += c.Bags * c.Bags
			used++
		}
	}
	if used < 2 {
		return all
	}
	n := all.Bags / designEffect(squares, all.Bags, rho)
	return Counts{all.Rate() * n, n}
}

// designEffect is how many bags stand for one independent bag.
func designEffect(squares, bags, rho float64) float64 { return 1 + (squares/bags-1)*rho }
