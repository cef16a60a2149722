package forecast

import "math"

// History is what a farm's finished batches of one species say: one list of spans for each batch. A batch under
// way belongs in Observe, not here, when its own bags are forecast.
type History [][]Span

// LeastFinished is how many finished bags make a batch history.
const LeastFinished = 3

const (
	leastSpread = 0.02 // bounds of a fitted spread: all bags in one interval would make it 0
	mostSpread  = 1.0
)

// Learn sharpens a law from a published range by the farm's own batches. A batch counts once at least three of
// its bags are finished and some bag of it was seen unfinished; Basis says how many did.
//
// The spread between bags is the pooled fit of all batches, shrunk towards the default as if that came from 20
// bags; the spread between batches is Paule and Mandel's, shrunk as if the default came from 4 batches; the mean
// is the precision-weighted mean of range and batches (Morris 1983, J Am Stat Assoc 78:47-55; Paule and Mandel
// 1982, J Res Natl Bur Stand 87:377-385). The two weights are common practice without a source.
func (l Law) Learn(h History) Law {
	used := h.usable()
	if len(used) == 0 {
		return l
	}
	out := l
	out.Within = used.within(l.Within)
	var means, variances []float64
	for _, spans := range used {
		if f, ok := FitMean(spans, out.Within); ok {
			means = append(means, f.Mean)
			variances = append(variances, f.Variance)
		}
	}
	k := float64(len(means))
	if k == 0 {
		return l
	}
	between := shrinkVariance(l.Between, defaultBetweenWeight, PauleMandel(means, variances), k-1)
	out.Between = math.Sqrt(between)
	out.Mean, out.SD = shrinkMean(l.Mean, l.SD, means, variances, between)
	out.Basis = Basis{Source: OwnBatches, Batches: len(means)}
	return out
}

// usable leaves the batches that bear a fit.
func (h History) usable() History {
	var out History
	for _, spans := range h {
		n := 0
		for _, s := range spans {
			if s.legal().Finished() {
				n++
			}
		}
		if n >= LeastFinished && bounded(collapse(spans)) {
			out = append(out, spans)
		}
	}
	return out
}

// within pools the fitted spread between bags and shrinks it towards the default.
func (h History) within(prior float64) float64 {
	var sum, freedom float64
	for _, spans := range h {
		_, sd, _, ok := FitBoth(spans, leastSpread, mostSpread)
		if !ok {
			continue
		}
		n := 0.0
		for _, s := range spans {
			if s.legal().Finished() {
				n++
			}
		}
		sum += n * sd * sd
		freedom += n - 1
	}
	if freedom == 0 {
		return prior
	}
	return math.Sqrt(shrinkVariance(prior, defaultWithinWeight, sum/freedom, freedom))
}

// shrinkVariance weighs a variance with the square of a default standard deviation by degrees of freedom.
func shrinkVariance(prior, priorWeight, variance, weight float64) float64 {
	return (priorWeight*prior*prior + weight*variance) / (priorWeight + weight)
}

// shrinkMean is the normal posterior of the farm's mean: prior N(m0, sd0²), each batch mean y with variance
// v + between.
func shrinkMean(m0, sd0 float64, y, v []float64, between float64) (mean, sd float64) {
	precision := 1 / (sd0 * sd0)
	sum := m0 * precision
	for i := range y {
		w := 1 / (v[i] + between)
		precision += w
		sum += w * y[i]
	}
	return sum / precision, 1 / math.Sqrt(precision)
}

// PauleMandel is the variance between batches: the root t of Σ (y - ȳ)²/(v + t) = K - 1, or 0 where the batches
// differ no more than their own errors say (Paule and Mandel 1982).
func PauleMandel(y, v []float64) float64 {
	excess := func(t float64) float64 {
		var sw, sy float64
		for i := range y {
			sw += 1 / (v[i] + t)
			sy += y[i] / (v[i] + t)
		}
		q := 0.0
		for i := range y {
			d := y[i] - sy/sw
			q += d * d / (v[i] + t)
		}
		return q - float64(len(y)-1)
	}
	if len(y) < 2 || excess(0) <= 0 {
		return 0
	}
	return bisect(0, 100, func(t float64) bool { return excess(t) <= 0 })
}
