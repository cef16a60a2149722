package scanner

import "math"

// Point is a place in a picture, in pixels from its top left corner: the middle
// of the first pixel is 0.5, 0.5.
type Point struct{ X, Y float64 }

func (p Point) plus(q Point) Point       { return Point{p.X + q.X, p.Y + q.Y} }
func (p Point) minus(q Point) Point      { return Point{p.X - q.X, p.Y - q.Y} }
func (p Point) times(k float64) Point    { return Point{p.X * k, p.Y * k} }
func (p Point) dot(q Point) float64      { return p.X*q.X + p.Y*q.Y }
func (p Point) cross(q Point) float64    { return p.X*q.Y - p.Y*q.X }
func (p Point) length() float64          { return math.Hypot(p.X, p.Y) }
func (p Point) distance(q Point) float64 { return p.minus(q).length() }

// projection maps a plane to a plane, straight lines to straight lines: the nine
// numbers of a 3 × 3 matrix, row by row.
type projection [9]float64

// at maps a point. The result is NaN or infinite on the horizon.
func (m projection) at(p Point) Point {
	d := m[6]*p.X + m[7]*p.Y + m[8]
	return Point{(m[0]*p.X + m[1]*p.Y + m[2]) / d, (m[3]*p.X + m[4]*p.Y + m[5]) / d}
}

// inverse is the projection back; false if m squeezes the plane into a line.
func (m projection) inverse() (projection, bool) {
	r := projection{
		m[4]*m[8] - m[5]*m[7], m[2]*m[7] - m[1]*m[8], m[1]*m[5] - m[2]*m[4],
		m[5]*m[6] - m[3]*m[8], m[0]*m[8] - m[2]*m[6], m[2]*m[3] - m[0]*m[5],
		m[3]*m[7] - m[4]*m[6], m[1]*m[6] - m[0]*m[7], m[0]*m[4] - m[1]*m[3],
	}
	det := m[0]*r[0] + m[1]*r[3] + m[2]*r[6]
	return r, math.Abs(det) > 1e-12
}

// project is the projection that takes each of four points to its partner;
// false if three of them lie on a line.
func project(from, to [4]Point) (projection, bool) {
	var a [8][9]float64
	for i := range 4 {
		f, t := from[i], to[i]
		a[2*i] = [9]float64{f.X, f.Y, 1, 0, 0, 0, -f.X * t.X, -f.Y * t.X, t.X}
		a[2*i+1] = [9]float64{0, 0, 0, f.X, f.Y, 1, -f.X * t.Y, -f.Y * t.Y, t.Y}
	}
	x, ok := solve8(&a)
	if !ok {
		return projection{}, false
	}
	return projection{x[0], x[1], x[2], x[3], x[4], x[5], x[6], x[7], 1}, true
}

// solve8 solves eight equations by elimination with row exchange.
func solve8(a *[8][9]float64) (x [8]float64, ok bool) {
	for c := range 8 {
		best := c
		for r := c + 1; r < 8; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[best][c]) {
				best = r
			}
		}
		a[c], a[best] = a[best], a[c]
		if math.Abs(a[c][c]) < 1e-12 {
			return x, false
		}
		for r := c + 1; r < 8; r++ {
			k := a[r][c] / a[c][c]
			for j := c; j < 9; j++ {
				a[r][j] -= k * a[c][j]
			}
		}
	}
	for r := 7; r >= 0; r-- {
		s := a[r][8]
		for j := r + 1; j < 8; j++ {
			s -= a[r][j] * x[j]
		}
		x[r] = s / a[r][r]
	}
	return x, true
}

// quad is four corners of something square, clockwise from its own top left.
type quad [4]Point

// middle is where the diagonals of a parallelogram would cross.
func (q quad) middle() Point {
	return q[0].plus(q[1]).plus(q[2]).plus(q[3]).times(0.25)
}

// side is the mean length of the four sides.
func (q quad) side() float64 {
	return (q[0].distance(q[1]) + q[1].distance(q[2]) + q[2].distance(q[3]) + q[3].distance(q[0])) / 4
}

// sane reports whether q is convex, turns one way, and could lie in or near a
// picture of w × h pixels.
func (q quad) sane(w, h int) bool {
	sign := 0.0
	for i := range 4 {
		a, b, c := q[i], q[(i+1)%4], q[(i+2)%4]
		turn := b.minus(a).cross(c.minus(b))
		if math.IsNaN(turn) || math.Abs(turn) < 1 || turn*sign < 0 {
			return false
		}
		sign = turn
		if a.X < -float64(w) || a.X > 2*float64(w) || a.Y < -float64(h) || a.Y > 2*float64(h) {
			return false
		}
	}
	return true
}
