package plan

import "math"

// LeastBatches is how many done batches a crop is learnt from; with fewer the
// built-in figures stand.
const LeastBatches = 4

// A PastBag is a bag of which nothing more comes.
type PastBag struct {
	Flushes []float64 // grams of each
	Ended   Stage     // where it was when it was lost, of a bag that gave nothing
}

// A PastBatch are the bags made in one batch that is done.
type PastBatch []PastBag

func (b PastBag) grams() (sum float64) {
	for _, g := range b.Flushes {
		sum += g
	}
	return sum
}

// Learn sharpens what a Kind says of grams, flushes and losses by the farm's own
// batches, built-in figures counting beside them; false where they are fewer
// than LeastBatches, or gave nothing.
func (k Kind) Learn(past []PastBatch) (Kind, bool) {
	if len(past) < LeastBatches {
		return k, false
	}
	given := make([][]float64, len(past))
	for i, b := range past {
		for _, g := range b {
			if grams := g.grams(); grams > 0 {
				given[i] = append(given[i], grams)
			}
		}
	}
	crop, ok := k.Crop.learn(given)
	if !ok {
		return k, false
	}
	k.Crop, k.Flushes, k.Loss = crop, flushesOf(past), k.Loss.learn(past)
	return k, true
}

// learn weighs the built-in mean and the batches' means by their precision.
// The spread between bags is shrunk as if the built-in one came from 20 bags,
// that between batches as if from 4 batches (common practice).
func (c Crop) learn(batches [][]float64) (Crop, bool) {
	s := spreadOf(batches)
	if s.batches < LeastBatches {
		return c, false
	}
	// Built-in spreads are shares of the mean, so that a farm of small bags is not
	// held to the spread of large ones.
	within, between := cropWithin*s.mean, cropBetween*s.mean
	free := s.batches - 1
	out := Crop{
		Within:  math.Sqrt((20*within*within + s.withinFree*s.within) / (20 + s.withinFree)),
		Between: math.Sqrt((4*between*between + free*s.between) / (4 + free)),
	}
	out.Mean, out.SD = weighed(c.Mean, c.SD, out.Between, out.Within, batches)
	return out, out.Mean > 0
}

// spread is a one-way analysis of variance with unequal batches (Searle,
// Casella and McCulloch 1992, Variance Components, ch. 3; from memory).
type spread struct {
	batches, mean               float64
	within, withinFree, between float64 // variances, and the freedom of the first
}

func spreadOf(batches [][]float64) (s spread) {
	var n, sum, squares, inside, across float64
	for _, b := range batches {
		m := float64(len(b))
		if m == 0 {
			continue
		}
		s.batches++
		n, squares = n+m, squares+m*m
		mean := meanOf(b)
		sum += m * mean
		for _, v := range b {
			inside += (v - mean) * (v - mean)
		}
	}
	if s.batches < 2 {
		return s
	}
	s.mean = sum / n
	for _, b := range batches {
		if m := float64(len(b)); m > 0 {
			across += m * (meanOf(b) - s.mean) * (meanOf(b) - s.mean)
		}
	}
	if s.withinFree = n - s.batches; s.withinFree > 0 {
		s.within = inside / s.withinFree
	}
	s.between = math.Max(0, (across/(s.batches-1)-s.within)*(s.batches-1)/(n-squares/n))
	return s
}

func meanOf(v []float64) (mean float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	return mean
}

// flushesOf are the flushes of bags that gave: how many of those with one gave
// the next, and what each was of the mean crop.
func flushesOf(past []PastBatch) []Flush {
	var bags, grams []float64
	sum, givers := 0.0, 0.0
	for _, b := range past {
		for _, g := range b {
			if total := g.grams(); total > 0 {
				sum, givers = sum+total, givers+1
			}
			last := 0
			for k, v := range g.Flushes {
				if v > 0 {
					last = k + 1
				}
			}
			for k := range last {
				if k == len(bags) {
					bags, grams = append(bags, 0), append(grams, 0)
				}
				bags[k]++
				grams[k] += g.Flushes[k]
			}
		}
	}
	out := make([]Flush, len(bags))
	before := givers
	for k := range out {
		out[k] = Flush{Chance: bags[k] / before, Share: grams[k] / bags[k] / (sum / givers)}
		before = bags[k]
	}
	return out
}

// learn adds the farm's batches to the built-in loss. Bags of a batch share their
// fate, so they count as fewer: n / (1 + (m-1)·rho), m bags a batch.
func (l Loss) learn(past []PastBatch) Loss {
	lost := make([][]float64, len(past))
	stage := [3]float64{lossSeen * lossBy0, lossSeen * (lossBy1 - lossBy0), lossSeen * (1 - lossBy1)}
	var bad, n, squares float64
	for i, b := range past {
		for _, g := range b {
			v := 0.0
			if g.grams() <= 0 {
				v = 1
				stage[g.Ended]++
			}
			lost[i] = append(lost[i], v)
			bad, n = bad+v, n+1
		}
		squares += float64(len(b) * len(b))
	}
	s := spreadOf(lost)
	rho := 0.0
	if s.between+s.within > 0 {
		rho = s.between / (s.between + s.within)
	}
	free := float64(len(past) - 1)
	l.Rho = (4*lossRho + free*rho) / (4 + free)
	effect := 1 + (squares/n-1)*l.Rho
	l.Bad += bad / effect
	l.Good += (n - bad) / effect
	all := stage[0] + stage[1] + stage[2]
	l.By = [2]float64{stage[0] / all, (stage[0] + stage[1]) / all}
	return l
}
