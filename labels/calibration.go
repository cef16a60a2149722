package labels

import (
	"fmt"
	"math"
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
		return min(100, math.Floor((page-2*FrameMM(s)-6)/10)*10)
	}
	return max(ruler(s.PageW), 10), max(ruler(s.PageH), 10)
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
	doc.draw(page.ink, 0, 0, laserDPI)
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
	c.ink.add(mark{kind: markRule, x: x, y: y, w: x2 - x, h: y2 - y})
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

// rulers draws ticks every 0.5 mm, longer ones every 1, 5 and 10 mm.
func (c *calibration) rulers() {
	across, down := Rulers(c.sheet)
	x, y := c.corner()
	for half := range int(across)*2 + 1 {
		c.line(x+float64(half)/2, y, 0, tick(half))
	}
	for half := range int(down)*2 + 1 {
		c.line(x, y+float64(half)/2, tick(half), 0)
	}
}

// corner is where both rulers start.
func (c *calibration) corner() (x, y float64) {
	across, down := Rulers(c.sheet)
	return (c.sheet.PageW - across) / 2, (c.sheet.PageH - down) / 2
}

func tick(half int) float64 {
	switch {
	case half%20 == 0:
		return 5
	case half%10 == 0:
		return 4
	case half%2 == 0:
		return 2.5
	}
	return 1.5
}

// words say what to do, inside the corner of the two rulers.
func (c *calibration) words() {
	across, down := Rulers(c.sheet)
	frame := tenth(FrameMM(c.sheet))
	f := loadFaces()
	x, y := c.corner()
	room := across - 8
	capMM := min(2.6, down/22)
	y += 9
	for i, text := range []string{
		"Calibration page for " + c.sheet.Name,
		"1. Print at 100 %, actual size. Switch off fit, shrink and scale.",
		fmt.Sprintf("2. Measure the ruler across. It should be %s mm.", tenth(across)),
		fmt.Sprintf("3. Measure the ruler down. It should be %s mm.", tenth(down)),
		fmt.Sprintf("4. Measure from the paper's left edge to the frame, and from its top edge to the frame. Both should be %s mm.", frame),
		"5. Enter what you measured. If all is as it should be, enter nothing.",
		"6. Hold the page against a sheet of labels in front of a lamp: the outlines should lie on the cuts.",
	} {
		face := f.medium
		if i == 0 {
			face = f.bold
		}
		broken, _ := face.wrap(face.clean(text), capMM, room, 4)
		for _, line := range broken {
			c.ink.write(face, line, capMM, x+8, y)
			y += capMM * 1.7
		}
		y += capMM * 0.6
	}
}
