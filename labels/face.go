package labels

import (
	"math"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomedium"
	"golang.org/x/image/font/gofont/gomonobold"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

// missing stands for every rune that the fonts lack.
const missing = '□'

const ellipsis = "…"

// noBreak is the one space at which no line breaks.
const noBreak = '\u00a0'

// face is one font with what layout needs to know of it. Shared and never changed.
type face struct {
	name      string // family in the PDF
	ttf       []byte // never handed out: each document gets a copy
	capHeight float64
	advance   [1 << 16]float32 // in em; negative where the font has no glyph
	above     [1 << 16]float32 // how far a glyph reaches above the baseline, in em
	below     [1 << 16]float32 // and below it
}

// faces are read once, on first use.
type faces struct{ bold, medium, mono *face }

var loadFaces = sync.OnceValue(func() *faces {
	return &faces{
		bold:   newFace("bold", gobold.TTF),
		medium: newFace("medium", gomedium.TTF),
		mono:   newFace("mono", gomonobold.TTF),
	}
})

func (f *faces) all() []*face { return []*face{f.bold, f.medium, f.mono} }

// newFace panics on a broken font: the fonts are compiled in.
func newFace(name string, ttf []byte) *face {
	parsed, err := sfnt.Parse(ttf)
	if err != nil {
		panic("labels: font " + name + ": " + err.Error())
	}
	var buf sfnt.Buffer
	em := fixed.I(int(parsed.UnitsPerEm()))
	f := &face{name: name, ttf: ttf}
	capital, err := parsed.GlyphIndex(&buf, 'H')
	if err != nil {
		panic("labels: font " + name + ": " + err.Error())
	}
	bounds, _, err := parsed.GlyphBounds(&buf, capital, em, font.HintingNone)
	if err != nil {
		panic("labels: font " + name + ": " + err.Error())
	}
	f.capHeight = float64(-bounds.Min.Y) / float64(em)
	for r := range f.advance {
		f.advance[r] = -1
		glyph, err := parsed.GlyphIndex(&buf, rune(r))
		if err != nil || glyph == 0 {
			continue
		}
		if bounds, adv, err := parsed.GlyphBounds(&buf, glyph, em, font.HintingNone); err == nil {
			f.advance[r] = float32(adv) / float32(em)
			f.above[r] = max(0, float32(-bounds.Min.Y)/float32(em))
			f.below[r] = max(0, float32(bounds.Max.Y)/float32(em))
		}
	}
	return f
}

// has says whether a rune can be printed: it has a glyph with a width.
func (f *face) has(r rune) bool {
	return r >= ' ' && int(r) < len(f.advance) && f.advance[r] > 0
}

// width of a cleaned text whose capitals are capMM high, in millimetres.
func (f *face) width(text string, capMM float64) float64 {
	var em float64
	for _, r := range text {
		if f.has(r) {
			em += float64(f.advance[r])
		}
	}
	return em * capMM / f.capHeight
}

// advanceMM is the width of one rune.
func (f *face) advanceMM(r rune, capMM float64) float64 {
	if !f.has(r) {
		return 0
	}
	return float64(f.advance[r]) * capMM / f.capHeight
}

// reach is how far a cleaned text goes above the height of its capitals and below
// its baseline, in capital heights: accents, round letters, descenders.
func (f *face) reach(text string) (over, under float64) {
	for _, r := range text {
		if f.has(r) {
			over = max(over, float64(f.above[r])/f.capHeight-1)
			under = max(under, float64(f.below[r])/f.capHeight)
		}
	}
	return over, under
}

// points gives the font size whose capitals are capMM high.
func (f *face) points(capMM float64) float64 {
	return capMM / f.capHeight * pointsPerMM
}

// maxRunes of a text are looked at: more could not be read on any label.
const maxRunes = 200

// clean makes any text printable with this face: composed (Unicode NFC), spaces
// joined, control and invisible characters gone, marks that could not be composed
// gone, everything else that the font lacks as a box.
func (f *face) clean(text string) string {
	var b strings.Builder
	space := false
	kept := 0
	for _, r := range norm.NFC.String(text[:min(len(text), 4*maxRunes)]) {
		if kept == maxRunes {
			break
		}
		switch {
		case unicode.IsSpace(r) && r != noBreak:
			space = b.Len() > 0
			continue
		case unicode.In(r, unicode.Cc, unicode.Cf), unicode.Is(unicode.Mn, r) && !f.has(r):
			continue
		case !f.has(r):
			r = missing
		case r == unicode.ReplacementChar:
			r = missing
		}
		if space {
			b.WriteByte(' ')
			space = false
		}
		b.WriteRune(r)
		kept++
	}
	return b.String()
}

// lines is a text broken to fit, all lines with capitals of one height.
type lines struct {
	text []string
	cap  float64
}

// fit breaks a cleaned text to a width: it shrinks from want to least on one line,
// then wraps into at most `most` lines, then cuts the last with an ellipsis.
func (f *face) fit(text string, want, least, width float64, most int) lines {
	one := f.width(text, 1)
	if one*want <= width {
		return lines{[]string{text}, want}
	}
	if height := width / one; height >= least {
		return lines{[]string{text}, height}
	}
	if found, ok := f.largest(text, want, width, most); ok && found.cap >= least {
		return found
	}
	broken, _ := f.wrap(text, least, width, most)
	return lines{broken, least}
}

// fitLarge breaks a text into as few or as many lines as give the largest capitals.
func (f *face) fitLarge(text string, want, width float64, most int) lines {
	one := lines{[]string{text}, min(want, width/max(f.width(text, 1), 0.1))}
	if broken, ok := f.largest(text, want, width, most); ok && broken.cap > one.cap {
		return broken
	}
	return one
}

// largest finds the largest capitals, up to want, with which a text breaks at its
// spaces into at most `most` lines.
func (f *face) largest(text string, want, width float64, most int) (lines, bool) {
	for height := want; most > 1 && height > want/20; height *= 0.95 {
		if broken, whole := f.wrap(text, height, width, most); whole {
			return lines{broken, height}, true
		}
	}
	return lines{}, false
}

// wrap breaks at spaces into at most `most` lines; whole is false when a word had
// to be broken or the end was cut.
func (f *face) wrap(text string, capMM, width float64, most int) (out []string, whole bool) {
	whole = true
	rest := text
	for rest != "" {
		if len(out) == most-1 && f.width(rest, capMM) > width {
			return append(out, f.cut(rest, capMM, width)), false
		}
		line, after, broken := f.breakLine(rest, capMM, width)
		out, rest = append(out, line), after
		whole = whole && !broken
	}
	return out, whole
}

// breakLine takes as many words as fit, or as many letters of a word that is wider
// than the line. It always takes at least one rune.
func (f *face) breakLine(text string, capMM, width float64) (line, rest string, broken bool) {
	var used float64
	lastSpace := -1
	for at, r := range text {
		used += f.advanceMM(r, capMM)
		if r == ' ' {
			lastSpace = at
		}
		if used <= width || at == 0 {
			continue
		}
		if lastSpace > 0 {
			return text[:lastSpace], text[lastSpace+1:], false
		}
		return text[:at], text[at:], true
	}
	return text, "", false
}

// cut shortens a text to a width, with an ellipsis at its end.
func (f *face) cut(text string, capMM, width float64) string {
	room := width - f.width(ellipsis, capMM)
	var used float64
	for at, r := range text {
		used += f.advanceMM(r, capMM)
		if used > room {
			return strings.TrimRight(text[:at], " ") + ellipsis
		}
	}
	return text
}

// round3 keeps coordinates to a thousandth of a millimetre, so that a layout
// prints the same on every processor.
func round3(mm float64) float64 { return math.Round(mm*1000) / 1000 }
