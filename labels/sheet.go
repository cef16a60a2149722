package labels

import (
	"fmt"
	"math"
	"regexp"
)

// Sheet is one kind of label stock: a page of die-cut labels, or a roll whose page
// is the label. All lengths are millimetres from the page's top left corner.
type Sheet struct {
	Name    string  `json:"name"`
	PageW   float64 `json:"page_w_mm"`
	PageH   float64 `json:"page_h_mm"`
	LabelW  float64 `json:"label_w_mm"`
	LabelH  float64 `json:"label_h_mm"`
	Columns int     `json:"columns"`
	Rows    int     `json:"rows"`
	Left    float64 `json:"left_mm"`    // page edge to first label
	Top     float64 `json:"top_mm"`     // page edge to first label
	PitchX  float64 `json:"pitch_x_mm"` // left edge to left edge
	PitchY  float64 `json:"pitch_y_mm"` // top edge to top edge
	Roll    bool    `json:"roll"`
}

// Limits of a farm's own stock. The smallest label still holds a version 3 symbol
// with its quiet zone at 0.4 mm a module and 1 mm free on each side (arithmetic).
const (
	minLabelMM = 17.0
	maxPageMM  = 1200.0
	maxColumns = 20
	maxRows    = 100
	slackMM    = 0.05 // published layouts are rounded to 0.01 or 0.1 mm
)

var sheetName = regexp.MustCompile(`^[a-z0-9][a-z0-9.-]{1,59}$`)

// PerPage is the number of labels on a page.
func (s Sheet) PerPage() int { return s.Columns * s.Rows }

// Origin is the top left corner of a label's die cut; at counts from 0, row by row.
func (s Sheet) Origin(at int) (x, y float64) {
	return s.Left + float64(at%s.Columns)*s.PitchX, s.Top + float64(at/s.Columns)*s.PitchY
}

// Validate checks a sheet and reports every field that is wrong in one *Error.
func (s Sheet) Validate() error {
	var p problems
	p.check(sheetName.MatchString(s.Name), "name", "must be 2 to 60 small letters, digits, dots and hyphens, such as a4-3x7-63.5x38.1")
	s.checkSizes(&p)
	if len(p) == 0 {
		s.checkGeometry(&p)
	}
	return p.err("this label sheet cannot be used")
}

// checkSizes looks at each number by itself.
func (s Sheet) checkSizes(p *problems) {
	for _, f := range []struct {
		field    string
		mm       float64
		low, top float64
	}{
		{"page_w_mm", s.PageW, minLabelMM, maxPageMM},
		{"page_h_mm", s.PageH, minLabelMM, maxPageMM},
		{"label_w_mm", s.LabelW, minLabelMM, maxPageMM},
		{"label_h_mm", s.LabelH, minLabelMM, maxPageMM},
		{"left_mm", s.Left, 0, maxPageMM},
		{"top_mm", s.Top, 0, maxPageMM},
		{"pitch_x_mm", s.PitchX, minLabelMM, maxPageMM},
		{"pitch_y_mm", s.PitchY, minLabelMM, maxPageMM},
	} {
		p.check(f.mm >= f.low && f.mm <= f.top, f.field, fmt.Sprintf("must be %g to %g mm", f.low, f.top))
	}
	p.check(s.Columns >= 1 && s.Columns <= maxColumns, "columns", fmt.Sprintf("must be 1 to %d", maxColumns))
	p.check(s.Rows >= 1 && s.Rows <= maxRows, "rows", fmt.Sprintf("must be 1 to %d", maxRows))
}

// checkGeometry looks at how the numbers go together.
func (s Sheet) checkGeometry(p *problems) {
	if s.Roll {
		p.check(s.Columns == 1, "columns", "must be 1 on a roll")
		p.check(s.Rows == 1, "rows", "must be 1 on a roll")
		p.check(s.Left == 0, "left_mm", "must be 0 on a roll")
		p.check(s.Top == 0, "top_mm", "must be 0 on a roll")
		p.check(s.LabelW == s.PageW, "label_w_mm", "must equal page_w_mm on a roll")
		p.check(s.LabelH == s.PageH, "label_h_mm", "must equal page_h_mm on a roll")
	}
	p.check(s.PitchX >= s.LabelW-slackMM, "pitch_x_mm", "must not be less than label_w_mm, or labels would overlap")
	p.check(s.PitchY >= s.LabelH-slackMM, "pitch_y_mm", "must not be less than label_h_mm, or labels would overlap")
	right := s.Left + float64(s.Columns-1)*s.PitchX + s.LabelW
	p.check(right <= s.PageW+slackMM, "columns", fmt.Sprintf("must fit the page: the last label ends at %.1f mm of %.1f", right, s.PageW))
	bottom := s.Top + float64(s.Rows-1)*s.PitchY + s.LabelH
	p.check(bottom <= s.PageH+slackMM, "rows", fmt.Sprintf("must fit the page: the last label ends at %.1f mm of %.1f", bottom, s.PageH))
}

// dieCutMM is kept free inside each die cut, since paper feeds drift (common practice).
const dieCutMM = 1.0

// pageEdgeMM is left unprinted by laser printers (common practice: 4 to 5 mm).
const pageEdgeMM = 5.0

// rollEdgeMM is kept free at the sides of rolls wider than 60 mm, whose print
// head is narrower than the tape (from memory).
const rollEdgeMM = 2.0

// inset gives how far content stays from the die cut of the label at a position.
func (s Sheet) inset(at int) (left, top, right, bottom float64) {
	if s.Roll {
		side := dieCutMM
		if s.LabelW > 60 {
			side = rollEdgeMM
		}
		return side, dieCutMM, side, dieCutMM
	}
	x, y := s.Origin(at)
	left = max(dieCutMM, pageEdgeMM-x)
	top = max(dieCutMM, pageEdgeMM-y)
	right = max(dieCutMM, x+s.LabelW-(s.PageW-pageEdgeMM))
	bottom = max(dieCutMM, y+s.LabelH-(s.PageH-pageEdgeMM))
	return left, top, right, bottom
}

// content is the size that every label of the sheet can fill: the smallest over
// its positions, so that all labels of a run look alike.
func (s Sheet) content() (w, h float64) {
	w, h = s.LabelW, s.LabelH
	for at := range s.PerPage() {
		left, top, right, bottom := s.inset(at)
		w = min(w, s.LabelW-left-right)
		h = min(h, s.LabelH-top-bottom)
	}
	return w, h
}

// contentAt is where the content of one position starts: in the middle of what
// may be printed there.
func (s Sheet) contentAt(at int) (x, y float64) {
	w, h := s.content()
	left, top, right, bottom := s.inset(at)
	x, y = s.Origin(at)
	x += left + (s.LabelW-left-right-w)/2
	y += top + (s.LabelH-top-bottom-h)/2
	return x, y
}

// Correction undoes what a printer does to a page. Content is moved, each label as
// a whole, so that a module stays a whole number of dots. The zero value corrects
// nothing.
type Correction struct {
	OffsetX float64 `json:"offset_x_mm"`      // to the right
	OffsetY float64 `json:"offset_y_mm"`      // down
	ScaleX  float64 `json:"scale_x_permille"` // + stretches: 2 means 100.2 mm for 100
	ScaleY  float64 `json:"scale_y_permille"`
}

// Limits of a correction: beyond them the dialog's scaling is to be switched off,
// not corrected (common practice).
const (
	maxOffsetMM      = 10.0
	maxScalePermille = 50.0
)

// Validate reports every field out of bounds in one *Error.
func (c Correction) Validate() error {
	var p problems
	inside := func(v, limit float64) bool { return math.Abs(v) <= limit }
	p.check(inside(c.OffsetX, maxOffsetMM), "offset_x_mm", fmt.Sprintf("must be -%g to %g mm", maxOffsetMM, maxOffsetMM))
	p.check(inside(c.OffsetY, maxOffsetMM), "offset_y_mm", fmt.Sprintf("must be -%g to %g mm", maxOffsetMM, maxOffsetMM))
	p.check(inside(c.ScaleX, maxScalePermille), "scale_x_permille", fmt.Sprintf("must be -%g to %g", maxScalePermille, maxScalePermille))
	p.check(inside(c.ScaleY, maxScalePermille), "scale_y_permille", fmt.Sprintf("must be -%g to %g", maxScalePermille, maxScalePermille))
	return p.err("this correction cannot be used")
}

// Apply moves a point of the page to where it has to be sent.
func (c Correction) Apply(x, y float64) (float64, float64) {
	return x*(1+c.ScaleX/1000) + c.OffsetX, y*(1+c.ScaleY/1000) + c.OffsetY
}

// Measured is what a ruler says about a printed calibration page, in millimetres.
// A true printer gives back what [Rulers] and [FrameMM] say.
type Measured struct {
	Across float64 // length of the ruler across the page
	Down   float64 // length of the ruler down the page
	Left   float64 // paper's left edge to the frame
	Top    float64 // paper's top edge to the frame
}

// Correction works out what undoes the measured error. A printer puts a point x at
// a·x + b; the ruler gives a, the frame then b, and the inverse is x/a − b/a.
func (m Measured) Correction(s Sheet) (Correction, error) {
	across, down := Rulers(s)
	frame := FrameMM(s)
	ax, ay := m.Across/across, m.Down/down
	if !(ax > 0 && ay > 0) {
		return Correction{}, &Error{Message: "a measured ruler cannot be 0 mm or less"}
	}
	c := Correction{
		OffsetX: frame - m.Left/ax,
		OffsetY: frame - m.Top/ay,
		ScaleX:  (1/ax - 1) * 1000,
		ScaleY:  (1/ay - 1) * 1000,
	}
	return c, c.Validate()
}
