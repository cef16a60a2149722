package labels

import "math"

// A label is a column of words at the left and the symbol at the right, the code
// under it where it fits. Words flow from the top of the column; departures and
// pen boxes stand at its bottom. Upright labels have the column above the symbol.
//
// compose tries the full label, then drops one optional thing after another, then
// shrinks letters, and takes the first plan that fits.

// area is a rectangle of the content, in millimetres.
type area struct{ x, y, w, h float64 }

// Height of capitals on a label whose content is baseH high, in millimetres: name
// and date to be read at 1 m, the rest at arm's length. Larger and smaller labels
// scale the first four; letters to be read at arm's length keep their height.
const (
	baseH       = 36.1 // content of a label 38.1 mm high
	baseW       = 31.0 // its column of words
	nameMM      = 7.6
	dateMM      = 5.4
	numberMM    = 4.0
	blockMM     = 4.8 // a departure's block, letters 0.6 of it
	codeMM      = 3.5
	leastCodeMM = 3.2 // under the symbol; with less room the code goes into the column
	weekdayMM   = 3.0
	strainMM    = 2.5
	smallMM     = 2.1 // nothing is meant to be smaller: 8.5 point capitals
	leastMM     = 2.0 // of what every label carries, until nothing else helps
	boxMM       = 3.4
	penGapMM    = 1.0 // above pen boxes
)

// The order in which optional things fall out.
const (
	dropHint    = iota + 1
	dropSpecies // the short name stays
	dropBatch   // the code stays
	dropPenBoxes
	dropStrain
	dropWeekday
	dropAll = dropWeekday
)

// plan is one attempt: what was dropped, how much letters have shrunk, and how far
// apart rows stand.
type plan struct {
	dropped int
	shrink  float64
	air     float64
}

// plans are tried in order: the largest letters with which everything fits, then
// less air, then dropping, and at each step a little shrinking before more is
// dropped. The last plans only shrink, until all fits.
var plans = func() []plan {
	out := []plan{{0, 1.3, 1}, {0, 1.15, 1}}
	for dropped := range dropAll + 1 {
		out = append(out, plan{dropped, 1, 1.35}, plan{dropped, 1, 1})
		if dropped >= dropHint {
			out = append(out, plan{dropped, 0.93, 1})
		}
		if dropped >= dropBatch {
			out = append(out, plan{dropped, 0.87, 1})
		}
	}
	for shrink := 0.82; shrink > 0.02; shrink *= 0.95 {
		out = append(out, plan{dropAll, shrink, 1.35}, plan{dropAll, shrink, 1})
	}
	return out
}()

// without takes away what a plan drops.
func (l Label) without(p plan) Label {
	for step, word := range map[int]*string{
		dropHint: &l.Hint, dropSpecies: &l.Species, dropBatch: &l.Batch, dropStrain: &l.Strain, dropWeekday: &l.Weekday,
	} {
		if p.dropped >= step {
			*word = ""
		}
	}
	if p.dropped >= dropPenBoxes {
		l.PenBoxes = nil
	}
	return l
}

// compose fills the ink of one label with cleaned words.
func compose(k *ink, l Label) {
	if k.symbol == nil && l.Name == "" && l.Code == "" && len(l.Departures) > 0 {
		sticker(k, l.Departures)
		return
	}
	words, under := k.split()
	if k.symbol != nil {
		side := float64(k.symbol.Side()) * k.module
		k.add(mark{kind: markSymbol, x: under.x + k.dot/2, y: under.y - side - k.dot/2, w: side, h: side})
	}
	marks := len(k.marks)
	for _, p := range plans {
		k.marks = k.marks[:marks]
		if k.attempt(l, p, words, under) {
			return
		}
	}
}

// attempt lays a label out under one plan and says whether it fits. Pen boxes run
// along the whole lower edge where the code still fits above them. What finds
// room under the symbol costs the column nothing, so it is not dropped there.
func (k *ink) attempt(l Label, p plan, words, under area) bool {
	kept, unit, slack := l.without(p), words.unit(), 0.0
	if len(kept.PenBoxes) > 0 {
		foot := k.packPens(kept.PenBoxes, k.w)
		if foot.height()+leastCodeMM+penGapMM > under.h {
			foot = k.packPens(kept.PenBoxes, words.w)
		} else {
			under.h -= foot.height() + penGapMM
			slack = 0.9 * penGapMM
		}
		words.h = min(words.h, k.h-foot.height()-penGapMM-words.y)
		k.drawPens(foot, k.h-foot.height())
	}
	left := k.underSymbol(l, under, slack)
	kept.Code = left.Code
	if left.Species == "" {
		kept.Species = ""
	}
	if left.Hint == "" {
		kept.Hint = ""
	}
	return newColumn(k, kept, words, p, unit).fill()
}

// gutterMM is between the column and what stands under the symbol.
const gutterMM = 0.6

// split gives the column of words and the strip under the symbol.
func (k *ink) split() (column, under area) {
	if k.symbol == nil {
		return area{0, 0, k.w, k.h}, area{0, k.h, k.w, 0}
	}
	side := float64(k.symbol.Side())*k.module + k.dot // half a dot each way for the dot grid
	if k.h > 1.2*k.w {
		strip := min(16, (k.h-side)/4)
		return area{0, 0, k.w, k.h - side - strip}, area{k.w - side, k.h - strip, side, strip}
	}
	y := 0.0
	if k.h-side < leastCodeMM {
		y = (k.h - side) / 2
	}
	return area{0, 0, k.w - side - gutterMM, k.h}, area{k.w - side, y + side, side, k.h - y - side}
}

// underSymbol prints code, species and hint under the symbol as long as they fit,
// and gives back the label without what it has printed. The code's tail may hang
// into the slack below the strip.
func (k *ink) underSymbol(l Label, strip area, slack float64) Label {
	f := loadFaces()
	scale := min(max(strip.w/28, 1), 1.8)
	centre := strip.x + strip.w/2
	strip.w -= gutterMM
	y := strip.y
	if l.Code != "" {
		if strip.h < leastCodeMM {
			return l
		}
		over, tail := f.mono.reach(l.Code)
		room := min(strip.h/(1+over), (strip.h+slack)/(1+over+tail))
		fitted := f.mono.fit(l.Code, min(codeMM*scale, room), smallMM, strip.w, 1)
		y += fitted.cap * (1 + over)
		k.write(f.mono, fitted.text[0], fitted.cap, centre-f.mono.width(fitted.text[0], fitted.cap)/2, y)
		l.Code = ""
	}
	for _, word := range []*string{&l.Species, &l.Hint} {
		if *word == "" {
			continue
		}
		small := smallMM * min(scale, 1.4)
		if f.medium.width(*word, 0.8*small) > strip.w {
			return l // it would be cut here; the column can wrap it
		}
		fitted := f.medium.fit(*word, small, small*0.8, strip.w, 1)
		over, tail := f.medium.reach(fitted.text[0])
		step := fitted.cap * (1.5 + over)
		if y+step+tail*fitted.cap > strip.y+strip.h {
			return l
		}
		y += step
		k.write(f.medium, fitted.text[0], fitted.cap, centre-f.medium.width(fitted.text[0], fitted.cap)/2, y)
		*word = ""
	}
	return l
}

// unit is how much larger or smaller than on the 38.1 mm label things to be read
// at 1 m are. Low labels keep more of the size than their height alone would give.
func (a area) unit() float64 {
	return min(max(math.Pow(a.h/baseH, 0.7), 0.5), 2.2)
}
