package scanner

import (
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
	fewestModules = 11.0 // between finders; version 1 has 14
	mostModules   = 60.0 // version 12 has 58
)

// seesAs tells whether g may lie along a side of the symbol from f. Along a
// straight line in perspective the true count of modules is the distance over
// the geometric mean of the modules at both ends, so unequal sizes are no fault.
func seesAs(f, g *finder) (mate, bool) {
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
	return m, m.modules > fewestModules && m.modules < mostModules && pb < 0.6*pa && qb < 0.6*qa && change < 1.2
}

// turned is f with its axes turned by quarter turns.
func (f finder) turned(quarters int) finder {
	for range quarters & 3 {
		f.ux, f.uy = f.uy, f.ux.times(-1)
	}
	return f
}

// triples lists the groups of three that could be a symbol, best first.
func triples(all []finder) []triple {
	var found []triple
	for i := range all {
		var mates []mate
		for j := range all {
			if i != j {
				if m, ok := seesAs(&all[i], &all[j]); ok {
					m.index = j
					mates = append(mates, m)
				}
			}
		}
		for _, right := range mates {
			for _, down := range mates {
				if (right.axis+1)&3 == down.axis {
					if t, ok := newTriple(all, i, right, down); ok {
						found = append(found, t)
					}
				}
			}
		}
	}
	slices.SortStableFunc(found, func(a, b triple) int {
		switch {
		case a.cost < b.cost:
			return -1
		case a.cost > b.cost:
			return 1
		}
		return 0
	})
	return found
}

func newTriple(all []finder, corner int, right, down mate) (triple, bool) {
	ratio := math.Abs(math.Log(right.modules / down.modules))
	t := triple{index: [3]int{corner, right.index, down.index}, missing: -1, modules: math.Sqrt(right.modules * down.modules)}
	t.cost = right.cost + down.cost + 4*ratio*ratio
	if ratio > 0.45 {
		return t, false
	}
	f := all[corner].turned(right.axis)
	t.finders[0] = f
	t.finders[1] = all[right.index].aligned(f)
	t.finders[2] = all[down.index].aligned(f)
	// Other finders between two of them speak for a mix of two symbols.
	return t, t.cost < 4
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
