package scanner

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// search is the reading of one picture.
type search struct {
	ctx     context.Context
	pyramid []gray // the picture, half of it, a quarter, …
	opts    Options
	book    *book
	matcher *matcher // nil until something has to be matched
	found   symbolSet
	pending []*candidate
	views   []view // of labels that could not be decoded
	noise   float64
	budget  *budget
}

// candidate is a group of finders that looks like a symbol and was not read at
// first sight.
type candidate struct {
	patch *patch
	fit   float64
}

func newSearch(ctx context.Context, g gray, opts Options, b *book) *search {
	s := &search{ctx: ctx, pyramid: []gray{g}, opts: opts, book: b, budget: budgetOf(g.w, g.h)}
	for len(s.pyramid) < 4 && min(g.w, g.h) > 60 {
		g = half(g)
		s.pyramid = append(s.pyramid, g)
	}
	return s
}

// half is g at half the size, each pixel the mean of four.
func half(g gray) gray {
	h := newGray(g.w/2, g.h/2)
	for y := range h.h {
		a, b, row := g.row(2*y), g.row(2*y+1), h.row(y)
		for x := range row {
			row[x] = uint8((int(a[2*x]) + int(a[2*x+1]) + int(b[2*x]) + int(b[2*x+1]) + 2) / 4)
		}
	}
	return h
}

// level is the picture at the scale in which a module of so many pixels has
// between two and a half and five.
func (s *search) level(module float64) (gray, float64) {
	l := int(max(0, min(float64(len(s.pyramid)-1), math.Floor(math.Log2(module/2.5)))))
	return s.pyramid[l], 1 / float64(int(1)<<l)
}

// finders looks for finders in the picture at every scale: a module may be two
// pixels or fifty, and coarse scales see through noise.
func (s *search) finders() (all []finder) {
	s.noise = noiseOf(s.pyramid[0])
	for l, g := range s.pyramid {
		// Halving averages four pixels: noise goes down by two.
		least := max(6, 3*s.noise/float64(int(1)<<l))
		all = s.scan(all, l, g, flatten(g, 20, rowStep(g)), least)
	}
	return all
}

// moreFinders looks for finders whose rings are blurred or run together, so that
// they show only against their closest surroundings.
func (s *search) moreFinders(all []finder, radius int) []finder {
	flat := flatten(s.pyramid[0], radius, 1)
	return s.scan(all, 0, flat, flat, max(4, 2.5*s.noise))
}

// scan adds the finders of level l of the pyramid to those there are.
func (s *search) scan(all []finder, l int, g, flat gray, least float64) []finder {
	scale := float64(int(1) << l)
	for i := range all {
		all[i].scale(1 / scale)
	}
	all = scanFinders(all, g, flat, least, s.budget)
	for i := range all {
		all[i].scale(scale)
	}
	return all
}

// read takes finders to symbols: three by three, then two by two.
func (s *search) read(all []finder) error {
	all = s.bestFinders(all)
	if err := s.readTriples(all, triples(all, mostModules)); err != nil {
		return err
	}
	return s.readTriples(all, pairTriples(all, s.explained(all)))
}

// bestFinders leaves out the poorest finders of a picture that has more than can
// be labels' own, such as one of a tiled floor.
func (s *search) bestFinders(all []finder) []finder {
	most := 70 + s.pyramid[0].w*s.pyramid[0].h/25_000
	if len(all) <= most {
		return all
	}
	best := slices.Clone(all)
	slices.SortStableFunc(best, func(a, b finder) int { return cmp.Compare(a.miss-a.rays, b.miss-b.rays) })
	return best[:most]
}

// readTriples tries groups whose finders no symbol read so far explains, and then
// what was kept for later.
func (s *search) readTriples(all []finder, list []triple) error {
	used := s.explained(all)
	end := s.budget.step(0.5)
	for i := range list {
		if s.budget.spent() {
			break
		}
		if err := s.ctx.Err(); err != nil {
			return err
		}
		if list[i].anyOf(used) {
			continue
		}
		if s.readTriple(&list[i]) {
			used = s.explained(all)
		}
	}
	end()
	return s.readPending()
}

// explained marks the finders that lie in symbols read so far.
func (s *search) explained(all []finder) []bool {
	used := make([]bool, len(all))
	for i := range all {
		for _, f := range s.found {
			used[i] = used[i] || f.corners.holds(all[i].at)
		}
	}
	return used
}

// anyOf reports whether one of t's finders is marked.
func (t *triple) anyOf(used []bool) bool {
	for _, i := range t.index {
		if i >= 0 && used[i] {
			return true
		}
	}
	return false
}

// holds reports whether p lies inside q.
func (q quad) holds(p Point) bool {
	for i := range q {
		if q[(i+1)%4].minus(q[i]).cross(p.minus(q[i])) < 0 {
			return false
		}
	}
	return true
}

// readTriple tries the sizes a triple may have. A good look that cannot be read
// is kept for later.
func (s *search) readTriple(t *triple) bool {
	var best *candidate
	for _, version := range t.versions() {
		lay := layoutOf(version)
		if lay == nil {
			continue
		}
		s.budget.spend(gridWork)
		for _, grid := range newGrids(t, float64(lay.n)) {
			if t.missing > 0 && s.timing(t, grid, lay.n) < 0.45 {
				continue
			}
			c := s.lay(t, grid, lay)
			if c.fit < 0.75 {
				continue
			}
			if m, ok := c.firstLook(); ok {
				s.found.add(symbol{text: m.text, corners: c.patch.grid.corners()})
				return true
			}
			if best == nil || c.fit > best.fit {
				best = c
			}
		}
	}
	if best != nil {
		s.pending = append(s.pending, best)
	}
	return false
}

// lay puts a grid of a certain size over a triple and aligns it.
func (s *search) lay(t *triple, grid *grid, lay *layout) *candidate {
	g, scale := s.level(t.smallest())
	p := newPatch(g, scale, grid, lay, t, s.budget)
	p.alignTerms(aims{known: p.known}, 3, 2)
	p.alignTerms(aims{known: p.known}, 6, 4)
	p.sample()
	return &candidate{p, p.agreement() + 0.5*p.finderAgreement() + 0.5*float64(formats(lay, p.soft)[0].fit)}
}

// firstLook decodes what can be decoded without much ado.
func (c *candidate) firstLook() (message, bool) {
	p := c.patch
	if m, ok := p.tryDecode(p.soft); ok {
		return m, true
	}
	p.alignTerms(aims{known: p.known, trust: 0.5}, 10, 4)
	p.sample()
	return p.tryDecode(p.soft)
}

func (t *triple) smallest() float64 {
	return min(t.finders[0].size(), t.finders[1].size(), t.finders[2].size())
}

// tryDecode reads soft modules under the two likeliest formats. A text that is
// not ours, or does not check, must have been read without giving anything up.
func (p *patch) tryDecode(soft []float32) (message, bool) {
	for _, f := range formats(p.lay, soft)[:2] {
		if f.fit < 0.25 {
			break
		}
		p.budget.spend(decodeWork)
		st := newStream(p.lay, soft, f)
		m, ok := st.decode(nil)
		if !ok {
			continue
		}
		if _, err := ParsePayload(m.text); err == nil || m.erased == 0 && m.spare >= 1 {
			return m, true
		}
	}
	return message{}, false
}

// readPending spends more on what could not be read at first sight, the best
// looking first.
func (s *search) readPending() error {
	slices.SortStableFunc(s.pending, func(a, b *candidate) int { return cmp.Compare(b.fit, a.fit) })
	defer s.budget.step(0.6)()
	for _, c := range s.pending {
		if s.budget.spent() {
			break
		}
		if err := s.ctx.Err(); err != nil {
			return err
		}
		if s.covered(c.patch.grid.corners()) {
			continue
		}
		if s.matcher == nil {
			m, err := newMatcher(s.ctx, s.book, s.opts)
			if err != nil {
				return err
			}
			s.matcher = m
		}
		y, ok := c.patch.deepen(s.matcher)
		if ok {
			s.found.add(y)
		}
		if (!ok || y.matched) && c.patch.view.form != nil {
			s.views = append(s.views, c.patch.view)
		}
	}
	s.pending = nil
	return nil
}

// covered reports whether a symbol was already read in the same place.
func (s *search) covered(q quad) bool {
	for _, f := range s.found {
		if f.corners.holds(q.middle()) || q.holds(f.corners.middle()) {
			return true
		}
	}
	return false
}

// unexplained reports whether a clear finder is left that no symbol accounts for.
func (s *search) unexplained(all []finder) bool {
	for i, used := range s.explained(all) {
		if !used && all[i].rays > 0.8 {
			return true
		}
	}
	return false
}

// fewPixels is up to where a picture with some symbols read is searched again for
// more: on a rack that doubled the time for one label in a hundred (measured).
const fewPixels = 2_000_000

// findSymbols reads what a picture shows. The library has its turn where nothing
// was found: it knows the versions above 6, which are never ours.
func findSymbols(ctx context.Context, g gray, opts Options, b *book) ([]symbol, error) {
	s := newSearch(ctx, g, opts, b)
	if err := s.run(); err != nil {
		return nil, err
	}
	if opts.Tracker != nil {
		opts.Tracker.add(s)
	}
	return s.found, nil
}

func (s *search) run() error {
	g := s.pyramid[0]
	all := s.finders()
	if err := s.read(all); err != nil {
		return err
	}
	for _, radius := range []int{12, 6, 24} {
		if len(s.found) > 0 && (g.w*g.h > fewPixels || !s.unexplained(all)) {
			break
		}
		all = s.moreFinders(all, radius)
		if err := s.read(all); err != nil {
			return err
		}
	}
	if len(s.found) == 0 {
		s.askLibrary(triples(s.bestFinders(all), manyModules))
	}
	return nil
}
