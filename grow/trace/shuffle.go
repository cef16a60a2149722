package trace

import (
	"hash/fnv"
	"math/rand/v2"
	"slices"
)

// randomExchange shuffles groups inside strata; the statistic is Σ T²/n over groups.
func randomExchange(us []unit, groups int) float64 {
	h := fnv.New64a()
	for _, u := range us {
		var buf [8]byte
		putFloat(buf[:], u.score+float64(u.group))
		h.Write(buf[:])
	}
	rnd := rand.New(rand.NewPCG(h.Sum64(), 0x9e3779b97f4a7c15))
	us = slices.Clone(us)
	rs := runs(us)
	sizes := make([]float64, groups)
	for _, u := range us {
		sizes[u.group]++
	}
	expected := make([]float64, groups)
	for _, r := range rs {
		m := 0.0
		for _, u := range r {
			m += u.score / float64(len(r))
		}
		for _, u := range r {
			expected[u.group] += m
		}
	}
	observed := spreadOf(us, expected, sizes)
	extreme := 1
	for range sampled {
		for _, r := range rs {
			rnd.Shuffle(len(r), func(i, j int) { r[i].group, r[j].group = r[j].group, r[i].group })
		}
		if spreadOf(us, expected, sizes) >= observed-1e-9 {
			extreme++
		}
	}
	return float64(extreme) / (sampled + 1)
}

func spreadOf(us []unit, expected, sizes []float64) float64 {
	t := make([]float64, len(sizes))
	for _, u := range us {
		t[u.group] += u.score
	}
	sum := 0.0
	for g := range t {
		if sizes[g] > 0 {
			d := t[g] - expected[g]
			sum += d * d / sizes[g]
		}
	}
	return sum
}
