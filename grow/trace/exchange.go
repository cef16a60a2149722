package trace

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/combin"
)

// normalBags is how many bags a group must have for the normal law of the sum of scores.
const normalBags = 30

// A unit is what is exchanged: a bag, or a whole batch with the sum of its bags' scores.
type unit struct {
	group   int
	stratum int // units are exchanged only inside it
	score   float64
}

// An exchanged is the answer of a test by exchanging.
type exchanged struct {
	p        float64
	smallest float64 // the smallest p that could have come out, 0 where that is no question
	units    int     // how many bags or batches were exchanged
	batches  bool
	alike    bool // all were seen at the same looks
	// oneSpecies: the bags of all groups are of one.
	oneSpecies bool
}

// exchange tests that there is no difference between the groups of bags, by exchanging bags inside batches where any
// batch has more than one value, else batches inside species.
func exchange(bags []Timed, values []string) exchanged {
	spans := make([]Span, len(bags))
	for i, b := range bags {
		spans[i] = b.Span
	}
	scores := Scores(spans, Turnbull(spans))
	groups := make([]int, len(bags))
	for i, b := range bags {
		groups[i] = slices.Index(values, b.Value)
	}
	us := insideBatches(bags, scores, groups)
	inside := len(us) > 0
	if !inside {
		us = wholeBatches(bags, scores, groups)
	}
	e := exchangeUnits(us, len(values), inside)
	e.oneSpecies = !slices.ContainsFunc(bags, func(b Timed) bool { return b.Species != bags[0].Species })
	return e
}

// insideBatches are the bags of batches with more than one value, scores centred in the batch.
func insideBatches(bags []Timed, scores []float64, groups []int) []unit {
	members, _ := byName(bags, func(b Timed) string { return b.Batch })
	var out []unit
	for k, m := range members {
		mixed := false
		sum := 0.0
		for _, i := range m {
			mixed = mixed || groups[i] != groups[m[0]]
			sum += scores[i]
		}
		if !mixed {
			continue
		}
		for _, i := range m {
			out = append(out, unit{groups[i], k, scores[i] - sum/float64(len(m))})
		}
	}
	return out
}

// wholeBatches sum the scores by batch; species are the strata. The scores are centred over each species first, so
// that a big batch does not count as an early one.
func wholeBatches(bags []Timed, scores []float64, groups []int) []unit {
	members, _ := byName(bags, func(b Timed) string { return b.Species })
	centred := slices.Clone(scores)
	stratum := make([]int, len(bags))
	for s, m := range members {
		sum := 0.0
		for _, i := range m {
			sum += scores[i]
		}
		for _, i := range m {
			centred[i] -= sum / float64(len(m))
			stratum[i] = s
		}
	}
	batches, _ := byName(bags, func(b Timed) string { return b.Batch })
	out := make([]unit, len(batches))
	for k, m := range batches {
		out[k] = unit{group: groups[m[0]], stratum: stratum[m[0]]}
		for _, i := range m {
			out[k].score += centred[i]
		}
	}
	return out
}

func byName(bags []Timed, name func(Timed) string) (members [][]int, names []string) {
	at := make(map[string]int)
	for i, b := range bags {
		k, ok := at[name(b)]
		if !ok {
			k = len(members)
			at[name(b)] = k
			members = append(members, nil)
			names = append(names, name(b))
		}
		members[k] = append(members[k], i)
	}
	return members, names
}

// exchangeUnits is exact for two groups with at most 200,000 arrangements, normal for two groups of 30 bags, else from
// 9,999 random arrangements and the observed one.
func exchangeUnits(us []unit, groups int, areBags bool) exchanged {
	e := exchanged{units: len(us), batches: !areBags, alike: !slices.ContainsFunc(us, func(u unit) bool { return math.Abs(u.score) > 1e-9 })}
	slices.SortFunc(us, func(a, b unit) int {
		return cmp.Or(cmp.Compare(a.stratum, b.stratum), cmp.Compare(a.score, b.score), cmp.Compare(a.group, b.group))
	})
	if groups == 2 {
		if ways := arrangements(us); ways <= mostArrangements {
			e.p, e.smallest = exactExchange(us)
			return e
		}
		marks, scores, strata, n := unitColumns(us)
		if areBags && min(n, len(us)-n) >= normalBags {
			e.p = NormalScoreTest(scores, marks, strata).P
			return e
		}
	}
	e.p = randomExchange(us, groups)
	return e
}

func unitColumns(us []unit) (marks []bool, scores []float64, strata []int, marked int) {
	for _, u := range us {
		marks = append(marks, u.group == 1)
		scores = append(scores, u.score)
		strata = append(strata, u.stratum)
		if u.group == 1 {
			marked++
		}
	}
	return marks, scores, strata, marked
}

// runs cuts units, sorted by stratum, into strata.
func runs(us []unit) [][]unit {
	var out [][]unit
	for i := 0; i < len(us); {
		j := i
		for j < len(us) && us[j].stratum == us[i].stratum {
			j++
		}
		out = append(out, us[i:j])
		i = j
	}
	return out
}

func arrangements(us []unit) float64 {
	ways := 1.0
	for _, r := range runs(us) {
		ways *= combin.GeneralizedBinomial(float64(len(r)), float64(marksIn(r)))
	}
	return math.Round(ways)
}

func marksIn(us []unit) (n int) {
	for _, u := range us {
		if u.group == 1 {
			n++
		}
	}
	return n
}

// exactExchange lists every arrangement's distance from its expectation.
func exactExchange(us []unit) (p, smallest float64) {
	observed := 0.0
	sums := []float64{0}
	for _, r := range runs(us) {
		total, scores := 0.0, make([]float64, len(r))
		for i, u := range r {
			scores[i] = u.score
			total += u.score
		}
		k := marksIn(r)
		expected := total * float64(k) / float64(len(r))
		for _, u := range r {
			if u.group == 1 {
				observed += u.score
			}
		}
		observed -= expected
		var next []float64
		for _, way := range sumsOf(scores, k) {
			for _, s := range sums {
				next = append(next, s+way-expected)
			}
		}
		sums = next
	}
	most := 0.0
	for _, s := range sums {
		most = math.Max(most, math.Abs(s))
	}
	extreme, farthest := 0, 0
	for _, s := range sums {
		if math.Abs(s) >= math.Abs(observed)-1e-9 {
			extreme++
		}
		if math.Abs(s) >= most-1e-9 {
			farthest++
		}
	}
	n := float64(len(sums))
	return float64(extreme) / n, float64(farthest) / n
}

// sumsOf are the sums of every choice of k scores.
func sumsOf(scores []float64, k int) []float64 {
	s := permutationStratum{marks: k}
	for _, x := range scores {
		s.batches = append(s.batches, Counts{Bad: x})
	}
	var out []float64
	for _, c := range s.ways() {
		out = append(out, c.Bad)
	}
	return out
}
