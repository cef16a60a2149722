package scanner

import "math"

// grid lays a symbol's modules over a picture: a projection, as if the label were
// flat, after a smooth shift within the label that stands for bends and creases.
// Modules are counted from the symbol's top left corner.
type grid struct {
	n     float64 // modules a side
	flat  projection
	terms int // of the shift's polynomial: 0, 3, 6, 10 or 15
	shift [2][maxTerms]float64
	local *mesh // finer shifts, nil for none
}

const maxTerms = 15

// powers fills the terms of a polynomial in the place p, from -1 to 1 a side, in
// order of degree.
func powers(p Point, terms int, b *[maxTerms]float64) {
	x, y := p.X, p.Y
	b[0], b[1], b[2] = 1, x, y
	if terms > 3 {
		b[3], b[4], b[5] = x*x, x*y, y*y
	}
	if terms > 6 {
		b[6], b[7], b[8], b[9] = x*x*x, x*x*y, x*y*y, y*y*y
	}
	if terms > 10 {
		b[10], b[11], b[12], b[13], b[14] = x*x*x*x, x*x*x*y, x*x*y*y, x*y*y*y, y*y*y*y
	}
}

// unit brings module coordinates to -1 … 1.
func (g *grid) unit(p Point) Point {
	return Point{2*p.X/g.n - 1, 2*p.Y/g.n - 1}
}

// shifted is where a module's place would lie on a flat label.
func (g *grid) shifted(p Point) Point {
	q := p
	if g.terms > 0 {
		var b [maxTerms]float64
		powers(g.unit(p), g.terms, &b)
		for i := range g.terms {
			q.X += b[i] * g.shift[0][i]
			q.Y += b[i] * g.shift[1][i]
		}
	}
	if g.local != nil {
		q = q.plus(g.local.at(g.unit(p)))
	}
	return q
}

// at is where a place on the label shows in the picture.
func (g *grid) at(p Point) Point { return g.flat.at(g.shifted(p)) }

func (g *grid) corners() quad {
	return quad{g.at(Point{0, 0}), g.at(Point{g.n, 0}), g.at(Point{g.n, g.n}), g.at(Point{0, g.n})}
}

// pin is a place on the label and where it was seen in the picture.
type pin struct {
	label, picture Point
	weight         float64
}

// pins are the middles of a triple's finders and the corners of their squares.
func (t *triple) pins(n float64) []pin {
	var list []pin
	for i, c := range [3]Point{{3.5, 3.5}, {n - 3.5, 3.5}, {3.5, n - 3.5}} {
		f := t.finders[i]
		weight := 1.0
		if i == t.missing {
			weight = 0.02
		}
		list = append(list, pin{c, f.at, 4 * weight})
		for _, d := range [4]Point{{-3, -3}, {3, -3}, {3, 3}, {-3, 3}} {
			list = append(list, pin{c.plus(d), f.at.plus(f.ux.times(d.X)).plus(f.uy.times(d.Y)), weight})
		}
	}
	return list
}

// newGrids starts from three finders: a projection through their middles and the
// squares' corners, then a shift for what that leaves. Where the squares do not
// fit a flat label at all, a second grid takes the label for a sheet bent along
// its sides, seen from afar: there the fourth corner makes a parallelogram with
// the other three. A third one trusts the finders' middles alone: a shaken camera
// spoils their shapes.
func newGrids(t *triple, n float64) (list []*grid) {
	pins := t.pins(n)
	flat, ok := fitProjection(pins, n)
	if ok {
		g := &grid{n: n, flat: flat}
		if g.corners().sane(1<<20, 1<<20) {
			g.bendTo(pins)
			list = append(list, g)
		}
	}
	if ok && misfit(flat, pins) < flatMisfit {
		return list
	}
	plain, bent := &grid{n: n, flat: parallelogram(pins, n)}, &grid{n: n, flat: parallelogram(pins, n)}
	bent.bendTo(pins)
	return append(list, bent, plain)
}

// flatMisfit is how well finders on a flat label fit a projection, in modules.
const flatMisfit = 0.25

// misfit is how far pins lie from where a projection has them, in modules, root
// mean square by weight.
func misfit(flat projection, pins []pin) float64 {
	back, ok := flat.inverse()
	if !ok {
		return math.Inf(1)
	}
	sum, weight := 0.0, 0.0
	for _, p := range pins {
		d := back.at(p.picture).distance(p.label)
		sum += p.weight * d * d
		weight += p.weight
	}
	return math.Sqrt(sum / weight)
}

// parallelogram is the affine map through the middles of three finders.
func parallelogram(pins []pin, n float64) projection {
	a, b, c := pins[0].picture, pins[len(pins)/3].picture, pins[2*len(pins)/3].picture
	ex, ey := b.minus(a).times(1/(n-7)), c.minus(a).times(1/(n-7))
	o := a.minus(ex.times(3.5)).minus(ey.times(3.5))
	return projection{ex.X, ey.X, o.X, ex.Y, ey.Y, o.Y, 0, 0, 1}
}

// bendTo shifts the label by a polynomial of third degree so that it meets the
// pins better than a flat one does. Places and sizes of modules at both ends of a
// side settle a cubic along it, which is what a cylinder seen from the side needs.
func (g *grid) bendTo(pins []pin) {
	const terms = 10
	back, ok := g.flat.inverse()
	if !ok {
		return
	}
	var q [2]normal
	q[0].reset(terms)
	q[1].reset(terms)
	for _, p := range pins {
		var b [maxTerms]float64
		powers(g.unit(p.label), terms, &b)
		d := back.at(p.picture).minus(p.label)
		q[0].add(b[:terms], d.X, p.weight)
		q[1].add(b[:terms], d.Y, p.weight)
	}
	for axis := range q {
		for i := range terms {
			q[axis].ridge(i, 0, 0.2)
		}
		if x, ok := q[axis].solve(); ok {
			copy(g.shift[axis][:], x)
		}
	}
	g.terms = terms
}

// meshTo adds a mesh for what is left between the grid and the pins.
func (g *grid) meshTo(pins []pin, side int) {
	back, ok := g.flat.inverse()
	if !ok {
		return
	}
	m := (*mesh)(nil).resized(side)
	var q normal
	q.reset(2 * len(m.shifts))
	q.band = 4*side + 1
	for _, p := range pins {
		d := back.at(p.picture).minus(g.shifted(p.label))
		knots, share := m.weights(g.unit(p.label))
		var x, y [4]int
		for i, k := range knots {
			x[i], y[i] = 2*k, 2*k+1
		}
		q.addSparse(x[:], share[:], d.X, p.weight)
		q.addSparse(y[:], share[:], d.Y, p.weight)
	}
	m.stiffen(&q, 0.3, 0.02)
	if x, ok := q.solve(); ok {
		for k := range m.shifts {
			m.shifts[k] = Point{x[2*k], x[2*k+1]}
		}
		g.local = m
	}
}

// fitProjection fits a projection to pins by Gauss-Newton on the distances in
// the picture, from the affine map through the three middles.
func fitProjection(pins []pin, n float64) (projection, bool) {
	a, b, c := pins[0], pins[len(pins)/3], pins[2*len(pins)/3]
	d := n - 7
	ex, ey := b.picture.minus(a.picture).times(1/d), c.picture.minus(a.picture).times(1/d)
	o := a.picture.minus(ex.times(3.5)).minus(ey.times(3.5))
	// Work about the symbol's middle, so that the two perspective terms are small.
	h := n / 2
	mid := o.plus(ex.times(h)).plus(ey.times(h))
	m := [8]float64{ex.X * h, ey.X * h, mid.X, ex.Y * h, ey.Y * h, mid.Y, 0, 0}
	scale := math.Sqrt(math.Abs(ex.cross(ey))) * h
	for range 12 {
		var q normal
		q.reset(8)
		for _, p := range pins {
			u, v := p.label.X/h-1, p.label.Y/h-1
			w := m[6]*u + m[7]*v + 1
			if w < 0.05 {
				return projection{}, false
			}
			x, y := (m[0]*u+m[1]*v+m[2])/w, (m[3]*u+m[4]*v+m[5])/w
			q.add([]float64{u / w, v / w, 1 / w, 0, 0, 0, -x * u / w, -x * v / w}, p.picture.X-x, p.weight)
			q.add([]float64{0, 0, 0, u / w, v / w, 1 / w, -y * u / w, -y * v / w}, p.picture.Y-y, p.weight)
		}
		q.ridge(6, -m[6], 0.02*scale*scale)
		q.ridge(7, -m[7], 0.02*scale*scale)
		x, ok := q.solve()
		if !ok {
			return projection{}, false
		}
		big := 0.0
		for i := range m {
			m[i] += x[i]
			big = max(big, math.Abs(x[i]))
		}
		if math.IsNaN(big) {
			return projection{}, false
		}
		if big < 1e-3 {
			break
		}
	}
	return uncentred(m, h), true
}

// uncentred turns a projection about the symbol's middle, in halves of its side,
// into one from its top left corner, in modules.
func uncentred(m [8]float64, h float64) projection {
	k := 1 / h
	return projection{
		m[0] * k, m[1] * k, m[2] - m[0] - m[1],
		m[3] * k, m[4] * k, m[5] - m[3] - m[4],
		m[6] * k, m[7] * k, 1 - m[6] - m[7],
	}
}

// mesh is a net of shifts in modules, side × side knots, smooth in between.
type mesh struct {
	side   int
	shifts []Point
}

// resized is a mesh of another number of knots with the same shifts; m may be nil.
func (m *mesh) resized(side int) *mesh {
	r := &mesh{side, make([]Point, side*side)}
	if m != nil {
		for k := range r.shifts {
			r.shifts[k] = m.at(Point{2*float64(k%side)/float64(side-1) - 1, 2*float64(k/side)/float64(side-1) - 1})
		}
	}
	return r
}

// weights gives the four knots around a place from -1 to 1 and their shares.
func (m *mesh) weights(p Point) (index [4]int, share [4]float64) {
	s := float64(m.side - 1)
	x, y := max(0, min(s-1e-9, (p.X+1)/2*s)), max(0, min(s-1e-9, (p.Y+1)/2*s))
	ix, iy := int(x), int(y)
	fx, fy := x-float64(ix), y-float64(iy)
	at := iy*m.side + ix
	return [4]int{at, at + 1, at + m.side, at + m.side + 1}, [4]float64{(1 - fx) * (1 - fy), fx * (1 - fy), (1 - fx) * fy, fx * fy}
}

func (m *mesh) at(p Point) (shift Point) {
	index, share := m.weights(p)
	for i, k := range index {
		shift = shift.plus(m.shifts[k].times(share[i]))
	}
	return shift
}
