package plan

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// A Law is what is believed of the days of one step of a bag's way: the
// logarithm of the days, with Shift added to them first, is normal.
type Law struct {
	Mean    float64 // log days of the average batch
	SD      float64 // how uncertain Mean is
	Between float64 // standard deviation between batches, log days
	Within  float64 // standard deviation between the bags of one batch, log days
	Shift   float64 // days added before taking logs, for steps that may take none
}

// Spreads of log days that no source gives: common practice, as for the days to
// grown over.
const (
	usualBetween = 0.15
	usualWithin  = 0.15
)

// FromRange is the law of a published range of days, which is taken to hold the
// central 90 % of farms. shift is 1 where the step may take no day at all.
func FromRange(low, high, shift float64) Law {
	low, high = low+shift, high+shift
	if !(low > 0) {
		low = 0.5
	}
	if !(high > low) { // a single figure: a tenth either way
		low, high = low*0.9, low*1.1
	}
	return Law{Mean: (math.Log(low) + math.Log(high)) / 2, SD: (math.Log(high) - math.Log(low)) / (2 * z95),
		Between: usualBetween, Within: usualWithin, Shift: shift}
}

// LearnDays sharpens a law by days seen in batches that are through with the step; false where fewer than
// LeastBatches have any. Spreads are shrunk as if the usual ones came from 20
// bags and 4 batches, and the mean weighs range and batches by their precision:
// the rules of package forecast, for days that are known exactly.
func (l Law) LearnDays(batches [][]float64) (Law, bool) {
	logs := make([][]float64, len(batches))
	for i, b := range batches {
		for _, days := range b {
			logs[i] = append(logs[i], math.Log(math.Max(0.5, days+l.Shift)))
		}
	}
	s := spreadOf(logs)
	if s.batches < LeastBatches {
		return l, false
	}
	free := s.batches - 1
	l.Within = math.Sqrt((20*usualWithin*usualWithin + s.withinFree*s.within) / (20 + s.withinFree))
	l.Between = math.Sqrt((4*usualBetween*usualBetween + free*s.between) / (4 + free))
	l.Mean, l.SD = weighed(l.Mean, l.SD, l.Between, l.Within, logs)
	return l, true
}

// weighed is a mean believed beforehand, with its error, weighed with the means
// of batches by their precision; and the error of that.
func weighed(mean, sd, between, within float64, batches [][]float64) (float64, float64) {
	precision := 1 / (sd * sd)
	sum := mean * precision
	for _, b := range batches {
		if n := float64(len(b)); n > 0 {
			w := 1 / (between*between + within*within/n)
			precision, sum = precision+w, sum+w*meanOf(b)
		}
	}
	return sum / precision, math.Sqrt(1 / precision)
}

// loads say how much of one standard normal a bag has from the farm, from its
// batch and from itself: their squares add to 1.
type loads struct{ farm, batch, bag float64 }

func (l loads) of(farm, batch, bag float64) float64 {
	return l.farm*farm + l.batch*batch + l.bag*bag
}

func loadsOf(farm, batch, bag float64) loads {
	sd := math.Sqrt(farm*farm + batch*batch + bag*bag)
	if !(sd > 0) {
		return loads{bag: 1}
	}
	return loads{farm / sd, batch / sd, bag / sd}
}

func (l Law) loads() loads { return loadsOf(l.SD, l.Between, l.Within) }

func (l Law) sd() float64 {
	return math.Max(1e-9, math.Sqrt(l.SD*l.SD+l.Between*l.Between+l.Within*l.Within))
}

// beyond is the chance that the step takes longer than so many days.
func (l Law) beyond(days float64) float64 {
	if days+l.Shift <= 0 {
		return 1
	}
	return tail((math.Log(days+l.Shift) - l.Mean) / l.sd())
}

// tail is the standard normal's upper tail, far out too.
func tail(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }

// A dial tells days by a standard normal, -4 to 4 in eighths, in between on
// straight lines: a play of a farm reads it some million times.
type dial [2*dialEnd*dialSteps + 1]float64

const (
	dialEnd   = 4
	dialSteps = 8
)

func makeDial(days func(z float64) float64) (d dial) {
	for k := range d {
		d[k] = math.Max(0, days(float64(k)/dialSteps-dialEnd))
	}
	return d
}

func (d *dial) at(z float64) float64 {
	x := (z + dialEnd) * dialSteps
	switch {
	case x <= 0:
		return d[0]
	case x >= float64(len(d)-1):
		return d[len(d)-1]
	}
	k := int(x)
	return d[k] + (x-float64(k))*(d[k+1]-d[k])
}

// after is the dial of the days still to go for a bag that has waited so many
// days in this step.
func (l Law) after(waited float64) dial {
	sd := l.sd()
	if waited <= 0 {
		return makeDial(func(z float64) float64 { return math.Exp(l.Mean+sd*z) - l.Shift })
	}
	left := math.Max(1e-300, l.beyond(waited))
	return makeDial(func(z float64) float64 {
		return math.Exp(l.Mean-sd*mathext.NormalQuantile(left*tail(z))) - l.Shift - waited
	})
}

// A Range is a forecast: one bag in ten is done by Early, half by Likely, nine in
// ten by Late.
type Range struct{ Early, Likely, Late float64 }

// z90 is the normal's 90 % point.
const z90 = 1.2815515655446004

// after is the dial of the days still to go at an age, from three points of the
// whole: each side of Likely is lognormal by itself.
func (r Range) after(age float64) dial {
	return makeDial(func(z float64) float64 {
		end := r.Late
		if z < 0 {
			end = r.Early
		}
		if !(r.Likely > 0 && end > 0) {
			return r.Likely - age
		}
		return r.Likely*math.Exp(math.Log(end/r.Likely)*math.Abs(z)/z90) - age
	})
}
