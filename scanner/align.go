package scanner

import "math"

// Alignment shifts a patch's grid so that modules whose colour is known come out
// in that colour, and the others as dark or as light as they can: a step of
// Gauss-Newton on the difference (Lucas and Kanade, 1981, with a picture made of
// modules as the template). The shift is a polynomial, later a mesh.

// aims is what alignment takes as known.
type aims struct {
	known []int8  // by module: 1 dark, −1 light, 0 unknown
	trust float32 // weight of unknown modules, taken for what they look like
	reach float64 // only modules so near to a finder count; 0 for all
}

// alignTerms shifts the grid by a polynomial of so many terms, in a number of
// steps; it stops early when the steps get small.
func (p *patch) alignTerms(a aims, terms, steps int) {
	g := p.grid
	g.terms = max(g.terms, terms)
	var q normal
	var j [2 * maxTerms]float64
	for range steps {
		p.sample()
		p.budget.spend(p.lay.n * p.lay.n * (2*terms*terms + 10))
		q.reset(2 * terms)
		p.eachAim(a, func(at Point, du, dv, miss, weight float64) {
			var b [maxTerms]float64
			powers(g.unit(at), terms, &b)
			for i := range terms {
				j[i], j[terms+i] = du*b[i], dv*b[i]
			}
			q.add(j[:2*terms], miss, weight)
		})
		for i := range terms {
			pull := termPull(i)
			q.ridge(i, -g.shift[0][i]*pull.keep, pull.weight)
			q.ridge(terms+i, -g.shift[1][i]*pull.keep, pull.weight)
		}
		x, ok := q.solve()
		if !ok {
			return
		}
		most := 0.0
		for i := range terms {
			g.shift[0][i] += max(-1, min(1, x[i]))
			g.shift[1][i] += max(-1, min(1, x[terms+i]))
			most = max(most, x[i], -x[i], x[terms+i], -x[terms+i])
		}
		if most < 0.02 {
			return
		}
	}
}

// pull says how strongly a term is drawn towards no shift at all.
type pull struct{ keep, weight float64 }

func termPull(i int) pull {
	switch {
	case i < 3:
		return pull{0, 2}
	case i < 6:
		return pull{1, 1.5}
	case i < 10:
		return pull{1, 4}
	}
	return pull{1, 15}
}

// eachAim calls for every module that has an aim: how the soft value changes
// along row and column, how far it misses, and how much that counts.
func (p *patch) eachAim(a aims, visit func(at Point, du, dv, miss, weight float64)) {
	n := p.lay.n
	for y := range n {
		for x := range n {
			i := y*n + x
			if a.reach > 0 && p.fromFinder(x, y) > a.reach {
				continue
			}
			soft := p.soft[i]
			aim, weight := float32(a.known[i]), float32(1)
			if aim == 0 {
				if a.trust == 0 {
					continue
				}
				aim = 1
				if soft < 0 {
					aim = -1
				}
				weight = a.trust * min(1, soft*aim*2)
			}
			du, dv := p.slope(x, y)
			k := -1 / p.swing[i]
			visit(Point{float64(x) + 0.5, float64(y) + 0.5}, float64(du*k), float64(dv*k), float64(clip(aim-soft, 1.2)), float64(weight))
		}
	}
}

// fromFinder is the distance in modules to the middle of the nearest finder that
// was seen.
func (p *patch) fromFinder(x, y int) float64 {
	best := math.Inf(1)
	far := p.lay.n - 4
	for i, c := range [3][2]int{{3, 3}, {far, 3}, {3, far}} {
		if i != p.missing {
			best = min(best, math.Hypot(float64(x-c[0]), float64(y-c[1])))
		}
	}
	return best
}

// grow aligns outwards from the finders: what lies near them is nearly in place
// from the start, and each ring that fits carries the grid on to the next.
func (p *patch) grow(a aims, side int) {
	all := float64(p.lay.n) * 1.2
	for a.reach = 6; a.reach < all; a.reach += 2 {
		p.alignMesh(a, side, 2)
	}
	a.reach = 0
	p.alignMesh(a, side, 3)
}

// alignMesh adds a mesh of fine shifts, drawn towards its neighbours and zero.
func (p *patch) alignMesh(a aims, side, steps int) {
	g := p.grid
	if g.local == nil || g.local.side != side {
		g.local = g.local.resized(side)
	}
	m := g.local
	var q normal
	for range steps {
		p.sample()
		q.reset(2 * len(m.shifts))
		q.band = 4*side + 1
		p.budget.spend(p.lay.n*p.lay.n*60 + q.n*q.band*q.band/2)
		p.eachAim(a, func(at Point, du, dv, miss, weight float64) {
			knots, share := m.weights(g.unit(at))
			var index [8]int
			var j [8]float64
			for i, k := range knots {
				index[2*i], index[2*i+1] = 2*k, 2*k+1
				j[2*i], j[2*i+1] = du*share[i], dv*share[i]
			}
			q.addSparse(index[:], j[:], miss, weight)
		})
		m.stiffen(&q, 4, 0.3)
		x, ok := q.solve()
		if !ok {
			return
		}
		most := 0.0
		for k := range m.shifts {
			d := Point{max(-0.7, min(0.7, x[2*k])), max(-0.7, min(0.7, x[2*k+1]))}
			m.shifts[k] = m.shifts[k].plus(d)
			most = max(most, d.length())
		}
		if most < 0.03 {
			return
		}
	}
}

// stiffen draws each knot to the middle between its neighbours, so that a bend
// goes on beyond what was seen, and a little to no shift at all.
func (m *mesh) stiffen(q *normal, together, still float64) {
	for k := range m.shifts {
		if x := k % m.side; x > 0 && x < m.side-1 {
			m.tie(q, [3]int{k - 1, k, k + 1}, together)
		}
		if y := k / m.side; y > 0 && y < m.side-1 {
			m.tie(q, [3]int{k - m.side, k, k + m.side}, together)
		}
		q.ridge(2*k, -m.shifts[k].X, still)
		q.ridge(2*k+1, -m.shifts[k].Y, still)
	}
}

// tie asks that a row of three knots bend little.
func (m *mesh) tie(q *normal, row [3]int, weight float64) {
	share := [3]float64{1, -2, 1}
	bend := m.shifts[row[0]].minus(m.shifts[row[1]].times(2)).plus(m.shifts[row[2]])
	for axis, miss := range [2]float64{-bend.X, -bend.Y} {
		for i, a := range row {
			for j, b := range row[:i+1] {
				q.a[(2*a+axis)*q.n+2*b+axis] += weight * share[i] * share[j]
			}
			q.b[2*a+axis] += weight * share[i] * miss
		}
	}
}

// agreement is how well known modules come out, from −1 to 1, over those that
// are not part of a finder: timing rows and the alignment pattern, which only a
// symbol of the right size in the right place has.
func (p *patch) agreement() float64 {
	n := p.lay.n
	sum, count := 0.0, 0.0
	for i, f := range p.lay.fixed {
		x, y := i%n, i/n
		if f == 0 || p.known[i] == 0 || x < 8 && y < 8 || x >= n-8 && y < 8 || x < 8 && y >= n-8 {
			continue
		}
		sum += float64(clip(p.soft[i], 1)) * float64(f)
		count++
	}
	return sum / count
}

// finderAgreement is the same over the three finders with their light borders.
func (p *patch) finderAgreement() float64 {
	n := p.lay.n
	sum, count := 0.0, 0.0
	for i, f := range p.lay.fixed {
		x, y := i%n, i/n
		if f != 0 && p.known[i] != 0 && (x < 8 && y < 8 || x >= n-8 && y < 8 || x < 8 && y >= n-8) {
			sum += float64(clip(p.soft[i], 1)) * float64(f)
			count++
		}
	}
	return sum / count
}
