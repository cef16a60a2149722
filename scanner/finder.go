package scanner

import "math"

// finder is one of the three nested squares in a symbol's corners: its middle,
// and the picture's vectors of one module along the symbol's two axes there,
// known up to quarter turns. ux × uy is positive: ux turns clockwise into uy.
type finder struct {
	at     Point
	ux, uy Point
	rays   float64 // share of directions in which the squares were seen
	miss   float64 // how far they are from squares seen at a slant, in modules
}

// local is a point in f's own frame, in modules from its middle.
func (f *finder) local(p Point) Point {
	d, k := p.minus(f.at), f.ux.cross(f.uy)
	return Point{d.cross(f.uy) / k, f.ux.cross(d) / k}
}

// size is the side of a module in pixels, the mean over directions.
func (f *finder) size() float64 { return math.Sqrt(f.ux.cross(f.uy)) }

// scale takes f to a picture k times as large.
func (f *finder) scale(k float64) {
	f.at, f.ux, f.uy = f.at.times(k), f.ux.times(k), f.uy.times(k)
}

// hit is a row that crosses what may be a finder: dark, light, dark, light, dark
// in the ratio 1:1:3:1:1 (ISO/IEC 18004, 6.3.3).
type hit struct {
	x, y, module float64
}

// scanFinders looks for finders in the rows of a flattened picture, and
// confirms them in the picture g. It adds to those there are.
func scanFinders(all []finder, g, flat gray, least float64, budget *budget) []finder {
	step := rowStep(flat)
	hits := make([][]hit, stripsOf(flat))
	eachStrip(flat, func(i, y0, y1 int) {
		for y := y0; y < y1; y++ {
			if y%step == 0 {
				hits[i] = scanRow(flat.row(y), y, hits[i])
			}
		}
	})
	found := finderSet{finders: all, budget: budget, least: least}
	defer budget.step(0.2)()
	for _, part := range hits {
		for _, h := range part {
			found.try(g, h)
		}
	}
	return found.finders
}

// scanRow cuts one row into dark and light runs and tests each five of them.
// Edges are placed between pixels by interpolation.
func scanRow(row []uint8, y int, hits []hit) []hit {
	var edges [6]float64 // the last six, oldest first
	dark, before := false, int(flatLevel)
	for x, v8 := range row {
		v := int(v8)
		if dark && v > flatLevel+1 || !dark && v < flatLevel-1 {
			dark = !dark
			part := 0.5
			if before != v {
				part = max(0, min(1, float64(before-flatLevel)/float64(before-v)))
			}
			copy(edges[:], edges[1:])
			edges[5] = float64(x) - 0.5 + part
			if !dark {
				hits = appendIfFinder(hits, &edges, y)
			}
		}
		before = v
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
	budget  *budget
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
	if s.budget.spent() {
		return
	}
	key := [2]int{int(h.x / (2 * h.module)), int(h.y / (2 * h.module))}
	if s.failed[key] > 6 {
		return
	}
	at, ok := crossCheck(g, h, s.least)
	if ok {
		var f finder
		s.budget.spend(shapeWork)
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
	up, ok := edgesDown(&g, at, -1, level, 12*h.module)
	if !ok {
		return at, false
	}
	down, ok := edgesDown(&g, at, 1, level, 12*h.module)
	if !ok {
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
func (g *gray) bilinear(x, y float64) float64 {
	x, y = x-0.5, y-0.5
	ix, iy := int(x), int(y)
	if !(x >= 0 && y >= 0) || ix+1 >= g.w || iy+1 >= g.h {
		return g.nearEdge(x, y)
	}
	fx, fy := x-float64(ix), y-float64(iy)
	i := iy*g.stride + ix
	p, q := g.pix[i:i+2:i+2], g.pix[i+g.stride:i+g.stride+2:i+g.stride+2]
	a, b, c, d := float64(p[0]), float64(p[1]), float64(q[0]), float64(q[1])
	top := a + (b-a)*fx
	return top + (c+(d-c)*fx-top)*fy
}

// nearEdge is bilinear for points whose four pixels do not all exist.
func (g *gray) nearEdge(x, y float64) float64 {
	x, y = max(0, min(float64(g.w-1), x)), max(0, min(float64(g.h-1), y))
	ix, iy := int(x), int(y)
	fx, fy := x-float64(ix), y-float64(iy)
	v := func(x, y int) float64 { return float64(g.pix[min(y, g.h-1)*g.stride+min(x, g.w-1)]) }
	top := v(ix, iy)*(1-fx) + v(ix+1, iy)*fx
	return top*(1-fy) + (v(ix, iy+1)*(1-fx)+v(ix+1, iy+1)*fx)*fy
}

// edgesDown is edgesAlong for a walk straight up or down, step −1 or 1, a row at a
// time: most hits end here, so it must be cheap.
func edgesDown(g *gray, from Point, step int, level, most float64) (edges [3]float64, ok bool) {
	x, y := min(g.w-1, int(from.X)), min(g.h-1, int(from.Y))
	at := func(y int) float64 { return float64(g.pix[y*g.stride+x]) - level }
	before := at(y)
	if before >= 0 {
		return edges, false
	}
	first := (float64(y) + 0.5 - from.Y) * float64(step) // distance of the first row's middle
	dark, n := true, 0
	for i := 1; float64(i) <= most; i++ {
		if y += step; y < 0 || y >= g.h {
			return edges, false
		}
		v := at(y)
		if dark == (v >= 0) {
			edges[n] = first + float64(i) - v/(v-before)
			if n++; n == 3 {
				return edges, true
			}
			dark = !dark
		}
		before = v
	}
	return edges, false
}
