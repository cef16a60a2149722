package scanner

import (
	"math"
	"slices"
)

// Tracker adds up what the frames of one live camera show of a label that none of
// them shows well enough: noise and glints differ from frame to frame, the label
// does not. Give it with each frame in turn ([Options]); the zero value is ready.
// It serves one frame at a time.
//
// It must never mix two labels. A frame is added only to frames of a symbol of
// the same version, level and mask, in about the same place, whose bits it agrees
// with; and what the sum says counts only if the newest frame by itself speaks
// for the same code. What the sum is read by are the rules for single pictures.
type Tracker struct {
	w, h   int // of the frames
	frame  int // so far
	tracks []track
}

const (
	forgetAfter = 5    // frames without a look at the label: a second, at five a second
	mostTracks  = 6    // labels
	mostLooks   = 12   // after which older frames fade
	agreeScore  = 0.15 // of a frame with the sum before it, two standard deviations
	speakScore  = 0.30 // of a frame with the code that the sum gives, four
)

// view is a look at one of the farm's labels that was not enough to read it.
type view struct {
	form    *form
	stream  stream
	common  float64 // how well the bits fit that all labels of the form share
	corners quad
}

// track is one label over several frames.
type track struct {
	view      // the stream is the weighted mean of the frames'
	looks int // frames added
	sum   float64
	last  int // frame in which it was seen
}

// add takes a frame's views and adds what the frames together show to what the
// search has found.
func (t *Tracker) add(s *search) {
	g := s.pyramid[0]
	if t.w != g.w || t.h != g.h {
		*t = Tracker{w: g.w, h: g.h}
	}
	t.frame++
	t.tracks = slices.DeleteFunc(t.tracks, func(k track) bool {
		return t.frame-k.last > forgetAfter || slices.ContainsFunc(s.found, func(f symbol) bool { return !f.matched && near(f.corners, k.corners) })
	})
	for _, v := range s.views {
		k := t.join(v)
		if k == nil || k.looks < 2 || k.last != t.frame {
			continue
		}
		y, ok := k.read(v, s)
		if !ok {
			continue
		}
		other := func(f symbol) bool { return f.text != y.text && near(f.corners, y.corners) }
		if slices.ContainsFunc(s.found, other) { // the frame by itself says another: the label was changed
			t.forget(k)
			continue
		}
		s.found.add(y)
	}
}

// near reports whether two symbols may be one that a hand has moved a little.
func near(a, b quad) bool {
	side, other := a.side(), b.side()
	return a.middle().distance(b.middle()) < 0.6*max(side, other) && side < 1.35*other && other < 1.35*side
}

// join adds a view to the track it belongs to, or begins one. A track in the same
// place that it does not agree with is another label's, and gone.
func (t *Tracker) join(v view) *track {
	for i := len(t.tracks) - 1; i >= 0; i-- {
		k := &t.tracks[i]
		if !near(k.corners, v.corners) {
			continue
		}
		if k.last < t.frame && k.agrees(v) {
			k.take(v)
			k.last = t.frame
			return k
		}
		if k.last < t.frame {
			t.forget(k)
		}
	}
	if len(t.tracks) >= mostTracks {
		return nil
	}
	v.stream.bits = slices.Clone(v.stream.bits)
	t.tracks = append(t.tracks, track{view: v, looks: 1, sum: v.common, last: t.frame})
	return &t.tracks[len(t.tracks)-1]
}

func (t *Tracker) forget(k *track) {
	t.tracks = slices.DeleteFunc(t.tracks, func(o track) bool { return o.corners == k.corners && o.last == k.last })
}

// agrees reports whether a view shows the same code as far as one can tell, by
// the bits that differ between codes.
func (k *track) agrees(v view) bool {
	if k.stream.coding != v.stream.coding || k.stream.mask != v.stream.mask || k.form.key.address != v.form.key.address {
		return false
	}
	return v.form.likeness(v.stream.bits, func(place, bit int) float64 { return float64(clip(k.stream.bits[8*place+bit], 1)) }) >= agreeScore
}

// likeness is the correlation, −1 to 1, of bits with others over those that differ
// between codes.
func (f *form) likeness(bits []float32, other func(place, bit int) float64) float64 {
	var dot, a, b float64
	for place := range f.coding.total {
		for bit := range 8 {
			if f.varies(place, bit) {
				x, y := float64(clip(bits[8*place+bit], 1)), other(place, bit)
				dot, a, b = dot+x*y, a+x*x, b+y*y
			}
		}
	}
	return dot / math.Sqrt(max(1e-9, a*b))
}

// take adds a view by how clearly it shows what is known.
func (k *track) take(v view) {
	k.sum = min(k.sum, mostLooks*v.common) + v.common
	share := float32(v.common / k.sum)
	for i, b := range v.stream.bits {
		k.stream.bits[i] += share * (clip(b, 1) - k.stream.bits[i])
	}
	k.looks++
	k.corners, k.form = v.corners, v.form
}

// read reads the sum as a single picture's symbol is read, and asks the newest
// view whether it can be that code.
func (k *track) read(v view, s *search) (symbol, bool) {
	var best knownResult
	for i := range s.matcher.sheets {
		sh := &s.matcher.sheets[i]
		if sh.form.coding != k.stream.coding {
			continue
		}
		if r := sh.compare(k.stream, s.budget); r.text != "" {
			best = r
			break
		} else if r.betterThan(&best) {
			best = r
		}
	}
	text := best.text
	if text == "" && best.match.sure() {
		text = best.payload
	}
	if text == "" || !v.speaksFor(text, best.form) {
		return symbol{}, false
	}
	return symbol{text: text, corners: v.corners, matched: best.text == ""}, true
}

// speaksFor reports whether a view by itself looks like a text's symbol.
func (v *view) speaksFor(text string, f *form) bool {
	words := writeWords(cut(text), f.coding)
	return f.likeness(v.stream.bits, func(place, bit int) float64 { return float64(words[place]>>(7-bit)&1)*2 - 1 }) >= speakScore
}
