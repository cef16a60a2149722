package trace

import (
	"cmp"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/combin"
)

const (
	mostArrangements = 200_000 // more than this are sampled
	sampled          = 9_999
	tieSlack         = 1e-12
)

// A Batch is one whole batch for Permute.
type Batch struct {
	Counts
	Exposed bool
	Stratum string // batches are exchanged only inside a stratum: the species
}

// A Permutation is the answer of Permute.
type Permutation struct {
	Difference   float64
	P            float64 // two-sided
	Upper, Lower float64 // one-sided
	Smallest     float64 // the smallest two-sided p that could have come out
	Arrangements float64 // how many ways there are
	Sampled      bool    // P is from random arrangements, with an error of about .004 near .05
}

// Permute tests a condition that whole batches had: the difference of pooled rates is compared with what it would be
// had the same number of batches been marked otherwise (Gail et al. 1996, Stat Med 15:1069-1092). Bags of one batch
// share their fate, so bags are never exchanged. Up to 200,000 arrangements are all tried; of more, 9,999 random ones
// drawn with a seed fixed by the data, and the observed one.
//
// A condition with two values is one question: the smaller side is the one that is marked at random, so that both ways
// of asking get the same p.
func Permute(batches []Batch) Permutation {
	if !smallerExposed(batches) {
		out := permute(others(batches))
		out.Difference, out.Upper, out.Lower = -out.Difference, out.Lower, out.Upper
		return out
	}
	return permute(batches)
}

// smallerExposed tells whether the exposed side has fewer batches, or as many and fewer bags, or as many with fewer bad.
func smallerExposed(batches []Batch) bool {
	exposed, all := marked(batches)
	n := 0
	for _, b := range batches {
		n += order(!b.Exposed)
	}
	return cmp.Or(cmp.Compare(2*n, len(batches)), cmp.Compare(2*exposed.Bags, all.Bags), cmp.Compare(2*exposed.Bad, all.Bad)) <= 0
}

// others mark the batches that were not, and no others.
func others(batches []Batch) []Batch {
	out := slices.Clone(batches)
	for i := range out {
		out[i].Exposed = !out[i].Exposed
	}
	return out
}

func permute(batches []Batch) Permutation {
	batches = inOrder(batches)
	strata := permutationStrata(batches)
	observed, all := marked(batches)
	out := Permutation{Difference: contrast(observed, all), Arrangements: 1, Smallest: 1}
	for _, s := range strata {
		out.Arrangements *= combin.GeneralizedBinomial(float64(len(s.batches)), float64(s.marks))
	}
	if math.IsNaN(out.Difference) {
		out.P, out.Upper, out.Lower = 1, 1, 1
		return out
	}
	var sums []Counts
	if out.Arrangements <= mostArrangements {
		sums = enumerate(strata)
		out.Arrangements = float64(len(sums))
	} else {
		sums = append(draw(strata, seed(batches)), observed)
		out.Sampled = true
	}
	out.score(sums, all)
	return out
}

// inOrder sorts batches, so that their order on a page changes nothing, random arrangements included.
func inOrder(batches []Batch) []Batch {
	out := slices.Clone(batches)
	slices.SortFunc(out, func(a, b Batch) int {
		return cmp.Or(cmp.Compare(a.Stratum, b.Stratum), cmp.Compare(a.Bags, b.Bags), cmp.Compare(a.Bad, b.Bad), cmp.Compare(order(a.Exposed), order(b.Exposed)))
	})
	return out
}

// score fills in the shares of arrangements.
func (out *Permutation) score(sums []Counts, all Counts) {
	most, atMost, two, up, down := 0.0, 0, 0, 0, 0
	for _, s := range sums {
		d := contrast(s, all)
		if math.Abs(d) >= math.Abs(out.Difference)-tieSlack {
			two++
		}
		if d >= out.Difference-tieSlack {
			up++
		}
		if d <= out.Difference+tieSlack {
			down++
		}
		switch a := math.Abs(d); {
		case a > most+tieSlack:
			most, atMost = a, 1
		case a >= most-tieSlack:
			atMost++
		}
	}
	n := float64(len(sums))
	out.P, out.Upper, out.Lower = float64(two)/n, float64(up)/n, float64(down)/n
	out.Smallest = float64(atMost) / n
}

// contrast is the rate of the marked batches less that of the others.
func contrast(marked, all Counts) float64 {
	return marked.Bad/marked.Bags - (all.Bad-marked.Bad)/(all.Bags-marked.Bags)
}

func marked(batches []Batch) (exposed, all Counts) {
	for _, b := range batches {
		all = all.plus(b.Counts)
		if b.Exposed {
			exposed = exposed.plus(b.Counts)
		}
	}
	return exposed, all
}

type permutationStratum struct {
	batches []Counts
	marks   int
}

func permutationStrata(batches []Batch) []permutationStratum {
	var out []permutationStratum
	at := make(map[string]int)
	for _, b := range batches {
		k, ok := at[b.Stratum]
		if !ok {
			k = len(out)
			at[b.Stratum] = k
			out = append(out, permutationStratum{})
		}
		out[k].batches = append(out[k].batches, b.Counts)
		if b.Exposed {
			out[k].marks++
		}
	}
	return out
}

// enumerate lists the marked sums of every arrangement.
func enumerate(strata []permutationStratum) []Counts {
	sums := []Counts{{}}
	for _, s := range strata {
		ways := s.ways()
		next := make([]Counts, 0, len(sums)*len(ways))
		for _, a := range sums {
			for _, b := range ways {
				next = append(next, a.plus(b))
			}
		}
		sums = next
	}
	return sums
}

func (s permutationStratum) ways() []Counts {
	if s.marks == 0 || s.marks == len(s.batches) {
		sum := Counts{}
		for _, c := range s.batches[:s.marks] {
			sum = sum.plus(c)
		}
		return []Counts{sum}
	}
	var out []Counts
	g := combin.NewCombinationGenerator(len(s.batches), s.marks)
	pick := make([]int, s.marks)
	for g.Next() {
		sum := Counts{}
		for _, i := range g.Combination(pick) {
			sum = sum.plus(s.batches[i])
		}
		out = append(out, sum)
	}
	return out
}

// draw makes random arrangements by partial shuffles, picking whichever kind of batch there is less of.
func draw(strata []permutationStratum, seed uint64) []Counts {
	rnd := rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15))
	out := make([]Counts, sampled)
	for _, s := range strata {
		n := len(s.batches)
		picks := min(s.marks, n-s.marks)
		var all Counts
		for _, c := range s.batches {
			all = all.plus(c)
		}
		for k := range out {
			var sum Counts
			for i := range picks {
				j := i + rnd.IntN(n-i)
				s.batches[i], s.batches[j] = s.batches[j], s.batches[i]
				sum = sum.plus(s.batches[i])
			}
			if picks < s.marks {
				sum = Counts{all.Bad - sum.Bad, all.Bags - sum.Bags}
			}
			out[k] = out[k].plus(sum)
		}
	}
	return out
}

// seed is fixed by the data, so that a page read twice shows the same p.
func seed(batches []Batch) uint64 {
	h := fnv.New64a()
	for _, b := range batches {
		var buf [16]byte
		putFloat(buf[:8], b.Bad)
		putFloat(buf[8:], b.Bags)
		h.Write(buf[:])
		h.Write([]byte(b.Stratum))
		if b.Exposed {
			h.Write([]byte{1})
		}
	}
	return h.Sum64()
}

func putFloat(to []byte, x float64) {
	u := math.Float64bits(x)
	for i := range 8 {
		to[i] = byte(u >> (8 * i))
	}
}
