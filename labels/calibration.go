package labels

import (
	"fmt"
	"math"
	"strconv"
	"time"
)

// FrameMM is how far the calibration page's frame stands inside each edge.
func FrameMM(s Sheet) float64 {
	if s.Roll {
		return 2
	}
	return pageEdgeMM
}

// Rulers gives the lengths of the calibration page's rulers across and down the
// page: 100 mm, or the whole tens that a small label holds.
func Rulers(s Sheet) (across, down float64) {
	ruler := func(page float64) float64 {
		return min(100, math.Floor((page-2*FrameMM(s)-rulerMM-2.5)/10)*10)
	}
	return max(ruler(s.PageW), 5), max(ruler(s.PageH), 5)
}

// Calibration draws a page that shows how a printer scales and shifts: a ruler
// across and one down, a frame near the page's edges, every die cut in outline, and
// what to do. With the printer's correction the page shows whether it is right. It
// is the one page that prints outside die cuts.
func Calibration(s Sheet, c Correction, made time.Time) ([]byte, error) {
	if err := s.Validate(); err != nil {
		return nil, err
	}
	if err := c.Validate(); err != nil {
		return nil, err
	}
	doc := newDocument(s.PageW, s.PageH, made)
	doc.addPage()
	page := calibration{sheet: s, fix: c, ink: &ink{w: s.PageW, h: s.PageH}}
	page.outlines()
	page.rulers()
	page.words()
	doc.draw(page.ink, 0, 0)
	return doc.bytes()
}

type calibration struct {
	sheet Sheet
	fix   Correction
	ink   *ink
}

// box and line put page coordinates through the correction.
func (c *calibration) box(x, y, w, h float64) {
	x2, y2 := c.fix.Apply(x+w, y+h)
	x, y = c.fix.Apply(x, y)
	c.ink.add(mark{kind: markBox, x: x, y: y, w: x2 - x, h: y2 - y})
}

func (c *calibration) line(x, y, w, h float64) {
	x2, y2 := c.fix.Apply(x+w, y+h)
	x, y = c.fix.Apply(x, y)
	c.ink.add(mark{kind: markTick, x: x, y: y, w: x2 - x, h: y2 - y})
}

// outlines draws the frame and the die cuts.
func (c *calibration) outlines() {
	frame := FrameMM(c.sheet)
	c.box(frame, frame, c.sheet.PageW-2*frame, c.sheet.PageH-2*frame)
	for at := range c.sheet.PerPage() {
		x, y := c.sheet.Origin(at)
		c.box(x, y, c.sheet.LabelW, c.sheet.LabelH)
	}
}

// rulers draws both scales outwards from one corner, on a white panel so that no
// outline runs through them or the words.
func (c *calibration) rulers() {
	across, down := Rulers(c.sheet)
	x, y := c.corner()
	x0, y0 := c.fix.Apply(x-rulerMM, y-rulerMM)
	x1, y1 := c.fix.Apply(x+across+2, y+down+2)
	c.ink.add(mark{kind: markPanel, x: x0, y: y0, w: x1 - x0, h: y1 - y0})
	mono := loadFaces().mono
	for half := range int(across)*2 + 1 {
		at := x + float64(half)/2
		c.line(at, y-tick(half), 0, tick(half))
		if half%20 == 0 {
			number := strconv.Itoa(half / 2)
			nx, ny := c.fix.Apply(at, y-tick(half)-0.7)
			c.ink.write(mono, number, 1.6, nx-mono.width(number, 1.6)/2, ny)
		}
	}
	for half := range int(down)*2 + 1 {
		at := y + float64(half)/2
		c.line(x-tick(half), at, tick(half), 0)
		if half%20 == 0 {
			number := strconv.Itoa(half / 2)
			nx, ny := c.fix.Apply(x-tick(half)-0.7, at)
			c.ink.write(mono, number, 1.6, nx-mono.width(number, 1.6), ny+0.8)
		}
	}
}

// rulerMM is the room that a ruler's ticks and numbers take.
const rulerMM = 7.5

// corner is where both rulers start.
func (c *calibration) corner() (x, y float64) {
	across, down := Rulers(c.sheet)
	return (c.sheet.PageW - across + rulerMM - 2) / 2, (c.sheet.PageH - down + rulerMM - 2) / 2
}

// tick lengths: the half millimetre, one, five and ten.
func tick(half int) float64 {
	switch {
	case half%20 == 0:
		return 5
	case half%10 == 0:
		return 4
	case half%2 == 0:
		return 2.8
	}
	return 1.6
}

// words say what to do, inside the corner of the two rulers.
func (c *calibration) words() {
	across, down := Rulers(c.sheet)
	f := loadFaces()
	x, y := c.corner()
	capMM := 2.6
	text := c.instructions(across, down)
	if down < 80 || across < 80 {
		capMM = max(min(1.7, min(across/12, down/8)), 1.2)
		text = []string{text[0], fmt.Sprintf("Print at 100 %%. Rulers %s and %s mm, edge to frame %s mm.",
			tenth(across), tenth(down), tenth(FrameMM(c.sheet)))}
	}
	x, y = c.fix.Apply(x+1.5*capMM, y+2*capMM)
	for i, sentence := range text {
		face := f.medium
		if i == 0 {
			face = f.bold
		}
		broken, _ := face.wrap(face.clean(sentence), capMM, across-2*capMM, 6)
		for _, line := range broken {
			c.ink.write(face, line, capMM, x, y)
			y += capMM * 1.7
		}
		y += capMM * 0.6
	}
}

func (c *calibration) instructions(across, down float64) []string {
	return []string{
		"Calibration page for " + c.sheet.Name,
		"1. Print this page on plain paper at 100 %, actual size. Switch off fit, shrink and scale.",
		fmt.Sprintf("2. Measure the ruler across with a steel rule. It should be %s mm.", tenth(across)),
		fmt.Sprintf("3. Measure the ruler down. It should be %s mm.", tenth(down)),
		fmt.Sprintf("4. Measure from the paper's left edge to the frame, then from its top edge. Both should be %s mm.", tenth(FrameMM(c.sheet))),
		"5. Enter what you measured. If everything is as it should be, there is nothing to enter.",
		"6. Hold the page and a sheet of labels against a lamp: the outlines should lie on the cuts.",
	}
}
