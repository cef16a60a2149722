package scanner

import (
	"math"
	"math/rand/v2"
	"testing"

	"bagmark/grow"
	"bagmark/labels"
)

// A scene is a picture made from first principles: labels on bags before a
// pinhole camera. Lengths on a label are in modules of its symbol, from the
// symbol's top left corner. The ranges are wide on purpose; nothing here is
// tuned to what the reader can do.
type scene struct {
	w, h   int
	light  []float32 // 0 black to 1 white
	truths []truth
	random *rand.Rand
}

// truth is a label in the scene and where its symbol's corners came to lie.
type truth struct {
	code    grow.Code
	text    string
	corners quad
}

func newScene(w, h int, random *rand.Rand) *scene {
	s := &scene{w: w, h: h, light: make([]float32, w*h), random: random}
	s.backdrop()
	return s
}

// between draws evenly from low to high.
func (s *scene) between(low, high float64) float64 { return low + (high-low)*s.random.Float64() }

// backdrop fills the picture with substrate and film: blotches of three sizes.
func (s *scene) backdrop() {
	base := s.between(0.15, 0.6)
	var layers [3]blotches
	for i := range layers {
		layers[i] = newBlotches(s.random, []float64{150, 40, 9}[i]*float64(s.w)/1000+2)
	}
	for y := range s.h {
		for x := range s.w {
			v := base
			for i := range layers {
				v += []float64{0.25, 0.15, 0.1}[i] * layers[i].at(float64(x), float64(y))
			}
			s.light[y*s.w+x] = float32(max(0.03, min(0.95, v)))
		}
	}
}

// blotches is smooth noise from -1 to 1: random values on a square grid.
type blotches struct {
	size   float64
	values [64 * 64]float32
}

func newBlotches(random *rand.Rand, size float64) blotches {
	b := blotches{size: size}
	for i := range b.values {
		b.values[i] = float32(2*random.Float64() - 1)
	}
	return b
}

func (b *blotches) at(x, y float64) float64 {
	x, y = x/b.size+1000, y/b.size+1000
	ix, iy := int(x), int(y)
	fx, fy := x-float64(ix), y-float64(iy)
	fx, fy = fx*fx*(3-2*fx), fy*fy*(3-2*fy)
	v := func(i, j int) float64 { return float64(b.values[(j&63)*64+i&63]) }
	top := v(ix, iy)*(1-fx) + v(ix+1, iy)*fx
	return top*(1-fy) + (v(ix, iy+1)*(1-fx)+v(ix+1, iy+1)*fx)*fy
}

// print is a label as it came out of the printer and what happened to it since.
type print struct {
	dark        [][]bool
	n           float64 // modules a side
	words       [][]bool
	wide, tall  float64 // label beyond the symbol, to the right and below
	paper, ink  float64
	growth      float64 // widening of dark modules, in modules
	dead        []float64
	strokes     []stroke
	drops       []drop
	tear        [3]float64 // a, b, c: lost where a·x + b·y > c
	torn        bool
	smear       float64
	smearAt     float64
	waves       []wave
	shadeOnBend float64
}

type stroke struct {
	a, b  Point
	width float64
	ink   float64
}

type drop struct {
	at            Point
	radius, power float64
}

type wave struct {
	along     Point // unit vector times the wave number
	phase     float64
	shift     Point
	sharpness float64
}

// newPrint makes the label of one code: symbol, words and a reversed block.
func (s *scene) newPrint(t testing.TB, text string) *print {
	t.Helper()
	symbol, err := labels.NewSymbol(text)
	if err != nil {
		t.Fatal(err)
	}
	p := &print{n: float64(symbol.Modules), paper: s.between(0.8, 0.95), ink: s.between(0.04, 0.12)}
	for y := range symbol.Modules {
		row := make([]bool, symbol.Modules)
		for x := range row {
			row[x] = symbol.Dark(x, y)
		}
		p.dark = append(p.dark, row)
	}
	p.wide, p.tall = s.between(6, 45), s.between(5, 9)
	p.words = make([][]bool, 2*symbol.Modules)
	for y := range p.words {
		p.words[y] = make([]bool, 2*int(p.wide))
		for x := range p.words[y] {
			line := y % 9
			block := y > 40 && x < 30
			p.words[y][x] = line < 6 && x%5 != 4 && s.random.IntN(5) < 2 || block && s.random.IntN(9) > 0
		}
	}
	return p
}

// reflect is how light the label is at a point; covered is false off the label.
func (p *print) reflect(q Point) (light float64, covered bool) {
	for _, d := range p.drops {
		if r := q.distance(d.at) / d.radius; r < 1 {
			q = d.at.plus(q.minus(d.at).times(d.power + (1-d.power)*r*r))
			if hot := q.minus(d.at).times(1 / d.radius).plus(Point{0.4, 0.4}); hot.length() < 0.25 {
				return 1.1, true
			}
		}
	}
	if q.X < -5 || q.Y < -5 || q.X > p.n+4+p.wide || q.Y > p.n+p.tall {
		return 0, false
	}
	if p.torn && p.tear[0]*q.X+p.tear[1]*q.Y > p.tear[2]+0.6*math.Sin(3*q.X+2*q.Y) {
		return 0, false
	}
	light = p.paper
	if p.inked(q) {
		light = p.ink
		if p.smear > 0 && math.Sin(q.Y*2.1+p.smearAt) > 0.3 {
			light += p.smear * 0.5 * (p.paper - p.ink)
		}
	} else if p.smear > 0 && (p.inked(Point{q.X - 0.7, q.Y}) || p.inked(Point{q.X - 1.4, q.Y})) {
		light -= p.smear * 0.45 * (p.paper - p.ink)
	}
	for _, k := range p.strokes {
		if k.near(q) {
			light = min(light, k.ink)
		}
	}
	return light, true
}

func (k stroke) near(q Point) bool {
	ab := k.b.minus(k.a)
	t := max(0, min(1, q.minus(k.a).dot(ab)/ab.dot(ab)))
	return q.distance(k.a.plus(ab.times(t))) < k.width/2
}

func (p *print) inked(q Point) bool {
	for _, d := range p.dead {
		if math.Abs(q.Y-d) < 0.12 {
			return false
		}
	}
	if p.growth == 0 {
		return p.module(q)
	}
	g := math.Abs(p.growth) / 2
	sides := [4]bool{p.module(Point{q.X - g, q.Y}), p.module(Point{q.X + g, q.Y}), p.module(Point{q.X, q.Y - g}), p.module(Point{q.X, q.Y + g})}
	if p.growth > 0 {
		return sides[0] || sides[1] || sides[2] || sides[3]
	}
	return sides[0] && sides[1] && sides[2] && sides[3]
}

func (p *print) module(q Point) bool {
	if q.X < 0 || q.Y < 0 || q.Y >= p.n {
		return false
	}
	if q.X < p.n {
		return p.dark[int(q.Y)][int(q.X)]
	}
	x, y := int(2*(q.X-p.n-4)), int(2*q.Y)
	return q.X > p.n+4 && x < len(p.words[0]) && y < len(p.words) && p.words[y][x]
}

// pose is where a label is: a camera with its picture's middle at mid, focal
// length in pixels, and the label's axes and origin in front of it. A bend other
// than zero is the curvature of a cylinder, 1/radius, whose axis lies in the
// label at an angle to its x axis.
type pose struct {
	mid        Point
	focal      float64
	ex, ey, ez vector
	origin     vector // of the middle of the symbol
	half       float64
	bend, axis float64
}

type vector [3]float64

func (a vector) dot(b vector) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func (a vector) cross(b vector) vector {
	return vector{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}
func (a vector) plus(b vector, k float64) vector {
	return vector{a[0] + k*b[0], a[1] + k*b[1], a[2] + k*b[2]}
}

// newPose puts a symbol of n modules at a place in the picture, a module being
// px pixels there, turned in the plane by spin and tilted by tilt about an axis
// at the angle lean. All angles are in radians.
func (s *scene) newPose(at Point, n, px, spin, tilt, lean float64) pose {
	focal := s.between(0.75, 1.3) * float64(s.w)
	distance := focal / px
	mid := Point{float64(s.w) / 2, float64(s.h) / 2}
	ray := at.minus(mid).times(1 / focal)
	// Rotate about the viewing direction by spin, then about (cos lean, sin lean, 0) by tilt.
	ex, ey := vector{math.Cos(spin), math.Sin(spin), 0}, vector{-math.Sin(spin), math.Cos(spin), 0}
	k := vector{math.Cos(lean), math.Sin(lean), 0}
	p := pose{mid: mid, focal: focal, ex: turn(ex, k, tilt), ey: turn(ey, k, tilt), half: n / 2}
	p.ez = p.ex.cross(p.ey)
	p.origin = vector{ray.X * distance, ray.Y * distance, distance}
	return p
}

// turn rotates v about the unit vector k by angle (Rodrigues).
func turn(v, k vector, angle float64) vector {
	c, s := math.Cos(angle), math.Sin(angle)
	x := k.cross(v)
	d := k.dot(v) * (1 - c)
	return vector{v[0]*c + x[0]*s + k[0]*d, v[1]*c + x[1]*s + k[1]*d, v[2]*c + x[2]*s + k[2]*d}
}

// toLabel follows the ray through a pixel to the label.
func (p *pose) toLabel(q Point) (Point, bool) {
	d := vector{(q.X - p.mid.X) / p.focal, (q.Y - p.mid.Y) / p.focal, 1}
	o := vector{-p.origin[0], -p.origin[1], -p.origin[2]}
	// Camera and ray in the label's own frame, symbol's middle at 0.
	o = vector{o.dot(p.ex), o.dot(p.ey), o.dot(p.ez)}
	d = vector{d.dot(p.ex), d.dot(p.ey), d.dot(p.ez)}
	if p.bend == 0 {
		if d[2] < 1e-9 {
			return Point{}, false
		}
		k := -o[2] / d[2]
		return Point{o[0] + k*d[0] + p.half, o[1] + k*d[1] + p.half}, true
	}
	c, sn := math.Cos(p.axis), math.Sin(p.axis)
	ox, oy := c*o[0]+sn*o[1], -sn*o[0]+c*o[1]
	dx, dy := c*d[0]+sn*d[1], -sn*d[0]+c*d[1]
	// The cylinder's axis runs along x, its middle a radius behind the label.
	radius := 1 / p.bend
	oz := o[2] - radius
	a, b, e := dy*dy+d[2]*d[2], oy*dy+oz*d[2], oy*oy+oz*oz-radius*radius
	root := b*b - a*e
	if root < 0 {
		return Point{}, false
	}
	k := (-b - math.Sqrt(root)) / a
	x, y := ox+k*dx, radius*math.Atan2(oy+k*dy, -(oz+k*d[2]))
	return Point{c*x - sn*y + p.half, sn*x + c*y + p.half}, true
}

// toPicture is where a point of the label shows.
func (p *pose) toPicture(q Point) Point {
	x, y, z := q.X-p.half, q.Y-p.half, 0.0
	if p.bend != 0 {
		c, s := math.Cos(p.axis), math.Sin(p.axis)
		u, v := c*x+s*y, -s*x+c*y
		radius := 1 / p.bend
		z = radius * (1 - math.Cos(v/radius))
		v = radius * math.Sin(v/radius)
		x, y = c*u-s*v, s*u+c*v
	}
	w := p.origin.plus(p.ex, x).plus(p.ey, y).plus(p.ez, z)
	return Point{w[0]/w[2]*p.focal + p.mid.X, w[1]/w[2]*p.focal + p.mid.Y}
}

func (s *scene) draw(p *print, at pose, text string, code grow.Code) {
	n := p.n
	corners := quad{at.toPicture(Point{0, 0}), at.toPicture(Point{n, 0}), at.toPicture(Point{n, n}), at.toPicture(Point{0, n})}
	s.truths = append(s.truths, truth{code, text, corners})
	x0, y0, x1, y1 := s.w, s.h, 0, 0
	for i := range 121 {
		c := at.toPicture(Point{-6 + float64(i%11)/10*(n+p.wide+11), -6 + float64(i/11)/10*(n+p.tall+7)})
		x0, y0, x1, y1 = min(x0, int(c.X)-6), min(y0, int(c.Y)-6), max(x1, int(c.X)+6), max(y1, int(c.Y)+6)
	}
	for y := max(0, y0); y < min(s.h, y1); y++ {
		for x := max(0, x0); x < min(s.w, x1); x++ {
			s.pixel(p, &at, x, y)
		}
	}
}

// pixel mixes the label into one pixel, from nine rays.
func (s *scene) pixel(p *print, at *pose, x, y int) {
	sum, hits := 0.0, 0
	for i := range 9 {
		q, ok := at.toLabel(Point{float64(x) + (float64(i%3)+0.5)/3, float64(y) + (float64(i/3)+0.5)/3})
		if !ok {
			continue
		}
		q, shade := p.ripple(q)
		if light, covered := p.reflect(q); covered {
			sum += light * shade
			hits++
		} else if i == 4 && hits == 0 && (q.X < -9 || q.Y < -9) {
			return
		}
	}
	if hits > 0 {
		v := &s.light[y*s.w+x]
		*v = *v*float32(9-hits)/9 + float32(sum/9)
	}
}

// ripple moves a point as a wrinkled film would and shades its slopes.
func (p *print) ripple(q Point) (Point, float64) {
	shade, out := 1.0, q
	for _, w := range p.waves {
		v := math.Sin(w.along.dot(q) + w.phase)
		if w.sharpness > 0 {
			v = math.Copysign(math.Pow(math.Abs(v), 1/(1+w.sharpness)), v)
		}
		out = out.plus(w.shift.times(v))
		shade += p.shadeOnBend * math.Cos(w.along.dot(q)+w.phase) * w.shift.length() * 0.35
	}
	return out, max(0.3, shade)
}
