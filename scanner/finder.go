package scanner

import (
	"math"
	"sync"
)

// finder is one of the three nested squares in a symbol's corners: its middle,
// and the picture's vectors of one module along the symbol's two axes there,
// known up to quarter turns. ux × uy is positive: ux turns clockwise into uy.
type finder struct {
	at     Point
	ux, uy Point
	rays   float64 // share of directions in which the squares were seen
}

// local is a point in f's own frame, in modules from its middle.
func (f *finder) local(p Point) Point {
	d, k := p.minus(f.at), f.ux.cross(f.uy)
	return Point{d.cross(f.uy) / k, f.ux.cross(d) / k}
}

// size is the side of a module in pixels, the mean over directions.
func (f *finder) size() float64 { return math.Sqrt(f.ux.cross(f.uy)) }

// hit is a row that crosses what may be a finder: dark, light, dark, light, dark
// in the ratio 1:1:3:1:1 (ISO/IEC 18004, 6.3.3).
type hit struct {
	x, y, module float64
}

// scanFinders looks for finders in a picture whose modules are about 1.2 to 12
// pixels. Dark is what lies below the mean of the square of the given radius
// around; rows are every step-th. Two goroutines share a large picture.
func scanFinders(g gray, radius, step int) []finder {
	strips := 1
	if g.w*g.h > 1<<20 {
		strips = 8
	}
	hits := make([][]hit, strips)
	var wait sync.WaitGroup
	gate := make(chan struct{}, 2)
	for i := range strips {
		wait.Add(1)
		go func() {
			defer wait.Done()
			gate <- struct{}{}
			defer func() { <-gate }()
			hits[i] = scanRows(g, radius, step, g.h*i/strips, g.h*(i+1)/strips)
		}()
	}
	wait.Wait()
	found := finderSet{least: max(6, 3*noiseOf(g))}
	for _, part := range hits {
		for _, h := range part {
			found.try(g, h)
		}
	}
	return found.finders
}

// scanRows scans rows y0 to y1. Column sums slide down with the window, so that
// a pixel costs a handful of additions whatever the radius.
func scanRows(g gray, radius, step, y0, y1 int) (hits []hit) {
	sums := make([]int32, g.w)
	top, bottom := max(0, y0-radius), max(0, y0-radius)
	for y := y0; y < y1; y++ {
		for bottom < min(g.h, y+radius+1) {
			for x, v := range g.row(bottom) {
				sums[x] += int32(v)
			}
			bottom++
		}
		for top < y-radius {
			for x, v := range g.row(top) {
				sums[x] -= int32(v)
			}
			top++
		}
		if y%step == 0 {
			hits = scanRow(g.row(y), sums, radius, bottom-top, y, hits)
		}
	}
	return hits
}

// scanRow cuts one row into dark and light runs and tests each five of them.
// Edges are placed between pixels by interpolation.
func scanRow(row []uint8, sums []int32, radius, rows, y int, hits []hit) []hit {
	var edges [6]float64 // the last six, oldest first
	w := len(row)
	var sum int32
	for x := range min(radius, w) {
		sum += sums[x]
	}
	dark, before := false, int32(0)
	for x, v := range row {
		left, right := max(0, x-radius), min(w, x+radius+1)
		if x+radius < w {
			sum += sums[x+radius]
		}
		if x > radius {
			sum -= sums[x-radius-1]
		}
		area := int32((right - left) * rows)
		diff := int32(v)*area - sum
		if margin := area + area>>1; dark && diff > margin || !dark && diff < -margin {
			dark = !dark
			part := 0.5
			if before != diff {
				part = max(0, min(1, float64(before)/float64(before-diff)))
			}
			copy(edges[:], edges[1:])
			edges[5] = float64(x) - 0.5 + part
			if !dark {
				hits = appendIfFinder(hits, &edges, y)
			}
		}
		before = diff
	}
	return hits
}

func appendIfFinder(hits []hit, e *[6]float64, y int) []hit {
	if m, ok := finderRatio(e); ok && e[0] > 0 {
		return append(hits, hit{(e[2] + e[3]) / 2, float64(y) + 0.5, m})
	}
	return hits
}

// finderRatio tests 1:1:3:1:1. Distances between edges of one kind (dark to
// light, light to dark) do not change when ink spreads: 2, 4, 4 and 2 modules.
func finderRatio(e *[6]float64) (module float64, ok bool) {
	m := (e[5] - e[0]) / 7
	if m < 0.9 {
		return 0, false
	}
	tight, wide := 0.8*m+0.2, 1.1*m+0.3
	core := e[3] - e[2]
	return m, math.Abs(e[2]-e[0]-2*m) < tight && math.Abs(e[5]-e[3]-2*m) < tight &&
		math.Abs(e[3]-e[1]-4*m) < wide && math.Abs(e[4]-e[2]-4*m) < wide && core > 1.6*m && core < 4.7*m
}

// finderSet collects finders, one for each place.
type finderSet struct {
	finders []finder
	least   float64        // difference of light and dark that is worth a look
	failed  map[[2]int]int // hits that came to nothing, by place
}

// try confirms a hit in the other direction and all around, and keeps it if it
// is new.
func (s *finderSet) try(g gray, h hit) {
	for i := range s.finders {
		if d := s.finders[i].at.distance(Point{h.x, h.y}); d < 2*s.finders[i].size() {
			return
		}
	}
	key := [2]int{int(h.x / (2 * h.module)), int(h.y / (2 * h.module))}
	if s.failed[key] > 6 {
		return
	}
	at, ok := crossCheck(g, h, s.least)
	if ok {
		var f finder
		if f, ok = shapeFinder(g, at, h.module); ok {
			s.add(f)
			return
		}
	}
	if s.failed == nil {
		s.failed = map[[2]int]int{}
	}
	s.failed[key]++
}

// add keeps f unless a better one is in its place.
func (s *finderSet) add(f finder) {
	for i := range s.finders {
		if s.finders[i].at.distance(f.at) < 2*max(f.size(), s.finders[i].size()) {
			if s.finders[i].rays < f.rays {
				s.finders[i] = f
			}
			return
		}
	}
	s.finders = append(s.finders, f)
}

// crossCheck walks up and down from a hit and asks for the same ratio there. It
// gives the middle in both directions.
func crossCheck(g gray, h hit, least float64) (Point, bool) {
	at := Point{h.x, h.y}
	core, ring := coreAndRing(g, at, h.module)
	if ring-core < least {
		return at, false
	}
	level := (core + ring) / 2
	up, ok1 := edgesAlong(g, at, Point{0, -1}, level, 12*h.module)
	down, ok2 := edgesAlong(g, at, Point{0, 1}, level, 12*h.module)
	if !ok1 || !ok2 {
		return at, false
	}
	e := [6]float64{-up[2], -up[1], -up[0], down[0], down[1], down[2]}
	m, ok := finderRatio(&e)
	if !ok || m > 4*h.module || h.module > 4*m {
		return at, false
	}
	at.Y += (down[0] - up[0]) / 2
	return at, true
}

// coreAndRing are the greys of a finder's core and of the light ring around it,
// as the row of the hit shows them.
func coreAndRing(g gray, at Point, module float64) (core, ring float64) {
	core = (g.bilinear(at.X-0.5*module, at.Y) + g.bilinear(at.X, at.Y) + g.bilinear(at.X+0.5*module, at.Y)) / 3
	ring = (g.bilinear(at.X-2*module, at.Y) + g.bilinear(at.X+2*module, at.Y)) / 2
	return core, ring
}

// finderLevel is the grey half way between core and ring.
func finderLevel(g gray, at Point, module float64) float64 {
	core, ring := coreAndRing(g, at, module)
	return (core + ring) / 2
}

// noiseOf estimates the standard deviation of a picture's noise from second
// differences along rows: their median is hardly touched by edges. For a normal
// distribution it is 0.674·√6 of the deviation.
func noiseOf(g gray) float64 {
	var count [1024]int
	total := 0
	for y := 0; y < g.h; y += 1 + g.h/200 {
		row := g.row(y)
		for x := 1; x+1 < len(row); x += 3 {
			d := int(row[x-1]) - 2*int(row[x]) + int(row[x+1])
			count[max(d, -d)]++
			total++
		}
	}
	seen := 0
	for d, n := range count {
		if seen += n; 2*seen > total {
			return float64(d) / 1.65
		}
	}
	return 0
}

// edgesAlong gives the distances at which a walk from a dark place crosses level
// three times: to light, to dark, to light.
func edgesAlong(g gray, from, step Point, level, most float64) (edges [3]float64, ok bool) {
	const stride = 0.5
	dark, n := true, 0
	before := g.bilinear(from.X, from.Y) - level
	if before >= 0 {
		return edges, false
	}
	for d := stride; d <= most; d += stride {
		x, y := from.X+step.X*d, from.Y+step.Y*d
		if x < 0 || y < 0 || x > float64(g.w) || y > float64(g.h) {
			// The edge of the picture may cut the outermost light, nothing more.
			return edges, false
		}
		v := g.bilinear(x, y) - level
		if dark == (v >= 0) {
			edges[n] = d - stride*v/(v-before)
			if n++; n == 3 {
				return edges, true
			}
			dark = !dark
		}
		before = v
	}
	return edges, false
}

// bilinear is the grey at a point, in pixels with the middle of the first at
// 0.5, 0.5; outside the picture the nearest pixel counts.
func (g gray) bilinear(x, y float64) float64 {
	x, y = x-0.5, y-0.5
	x, y = max(0, min(float64(g.w-1), x)), max(0, min(float64(g.h-1), y))
	ix, iy := int(x), int(y)
	fx, fy := x-float64(ix), y-float64(iy)
	right, below := 1, g.stride
	if ix == g.w-1 {
		right = 0
	}
	if iy == g.h-1 {
		below = 0
	}
	p := g.pix[iy*g.stride+ix:]
	a, b, c, d := float64(p[0]), float64(p[right]), float64(p[below]), float64(p[below+right])
	return (a+(b-a)*fx)*(1-fy) + (c+(d-c)*fx)*fy
}
