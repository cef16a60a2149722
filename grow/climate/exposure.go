package climate

import "math"

// How much warmer the core of a bag is than the air around it (common practice:
// 2 °C alone on a shelf, 4 °C where bags touch; up to 4 °C were measured in 1.2 L
// bottles of enoki, Acta Edulis Fungi 2024 (6), abstract). A species' band is one
// of room air, and reckons with bags that stand alone.
const (
	CoreAloneC    = 2.0
	CoreTouchingC = 4.0
)

// A Band is the room air that a species wants for its spawn run, and the core
// temperature at which growth slows strongly or stops.
type Band struct {
	LowC, TargetC, HighC float64
	CeilingC             float64
}

// ForOffset is the band of air for bags whose core is this much warmer than the
// air: one made for bags that stand alone moves down where they touch. The ceiling
// is one of the core and stays.
func (b Band) ForOffset(offsetC float64) Band {
	d := offsetC - CoreAloneC
	b.LowC, b.TargetC, b.HighC = b.LowC-d, b.TargetC-d, b.HighC-d
	return b
}

// Off is how far air lies outside the band: above it positive, below it negative,
// 0 inside.
func (b Band) Off(airC float64) float64 {
	switch {
	case airC > b.HighC:
		return airC - b.HighC
	case airC < b.LowC:
		return airC - b.LowC
	}
	return 0
}

// A Stay is one bag's time in one place: the track there, and how much warmer its
// core was than the air. From and To are hours since 1970 UTC, To not included.
type Stay struct {
	From, To int64
	Track    Track
	OffsetC  float64
}

// An Exposure is what the air did to one bag, or to one species that stood in a
// place. All lengths are days; what is not known is in none of them but Unknown.
type Exposure struct {
	Measured, Between, SetPoint, Unknown float64
	Above, Below, PastCeiling            float64
	// DegreeDays are days times degrees outside the band, either way.
	DegreeDays float64
	// Grown is growth in days at the optimum, over the hours that are known; Rate is
	// its mean share of the best, not a number if nothing is known.
	Grown, Rate float64
	// Mean, Highest and Lowest are the air's, not a number if nothing is known.
	Mean, Highest, Lowest float64
}

// Known is how many days the exposure knows of, measured or not.
func (e Exposure) Known() float64 { return e.Measured + e.Between + e.SetPoint }

// Out is how many days the air was out of the band.
func (e Exposure) Out() float64 { return e.Above + e.Below }

// Expose adds up the stays of one bag.
func Expose(stays []Stay, band Band, growth Curve) Exposure {
	e := Exposure{Highest: math.Inf(-1), Lowest: math.Inf(1)}
	var known, sum float64
	for _, s := range stays {
		b := band.ForOffset(s.OffsetC)
		hours := s.Track.Between(s.From, s.To)
		for _, h := range hours {
			e.add(h, b, growth.Rate(h.C+s.OffsetC), s.OffsetC)
			sum += h.C
		}
		known += float64(len(hours))
		e.Unknown += float64(max(0, s.To-s.From)-int64(len(hours))) / 24
	}
	if known == 0 {
		nan := math.NaN()
		e.Mean, e.Highest, e.Lowest, e.Rate = nan, nan, nan, nan
		return e
	}
	e.Mean, e.Rate = sum/known, e.Grown*24/known
	return e
}

func (e *Exposure) add(h Hour, b Band, rate, offsetC float64) {
	const day = 1.0 / 24
	switch h.Basis {
	case HourMeasured:
		e.Measured += day
	case HourBetween:
		e.Between += day
	default:
		e.SetPoint += day
	}
	off := b.Off(h.C)
	if off > 0 {
		e.Above += day
	} else if off < 0 {
		e.Below += day
	}
	e.DegreeDays += math.Abs(off) * day
	if h.C+offsetC > b.CeilingC {
		e.PastCeiling += day
	}
	e.Grown += rate * day
	e.Highest, e.Lowest = max(e.Highest, h.C), min(e.Lowest, h.C)
}
