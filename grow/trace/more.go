package trace

import "math"

// Normal quantiles for the size of a comparison: power 80 %, and 10 % on each side for equivalence.
var (
	z80 = math.Sqrt2 * math.Erfinv(0.6)
	z90 = math.Sqrt2 * math.Erfinv(0.8)
)

// BagsForDifference is how many bags of each kind show a difference between the two rates with 80 % power, with the
// continuity correction (Fleiss, Levin and Paik 2003, Statistical Methods for Rates and Proportions, ch. 4). Equal
// rates need infinitely many.
func BagsForDifference(p1, p0 float64) float64 { return corrected(bagsFor(p1, p0, z975, z80), p1-p0) }

// bagsFor is the uncorrected number for given quantiles of error and power.
func bagsFor(p1, p0, alpha, beta float64) float64 {
	p := (p1 + p0) / 2
	s := alpha*math.Sqrt(2*p*(1-p)) + beta*math.Sqrt(p1*(1-p1)+p0*(1-p0))
	if p1 == p0 {
		return math.Inf(1)
	}
	return s * s / ((p1 - p0) * (p1 - p0))
}

func corrected(n, difference float64) float64 {
	if math.IsInf(n, 1) || difference == 0 {
		return math.Inf(1)
	}
	if n == 0 {
		return 1 / math.Abs(difference)
	}
	r := 1 + math.Sqrt(1+4/(n*math.Abs(difference)))
	return n / 4 * r * r
}

// BagsForMargin is how many bags of each kind show with 80 % power that the rates differ by less than the margin, by
// a 95 % interval (Chow, Shao and Wang 2008, Sample Size Calculations in Clinical Research, 4.2).
func BagsForMargin(p1, p0, margin float64) float64 { return bagsWithin(p1, p0, margin, z975, z90) }

func bagsWithin(p1, p0, margin, alpha, beta float64) float64 {
	room := margin - math.Abs(p1-p0)
	if !(room > 0) {
		return math.Inf(1)
	}
	return (alpha + beta) * (alpha + beta) * (p1*(1-p1) + p0*(1-p0)) / (room * room)
}

// missing is how many more bags (or batches) like those exchanged would tell with 80 % power, if the times stay as far
// apart as they look: the square of the standardised sum of scores grows with their number (the reasoning of Schoenfeld
// 1983, Biometrics 39:499-503), and it is told from the p. +Inf where the times look alike.
func (e exchanged) missing() float64 {
	z := math.Sqrt2 * math.Erfinv(1-e.p)
	return float64(e.units) * math.Max(0, (z975+z80)*(z975+z80)/(z*z)-1)
}

// Need is how many more bags would tell.
type Need struct {
	Each      float64 // bags (or batches) of each kind, +Inf if no number would
	Margin    bool    // it is for showing that the difference does not matter
	InBatches bool
	Size      float64 // bags a batch, with InBatches
	With      float64 // how many of Each are still missing
	Without   float64
}

// HowMany asks how many bags of each kind would tell, taking the rates as estimated but drawn away from 0 and 1 by
// half a bag. Where they differ by less than the margin the question is that the difference does not matter.
func HowMany(with, without Counts, margin float64) Need {
	p1, p0 := (with.Bad+0.5)/(with.Bags+1), (without.Bad+0.5)/(without.Bags+1)
	n := Need{Margin: math.Abs(p1-p0) < margin}
	if n.Margin {
		n.Each = math.Ceil(BagsForMargin(p1, p0, margin))
	} else {
		n.Each = math.Ceil(BagsForDifference(p1, p0))
	}
	n.With, n.Without = math.Max(0, n.Each-with.Bags), math.Max(0, n.Each-without.Bags)
	return n
}

// inBatches turns the need into whole batches of the given mean size, whose bags are alike by rho.
func (n Need) inBatches(size, rho float64, with, without int) Need {
	size = math.Max(1, size)
	n.InBatches, n.Size = true, size
	n.Each = math.Ceil(n.Each * (1 + (size-1)*rho) / size)
	n.With, n.Without = math.Max(0, n.Each-float64(with)), math.Max(0, n.Each-float64(without))
	return n
}
