package forecast

import "math"

// A Bag is what its own log says about one bag that is still of interest.
type Bag struct {
	Span    Span     // its own looks: not grown over by, grown over on
	Reading *Reading // the latest estimate of its wall, if anyone made one
	Today   float64  // its age in days
}

// A Forecast is the answer for one bag.
type Forecast struct {
	Colonised Days
	Known     bool // the bag was seen grown over: Colonised is that day three times
	Basis     Basis
	Slow      bool // its latest reading lies below what a late bag would show on that day
	Overdue   bool // 19 of 20 bags of its batch would be done by now
}

// Bag forecasts one bag among its sisters: the spans of the other bags of its batch. The bag's own span must not
// be among them.
//
// Without a reading the bag's "not yet" is weighed with the batch; with one, the reading is combined with the
// law of a new bag while no bag of the batch is finished, else with the batch, and cut at the last "not yet".
func (l Law) Bag(bag Bag, sisters []Span) Forecast {
	own := bag.Span.legal()
	if bag.Reading != nil && bag.Reading.Full() && !own.Finished() {
		own = Span{Left: own.Left, Right: bag.Reading.Day}.legal()
	}
	out := Forecast{Basis: l.Basis}
	if own.Finished() {
		out.Known = true
		out.Colonised = Days{own.Right, own.Right, own.Right}
		return out
	}
	if bag.Reading != nil {
		own.Left = math.Max(own.Left, bag.Reading.legalDay())
	}
	out.Slow = l.Slow(bag.Reading)
	out.Overdue = l.Overdue(bag.Today)
	out.Colonised = l.unfinished(own.Left, bag.Reading, sisters)
	return out
}

func (l Law) unfinished(after float64, r *Reading, sisters []Span) Days {
	if r != nil && r.Usable() {
		logDay, sd := r.End()
		return l.alone(sisters).with(bell{logDay, sd}).days(after)
	}
	if after <= 0 && len(collapse(sisters)) == 0 {
		return l.NewBag()
	}
	spans := append(append(make([]Span, 0, len(sisters)+1), sisters...), Running(after))
	return l.Observe(spans).Days(after)
}

// alone is the law of a bag's log day as a normal one: that of a new bag, or of its batch once a sister is
// finished.
func (l Law) alone(sisters []Span) bell {
	for _, s := range sisters {
		if s.legal().Finished() {
			mean, sd := l.Observe(sisters).Moments()
			return bell{mean, math.Hypot(sd, l.Within)}
		}
	}
	return bell{l.Mean, l.spread()}
}

// Slow tells whether a reading lies below the share of the wall expected on its day in a bag that is done at
// the 90 % point of a new bag.
func (l Law) Slow(r *Reading) bool {
	return r != nil && r.Day > 0 && !r.Full() && r.Share < Expected(r.Day, l.Quantile(0.9))
}

// Overdue tells whether 19 of 20 bags of a batch would be done by the given day. It is meant for bags that are
// not.
func (l Law) Overdue(day float64) bool { return day > l.Quantile(0.95) }

func (r Reading) legalDay() float64 {
	if !(r.Day > 0) || math.IsInf(r.Day, 1) {
		return 0
	}
	return r.Day
}

// Ripening is how many days after being grown over a bag of the species is ready: low, middle and high.
type Ripening struct {
	Low, Middle, High float64
}

// RipeningFrom takes a published range; its middle is halfway.
func RipeningFrom(low, high float64) Ripening { return Ripening{low, (low + high) / 2, high} }

// Ready is the forecast of the day a bag is ready: early with the low, likely with the middle, late with the
// high figure of after-ripening.
func (d Days) Ready(r Ripening) Days {
	return Days{d.Early + r.Low, d.Likely + r.Middle, d.Late + r.High}
}
