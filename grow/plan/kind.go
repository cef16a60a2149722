package plan

import "math"

// Stage is where a bag stands on its way.
type Stage int

// The stages.
const (
	Growing  Stage = iota // not grown over yet
	Ripening              // grown over, waiting to be moved
	Fruiting              // moved to fruiting
)

// A Kind is how one species or strain does on one farm.
type Kind struct {
	Name    string  // draws hang on it
	Grow    Law     // inoculation to grown over
	Ripen   Law     // grown over to the move to fruiting
	First   Law     // the move to the first picking
	Next    Law     // one flush to the next
	Flushes []Flush // at least one
	Crop    Crop
	Loss    Loss
}

// A Flush is one flush of a bag.
type Flush struct {
	Chance float64 // that a bag gives it once it gave the one before; the first: 1
	Share  float64 // of a bag's mean crop, where it is given
}

// A Crop is the grams, of all flushes, of a bag that gives anything.
type Crop struct {
	Mean    float64
	SD      float64 // how uncertain Mean is
	Between float64 // standard deviation between batches
	Within  float64 // standard deviation between the bags of one batch
}

// A Loss is how many bags of those made give nothing, whatever the reason.
type Loss struct {
	Bad, Good float64 // bags of the records behind it, as if they were independent
	Rho       float64 // correlation between bags of one batch
	// By is the share of losses that has happened by the end of growing over and
	// by the move to fruiting.
	By [2]float64
}

// size is the Beta law's size whose bags correlate by Rho.
func (l Loss) size() float64 { return 1/math.Min(0.95, math.Max(0.005, l.Rho)) - 1 }

// happened is the share of losses that has happened by now in the life of a bag
// that is still there. Losses of growing bags are taken to come evenly until
// they are grown over (common practice).
func (l Loss) happened(b Bag) float64 {
	switch b.Stage {
	case Growing:
		if !(b.Grown.Likely > 0) {
			return 0
		}
		return l.By[0] * math.Min(1, b.Age/b.Grown.Likely)
	case Ripening:
		return l.By[0]
	}
	if b.Picked > 0 {
		return 1
	}
	return l.By[1]
}

// Defaults of what no source gives for bags of one farm: common practice.
const (
	cropBetween = 0.2  // of the mean crop
	cropWithin  = 0.25 // of the mean crop
	flushRatio  = 0.5  // each flush gives half of the one before it

	lossBags = 12.0 // the built-in loss counts as one batch of so many bags
	lossBad  = 1.0  // of which one gives nothing
	lossRho  = 0.15

	lossSeen         = 5.0 // the built-in stages of losses count as so many lost bags
	lossBy0, lossBy1 = 0.6, 0.8
)

// BuiltInCrop is what a bag gives by a published range of biological efficiency
// (per cent of its dry mass), which is taken to hold the central 90 % of farms.
func BuiltInCrop(dryG, lowPct, highPct float64) Crop {
	mean := dryG * (lowPct + highPct) / 200
	return Crop{Mean: mean, SD: dryG * (highPct - lowPct) / 100 / (2 * z95), Between: cropBetween * mean, Within: cropWithin * mean}
}

// z95 is the normal's 95 % point.
const z95 = 1.6448536269514722

// BuiltInFlushes are so many flushes, each half of the one before it.
func BuiltInFlushes(n int) []Flush {
	out := make([]Flush, max(1, n))
	sum, share := 0.0, 1.0
	for k := range out {
		out[k] = Flush{Chance: 1, Share: share}
		sum, share = sum+share, share*flushRatio
	}
	for k := range out {
		out[k].Share /= sum
	}
	return out
}

// BuiltInLoss is one bag in twelve, not at all sure.
func BuiltInLoss() Loss {
	return Loss{Bad: lossBad, Good: lossBags - lossBad, Rho: lossRho, By: [2]float64{lossBy0, lossBy1}}
}
