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
	Overdue   bool // 95 of 100 bags of such a batch would be done by now
}

// Bag forecasts one bag among its sisters: the spans of the other bags of its batch. The bag's own span must not
// be among them.
//
// Without a reading the bag's "not yet" is weighed with the batch; with one, the reading is combined with the
// law of a new bag while no bag of the batch is finished, else with the batch, and cut at the last "not yet".
func (l Law) Bag(bag Bag, sisters []Span) Forecast {
	return l.one(bag.legal(), func(own Span) Days { return l.running(own.Left, sisters) }, func(Span) bell { return l.alone(sisters) })
}

// Batch forecasts all bags of one batch, each among its sisters, in less time than one by one: bags whose looks
// agree share one answer.
func (l Law) Batch(bags []Bag) []Forecast {
	spans := make([]Span, len(bags))
	legal := make([]Bag, len(bags))
	for i, b := range bags {
		legal[i] = b.legal()
		spans[i] = legal[i].Span
	}
	days, bells := make(map[Span]Days), make(map[Span]bell)
	out := make([]Forecast, len(bags))
	for i, b := range legal {
		sisters := func() []Span { return append(append(make([]Span, 0, len(spans)), spans[:i]...), spans[i+1:]...) }
		out[i] = l.one(b, func(own Span) Days {
			return remember(days, own, func() Days { return l.running(own.Left, sisters()) })
		}, func(own Span) bell {
			return remember(bells, own, func() bell { return l.alone(sisters()) })
		})
	}
	return out
}

func remember[V any](known map[Span]V, key Span, find func() V) V {
	v, ok := known[key]
	if !ok {
		v = find()
		known[key] = v
	}
	return v
}

// legal takes the reading into the bag's span: a full one ends it, another one is a "not yet".
func (b Bag) legal() Bag {
	b.Span = b.Span.legal()
	if b.Reading == nil || b.Span.Finished() {
		return b
	}
	if b.Reading.Full() {
		b.Span = Span{b.Span.Left, b.Reading.Day}.legal()
	} else {
		b.Span.Left = math.Max(b.Span.Left, b.Reading.legalDay())
	}
	return b
}

// one forecasts a legal bag, given its days without a reading and the law that a reading is combined with.
func (l Law) one(bag Bag, running func(Span) Days, alone func(Span) bell) Forecast {
	out := Forecast{Basis: l.Basis}
	if bag.Span.Finished() {
		out.Known = true
		out.Colonised = Days{bag.Span.Right, bag.Span.Right, bag.Span.Right}
		return out
	}
	out.Slow = l.Slow(bag.Reading)
	out.Overdue = l.Overdue(bag.Today)
	if r := bag.Reading; r != nil && r.Usable() {
		logDay, sd := r.End()
		out.Colonised = alone(bag.Span).with(bell{logDay, sd}).days(bag.Span.Left)
	} else {
		out.Colonised = running(bag.Span)
	}
	return out
}

// running forecasts a bag without a reading, not grown over by day after.
func (l Law) running(after float64, sisters []Span) Days {
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
// the 90 % point of a new bag. Before 5 % can be expected no reading is slow: a bare wall in the first days is
// what every bag shows.
//
// A published range is wide, a law learnt from the farm's own batches may be narrow: then a glance at a thin wall is
// off by more than what tells a late bag from a slow one, and the error of the eye is allowed for.
func (l Law) Slow(r *Reading) bool {
	if r == nil || r.legalDay() == 0 || r.Full() {
		return false
	}
	expected := Expected(r.Day, l.Quantile(0.9))
	share := r.Share
	if l.Basis.Source == OwnBatches {
		share += eyeError
	}
	return expected >= leastShare && share < expected
}

// Overdue tells whether 95 of 100 bags of a batch would be done by the given day. It is meant for bags that are
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
