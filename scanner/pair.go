package scanner

import (
	"math"
	"slices"
)

// When one finder is torn off, shone over or smeared, two of them and the timing
// rows still settle a symbol. A pair becomes a triple with a made-up third
// finder, whose place says little and whose modules are not taken as known.

// pairTriples lists the triples that two finders may belong to, the best first,
// each with the index of the finder that is made up.
func pairTriples(all []finder, used []bool) []triple {
	var list []triple
	for i := range all {
		if used[i] {
			continue
		}
		for _, some := range mates(all, i, mostModules) {
			for _, m := range some {
				if !used[m.index] && m.cost < 2 {
					list = append(list, sidePair(all, i, m)...)
				}
			}
		}
		for j := i + 1; j < len(all); j++ {
			if !used[j] {
				list = append(list, diagonalPair(all, i, j)...)
			}
		}
	}
	return bestFirst(list)
}

// sidePair takes a pair along a side with the symbol to the right hand of who
// goes from the first to the second: top left and top right, or bottom left and
// top left.
func sidePair(all []finder, i int, m mate) []triple {
	a := all[i].turned(m.axis)
	b := all[m.index].aligned(a)
	inward := a.uy.plus(b.uy).times(0.5)
	third := func(from, along finder) finder {
		return finder{at: from.at.plus(inward.times(m.modules)), ux: along.ux, uy: along.uy}
	}
	top := triple{finders: [3]finder{a, b, third(a, a)}, index: [3]int{i, m.index, -1}, modules: m.modules, cost: m.cost, missing: 2}
	// Seen upright, the side runs from bottom left up to top left.
	q := func(f finder) finder { return f.turned(1) }
	left := triple{finders: [3]finder{q(b), q(third(b, b)), q(a)}, index: [3]int{m.index, -1, i}, modules: m.modules, cost: m.cost, missing: 1}
	return []triple{top, left}
}

// diagonalPair takes a pair as top right and bottom left, both ways round.
func diagonalPair(all []finder, i, j int) (list []triple) {
	for _, pair := range [2][2]int{{i, j}, {j, i}} {
		a, b := all[pair[0]], all[pair[1]]
		quarters := 0
		for ; quarters < 4; quarters++ {
			if p := a.local(b.at); p.X < 0 && p.Y > 0 {
				break
			}
			a = a.turned(1)
		}
		b = b.aligned(a)
		p, q := a.local(b.at), b.local(a.at)
		if quarters == 4 || q.X < 0 || q.Y > 0 {
			continue
		}
		skew := math.Abs(math.Log(-p.X/p.Y)) + math.Abs(math.Log(-q.X/q.Y))
		across, down := math.Sqrt(-p.X*q.X), math.Sqrt(-p.Y*q.Y)
		k := math.Sqrt(across * down)
		change := math.Abs(math.Log(p.X * p.Y / (q.X * q.Y)))
		if skew > 1.0 || change > 1.6 || k < fewestModules || k > mostModules {
			continue
		}
		one, two := a.at.minus(a.ux.times(k)), b.at.minus(b.uy.times(k))
		corner := finder{at: one.plus(two).times(0.5), ux: a.ux.plus(b.ux).times(0.5), uy: a.uy.plus(b.uy).times(0.5)}
		list = append(list, triple{finders: [3]finder{corner, a, b}, index: [3]int{-1, pair[0], pair[1]}, modules: k, cost: skew*skew + change*change*0.4 + 0.3, missing: 0})
	}
	return list
}

// knownModules is what a triple's layout fixes, without a finder that is made up.
func (t *triple) knownModules(l *layout) []int8 {
	if t.missing < 0 {
		return l.fixed
	}
	known := slices.Clone(l.fixed)
	x0, y0 := 0, 0
	switch t.missing {
	case 1:
		x0 = l.n - 8
	case 2:
		y0 = l.n - 8
	}
	for y := y0; y < y0+8; y++ {
		for x := x0; x < x0+8; x++ {
			known[y*l.n+x] = 0
		}
	}
	return known
}

// timing is how well dark and light alternate along the timing row between two
// finders that were both seen, −1 to 1, through a first grid. It costs little and
// turns away most pairs that belong to no symbol.
func (s *search) timing(t *triple, g *grid, n int) float64 {
	pic, scale := s.level(t.smallest())
	s.budget.spend(timingWork)
	best := -1.0
	for _, side := range [3][3]int{{0, 1, 0}, {0, 2, 1}} {
		if t.missing == side[0] || t.missing == side[1] {
			continue
		}
		best = max(best, timingOf(pic, scale, g, n, side[2] == 1))
	}
	return best
}

func timingOf(pic gray, scale float64, g *grid, n int, down bool) float64 {
	best := -1.0
	for _, aside := range []float64{-0.5, 0, 0.5} {
		var values []float64
		sum := 0.0
		for i := 8; i < n-8; i++ {
			p := Point{float64(i) + 0.5, 6.5 + aside}
			if down {
				p = Point{p.Y, p.X}
			}
			q := g.at(p)
			v := pic.bilinear(q.X*scale, q.Y*scale)
			values = append(values, v)
			sum += v
		}
		mean := sum / float64(len(values))
		dot, square := 0.0, 1e-9
		for i, v := range values {
			d := mean - v
			square += d * d
			if i%2 == 1 {
				d = -d
			}
			dot += d
		}
		best = max(best, dot/math.Sqrt(square*float64(len(values))))
	}
	return best
}
