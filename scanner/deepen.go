package scanner

import "slices"

// deepen spends more on a symbol that could not be read at first sight: a finer
// grid, blur taken out, the words that all the farm's labels share taken as
// known, and at last comparison with the labels that the farm has printed.
//
// What it could not tell, but looks like one of the farm's labels, is left in
// p.view for the frames to come.
func (p *patch) deepen(m *matcher) (symbol, bool) {
	p.known = slices.Clone(p.known)
	var best symbol
	bestScore := 0.0
	for round := range refinements {
		if p.budget.spent() || bestScore > goodMatch {
			break
		}
		p.refine(round)
		soft := p.soft
		for _, reach := range []int{2, 3} {
			soft = p.equalise(p.known, soft, reach)
			if msg, ok := p.tryDecode(soft); ok {
				return symbol{text: msg.text, corners: p.grid.corners()}, true
			}
			found := p.tryKnown(m, soft)
			if found.text != "" {
				return symbol{text: found.text, corners: p.grid.corners()}, true
			}
			if found.match.sure() && found.match.score > bestScore {
				bestScore = found.match.score
				best = symbol{text: found.payload, corners: p.grid.corners(), matched: true}
			}
			if found.common > max(prefixScore, p.view.common) {
				p.view = view{form: found.form, stream: found.stream, common: found.common, corners: p.grid.corners()}
			}
			if found.common > hintScore {
				p.learn(p.known, found)
			}
		}
	}
	return best, bestScore > 0
}

const (
	refinements = 5
	goodMatch   = 0.75 // a match so good that a finer grid is not worth it
)

// refine makes the grid finer, round by round; half way it starts again from the
// finders and timing rows, in case it has settled on the wrong modules.
func (p *patch) refine(round int) {
	a := aims{known: p.known, trust: 0.6}
	switch round {
	case 1:
		p.alignMesh(a, 5, 4)
	case 2, 4:
		p.alignMesh(a, 9, 4)
	case 3:
		if !p.track() {
			*p.grid = p.first
		}
		p.grow(a, 9)
	}
	p.sample()
}

// knownResult is what knowledge of the farm's labels made of a symbol.
type knownResult struct {
	text    string // decoded with the shared words given
	common  float64
	form    *form
	stream  stream
	match   match
	payload string // of the match
}

// tryKnown compares a symbol with the farm's labels of the same size.
func (p *patch) tryKnown(m *matcher, soft []float32) (best knownResult) {
	for i := range m.sheets {
		sh := &m.sheets[i]
		if sh.form.version != p.lay.version {
			continue
		}
		tried := 0
		for _, f := range formats(p.lay, soft) {
			if f.levelBits != sh.form.coding.levelBits {
				continue
			}
			if tried++; tried > 3 {
				break
			}
			r := sh.compare(newStream(p.lay, soft, f), p.budget)
			if r.text != "" {
				return r
			}
			if r.betterThan(&best) {
				best = r
			}
		}
	}
	return best
}

// betterThan prefers a match, the best first, and else what looks most like the
// farm's labels.
func (r *knownResult) betterThan(o *knownResult) bool {
	if r.common < prefixScore {
		return o.match.code == "" && r.common > o.common
	}
	return o.match.code == "" || r.match.score > o.match.score
}

// compare holds a stream against the labels of a sheet: the shared words must be
// there; then they help to decode it, else it is matched.
func (sh *sheet) compare(s stream, budget *budget) knownResult {
	budget.spend(decodeWork)
	r := knownResult{common: sh.form.commonScore(&s), form: sh.form, stream: s}
	if r.common < prefixScore {
		return r
	}
	if msg, ok := s.decode(sh.form.certain); ok && msg.spare >= spareCodewords {
		if ref, err := ParsePayload(msg.text); err == nil && ref.Kind == sh.form.key.kind {
			r.text = msg.text
			return r
		}
	}
	budget.spend(len(sh.codes) * s.coding.total)
	if r.match = sh.match(&s); r.match.code != "" {
		r.payload = sh.form.key.address.Payload(sh.form.key.kind, r.match.code)
	}
	return r
}

// learn marks the modules of the shared words and the format as known.
func (p *patch) learn(known []int8, r knownResult) {
	for place, word := range r.form.certain {
		for b := range 8 {
			at := p.lay.data[8*place+b]
			dark := word>>(7-b)&1 == 1
			if masked(r.stream.mask, at%p.lay.n, at/p.lay.n) {
				dark = !dark
			}
			known[at] = -1
			if dark {
				known[at] = 1
			}
		}
	}
	word := formatBits(r.form.coding.levelBits, r.stream.mask)
	for _, copy := range p.lay.format {
		for b, at := range copy {
			known[at] = -1
			if word>>(14-b)&1 == 1 {
				known[at] = 1
			}
		}
	}
}
