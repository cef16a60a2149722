// Package forecast says when a bag will be grown over, and how sure that is.
//
// One law holds for every bag: the logarithm of the days from inoculation to a fully grown-over wall is normal
// (a lognormal accelerated failure time model). It has three levels, all on log days: what the farm and species
// usually take, how far one batch lies from that, and how far one bag lies from its batch. A published range
// starts the law (FromRange), the farm's own finished batches sharpen it (Learn), the bags of a batch under way
// tell about their sisters (Law.Observe), and a look at the wall tells about one bag (Reading).
//
// Start at Law.Bag, which answers the question that a bag's page asks. All times are days since inoculation,
// the inoculation day being 0; Date turns them into dates.
//
// The package never reads a clock, draws a random number or touches storage, and never promises: every answer
// carries its range and what it was made from.
package forecast

import "math"

// Published defaults stand in for what nobody has published: the spread between bags of one batch and between
// batches of one farm, on log days, and how many degrees of freedom each default is worth against the farm's own
// figures. All four are common practice without a source.
const (
	defaultWithin        = 0.15
	defaultBetween       = 0.15
	defaultWithinWeight  = 20.0
	defaultBetweenWeight = 4.0
)

// Normal quantiles used throughout.
const (
	z90 = 1.2815515655446004 // 10 % in each tail
	z95 = 1.6448536269514722 // 5 % in each tail
)

// A Law is what is believed about the log days of one species (or strain) on one farm.
type Law struct {
	Mean    float64 // log days of the average batch
	SD      float64 // how uncertain Mean is
	Between float64 // standard deviation between batches, log days
	Within  float64 // standard deviation between the bags of one batch, log days
	Basis   Basis
}

// Days is a forecast in days since inoculation: one bag in ten is done by Early, half by Likely, nine in ten by Late.
type Days struct {
	Early, Likely, Late float64
}

// FromRange starts a law from a published range of days: the central 90 % of farms is taken to lie inside it.
// Both ends must be above 0; they are put in order, and a range of no width is given a tenth either way.
func FromRange(low, high float64) Law {
	low, high = legalRange(low, high)
	a, b := math.Log(low), math.Log(high)
	return Law{
		Mean:    (a + b) / 2,
		SD:      (b - a) / (2 * z95),
		Between: defaultBetween,
		Within:  defaultWithin,
		Basis:   Basis{Source: Published},
	}
}

func legalRange(low, high float64) (float64, float64) {
	const shortest = 0.5 // days; nothing grows over a bag faster
	if !(low >= shortest) {
		low = shortest
	}
	if !(high >= shortest) {
		high = shortest
	}
	low, high = math.Min(low, high), math.Max(low, high)
	if math.IsInf(high, 0) {
		high = 10 * low
	}
	if high < low*1.01 {
		low, high = low/1.1, high*1.1
	}
	return low, high
}

// spread is the standard deviation of log days for a bag of a batch that has not been looked at.
func (l Law) spread() float64 {
	return math.Sqrt(l.SD*l.SD + l.Between*l.Between + l.Within*l.Within)
}

// Quantile is the day by which the share p of all bags of a new batch is grown over.
func (l Law) Quantile(p float64) float64 {
	return math.Exp(l.Mean + l.spread()*normalQuantile(p))
}

// NewBag forecasts a bag about which nothing is known but its species: the median and the 10-90 % range.
func (l Law) NewBag() Days {
	s := l.spread()
	return Days{math.Exp(l.Mean - z90*s), math.Exp(l.Mean), math.Exp(l.Mean + z90*s)}
}
