package scanner

import (
	"cmp"
	"math"
	"slices"
)

// triple is three finders that may belong to one symbol, in the order top left,
// top right, bottom left, with their axes turned along the symbol's.
type triple struct {
	finders [3]finder
	index   [3]int  // in the list they came from
	modules float64 // between the middles of two of them, by their sizes
	cost    float64 // how badly they fit together
	missing int     // the one that was not seen but made up, −1 for none
}

// mate is how one finder sees another along a side of a symbol.
type mate struct {
	index   int
	axis    int     // quarter turns from f's ux to the direction of the other
	modules float64 // between their middles
	cost    float64
}

const (
	fewestModules = 11.0  // between finders; version 1 has 14
	mostModules   = 60.0  // of what may be ours, with room for finders badly measured
	manyModules   = 175.0 // version 40 has 170
)

// seesAs tells whether g may lie along a side of the symbol from f. Along a
// straight line in perspective the true count of modules is the distance over
// the geometric mean of the modules at both ends, so unequal sizes are no fault.
func seesAs(f, g *finder, most float64) (mate, bool) {
	p, q := f.local(g.at), g.local(f.at)
	pa, pb := max(math.Abs(p.X), math.Abs(p.Y)), min(math.Abs(p.X), math.Abs(p.Y))
	qa, qb := max(math.Abs(q.X), math.Abs(q.Y)), min(math.Abs(q.X), math.Abs(q.Y))
	m := mate{modules: math.Sqrt(pa * qa)}
	slant := math.Hypot(pb/pa, qb/qa)
	change := math.Abs(math.Log(pa / qa))
	m.cost = slant*slant*6 + change*change*1.5
	switch {
	case math.Abs(p.Y) > math.Abs(p.X):
		m.axis = 1
		if p.Y < 0 {
			m.axis = 3
		}
	case p.X < 0:
		m.axis = 2
	}
	return m, m.modules > fewestModules && m.modules < most && pb < 0.6*pa && qb < 0.6*qa && change < 1.2
}

// turned is f with its axes turned by quarter turns.
func (f finder) turned(quarters int) finder {
	for range quarters & 3 {
		f.ux, f.uy = f.uy, f.ux.times(-1)
	}
	return f
}

// mostMates is how many mates of a finder are looked at in each direction. The
// true one is among the best few even on a shelf full of labels.
const mostMates = 8

// mates lists whom finder i may have along its four axes, the best first.
func mates(all []finder, i int, most float64) (along [4][]mate) {
	for j := range all {
		if i == j {
			continue
		}
		if m, ok := seesAs(&all[i], &all[j], most); ok {
			m.index = j
			along[m.axis] = append(along[m.axis], m)
		}
	}
	for axis, list := range along {
		slices.SortStableFunc(list, func(a, b mate) int { return cmp.Compare(a.cost, b.cost) })
		along[axis] = list[:min(len(list), mostMates)]
	}
	return along
}

// triples lists the groups of three that could be a symbol of up to so many modules
// between finders, best first.
func triples(all []finder, most float64) []triple {
	var found []triple
	for i := range all {
		along := mates(all, i, most)
		for axis := range along {
			for _, right := range along[axis] {
				for _, down := range along[(axis+1)&3] {
					if t, ok := newTriple(all, i, right, down); ok {
						found = append(found, t)
					}
				}
			}
		}
	}
	return bestFirst(found)
}

// mostTriples is more than any budget can pay for.
const mostTriples = 20_000

// bestFirst sorts triples by cost. They are large, so places are sorted.
func bestFirst(list []triple) []triple {
	order := make([]int, len(list))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(list[a].cost, list[b].cost) })
	sorted := make([]triple, min(len(list), mostTriples))
	for i := range sorted {
		sorted[i] = list[order[i]]
	}
	return sorted
}

func newTriple(all []finder, corner int, right, down mate) (triple, bool) {
	ratio := math.Abs(math.Log(right.modules / down.modules))
	cost := right.cost + down.cost + 4*ratio*ratio
	if ratio > 0.45 || cost >= 4 {
		return triple{}, false
	}
	t := triple{index: [3]int{corner, right.index, down.index}, missing: -1, modules: math.Sqrt(right.modules * down.modules), cost: cost}
	f := all[corner].turned(right.axis)
	t.finders[0] = f
	t.finders[1] = all[right.index].aligned(f)
	t.finders[2] = all[down.index].aligned(f)
	return t, true
}

// aligned is g turned so that its axes point as f's do.
func (g finder) aligned(f finder) finder {
	best, most := 0, math.Inf(-1)
	for q := range 4 {
		h := g.turned(q)
		if v := h.ux.dot(f.ux)/h.ux.length() + h.uy.dot(f.uy)/h.uy.length(); v > most {
			best, most = q, v
		}
	}
	return g.turned(best)
}

// versions lists the sizes a triple may have, the likeliest first.
func (t *triple) versions() []int {
	exact := (t.modules + 7 - 17) / 4
	first := int(math.Round(exact))
	second := first + 1
	if exact < float64(first) {
		second = first - 1
	}
	var list []int
	for _, v := range []int{first, second} {
		if v >= minVersion {
			list = append(list, v)
		}
	}
	return list
}
