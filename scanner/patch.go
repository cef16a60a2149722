package scanner

// margin is how many modules around the symbol are sampled with it.
const margin = 2

// patch is a symbol as the picture shows it through a grid: grey values on a
// lattice of half modules, and what counts as dark and light in each module's
// neighbourhood.
type patch struct {
	g       gray
	scale   float64 // pixels of g for one of the picture the grid is laid over
	grid    *grid
	lay     *layout
	known   []int8    // modules whose colour is known: 1 dark, −1 light, 0 not
	missing int       // the finder that was not seen, −1 for none
	pins    []pin     // of the finders
	first   grid      // as it was laid through the finders
	view    view      // the best look at what was not read
	budget  *budget   // pays for all that is done with the patch
	side    int       // lattice points a side
	value   []float32 // grey on the lattice
	mean    []float32 // grey of each module, by row
	level   []float32 // grey half way between dark and light around it
	swing   []float32 // from there to dark or light
	soft    []float32 // (level − mean)/swing: about 1 for dark, −1 for light
}

func newPatch(g gray, scale float64, grid *grid, lay *layout, t *triple, budget *budget) *patch {
	n := lay.n
	side := 2*(n+2*margin) + 1
	all := make([]float32, side*side+4*n*n)
	p := &patch{g: g, scale: scale, grid: grid, lay: lay, known: t.knownModules(lay), missing: t.missing, pins: t.pins(float64(n)), first: *grid, budget: budget, side: side, value: all[:side*side]}
	for i, s := range []*[]float32{&p.mean, &p.level, &p.swing, &p.soft} {
		*s = all[side*side+i*n*n:][:n*n]
	}
	return p
}

// sample measures the lattice through the grid as it now is.
func (p *patch) sample() {
	n := p.lay.n
	p.budget.spend(pointWork*p.side*p.side + 40*n*n)
	p.measure()
	for y := range n {
		for x := range n {
			p.mean[y*n+x] = p.module(x, y)
		}
	}
	p.levels()
	for i, m := range p.mean {
		p.soft[i] = clip((p.level[i]-m)/p.swing[i], 1.5)
	}
}

// measure takes the grey at every point of the lattice. The grid is asked at every
// fourth point only, two modules apart; between those it is as good as straight.
func (p *patch) measure() {
	const step = 4
	nodes := (p.side+step-2)/step + 1
	at := make([]Point, nodes*nodes)
	for j := range nodes {
		for i := range nodes {
			q := p.grid.at(Point{float64(i*step)/2 - margin, float64(j*step)/2 - margin})
			at[j*nodes+i] = q.times(p.scale)
		}
	}
	for j := range p.side {
		row := p.value[j*p.side:][:p.side]
		k, f := j/step, float64(j%step)/step
		for i := 0; i < p.side; i += step {
			node := k*nodes + i/step
			left, right := at[node], at[node+1]
			if f > 0 {
				left = left.plus(at[node+nodes].minus(left).times(f))
				right = right.plus(at[node+nodes+1].minus(right).times(f))
			}
			d := right.minus(left).times(1.0 / step)
			for m := i; m < min(i+step, p.side); m++ {
				row[m] = float32(p.g.bilinear(left.X, left.Y))
				left = left.plus(d)
			}
		}
	}
}

// corner is the lattice index of the middle of a module.
func (p *patch) corner(x, y int) int {
	return (2*y+1+2*margin)*p.side + 2*x + 1 + 2*margin
}

// module is the mean grey of a module: nine lattice points, the middle weighing
// four, the sides two.
func (p *patch) module(x, y int) float32 {
	i, s := p.corner(x, y), p.side
	v := p.value
	return (4*v[i] + 2*(v[i-1]+v[i+1]+v[i-s]+v[i+s]) + v[i-s-1] + v[i-s+1] + v[i+s-1] + v[i+s+1]) / 16
}

// slope is how the grey changes across a module, along its row and its column,
// for a module.
func (p *patch) slope(x, y int) (du, dv float32) {
	i, s := p.corner(x, y), p.side
	v := p.value
	du = (2*(v[i+1]-v[i-1]) + v[i-s+1] - v[i-s-1] + v[i+s+1] - v[i+s-1]) / 4
	dv = (2*(v[i+s]-v[i-s]) + v[i+s-1] - v[i-s-1] + v[i+s+1] - v[i-s+1]) / 4
	return du, dv
}

// levels finds what is dark and what is light around every module: the mean of
// the modules below and above the local mean, twice over, each drawn a little
// towards the whole symbol's.
func (p *patch) levels() {
	const reach, pull = 4, 3
	n := p.lay.n
	for i := range p.level {
		p.level[i] = 0
	}
	var t, d, c areaSums
	t.fill(n, func(i int) float32 { return p.mean[i] })
	for y := range n {
		for x := range n {
			sum, area := t.around(x, y, reach)
			p.level[y*n+x] = sum / area
		}
	}
	for range 2 {
		dark := func(i int) bool { return p.mean[i] < p.level[i] }
		d.fill(n, func(i int) float32 {
			if dark(i) {
				return p.mean[i]
			}
			return 0
		})
		c.fill(n, func(i int) float32 {
			if dark(i) {
				return 1
			}
			return 0
		})
		allDark, darks := d.all(), max(1, c.all())
		allLight, lights := t.all()-allDark, max(1, float32(n*n)-darks)
		meanDark, meanLight := allDark/darks, allLight/lights
		least := max(0.25*(meanLight-meanDark)/2, 0.7)
		for y := range n {
			for x := range n {
				sum, area := t.around(x, y, reach)
				ds, _ := d.around(x, y, reach)
				dc, _ := c.around(x, y, reach)
				lo := (ds + pull*meanDark) / (dc + pull)
				hi := (sum - ds + pull*meanLight) / (area - dc + pull)
				p.level[y*n+x] = (lo + hi) / 2
				p.swing[y*n+x] = max((hi-lo)/2, least)
			}
		}
	}
}

func clip(v, most float32) float32 { return max(-most, min(most, v)) }

// areaSums answers sums over rectangles of an n × n field.
type areaSums struct {
	n    int
	sums []float32
}

func (a *areaSums) fill(n int, value func(i int) float32) {
	a.n = n
	if a.sums == nil {
		a.sums = make([]float32, (n+1)*(n+1))
	}
	for y := range n {
		line := float32(0)
		for x := range n {
			line += value(y*n + x)
			a.sums[(y+1)*(n+1)+x+1] = a.sums[y*(n+1)+x+1] + line
		}
	}
}

// around sums the square of the given reach about a place, as far as it lies
// inside.
func (a *areaSums) around(x, y, reach int) (sum, area float32) {
	x0, y0, x1, y1 := max(0, x-reach), max(0, y-reach), min(a.n, x+reach+1), min(a.n, y+reach+1)
	w := a.n + 1
	return a.sums[y1*w+x1] - a.sums[y0*w+x1] - a.sums[y1*w+x0] + a.sums[y0*w+x0], float32((x1 - x0) * (y1 - y0))
}

func (a *areaSums) all() float32 { return a.sums[len(a.sums)-1] }
