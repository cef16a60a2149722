package labels

import (
	"bytes"
	"math"
	"strconv"
	"time"

	"github.com/jung-kurt/gofpdf"
)

const (
	mmPerInch   = 25.4
	pointsPerMM = 72 / mmPerInch
)

// fixedDay goes into files whose job names no day, since the library would
// otherwise write the time of day and no two files would be equal.
var fixedDay = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// document is a PDF under way. One goroutine owns it.
type document struct {
	pdf   *gofpdf.Fpdf
	pageH float64
	raw   []byte // buffer for path operators
	font  *face  // selected on the page under way
	size  float64
}

// newDocument starts a file of pages of one size. "P" always: with "L" the library
// swaps width and height. Each document has its own copy of the fonts, because the
// library writes to the bytes it is given.
func newDocument(pageW, pageH float64, made time.Time) *document {
	if made.IsZero() {
		made = fixedDay
	}
	pdf := gofpdf.NewCustom(&gofpdf.InitType{
		OrientationStr: "P", UnitStr: "mm", Size: gofpdf.SizeType{Wd: pageW, Ht: pageH},
	})
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(made.UTC())
	pdf.SetModificationDate(made.UTC())
	pdf.SetProducer("bagmark", true)
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	for _, f := range loadFaces().all() {
		pdf.AddUTF8FontFromBytes(f.name, "", bytes.Clone(f.ttf))
	}
	return &document{pdf: pdf, pageH: pageH}
}

func (d *document) addPage() {
	d.pdf.AddPage()
	d.font = nil
}

// bytes ends the file and asks viewers not to scale it.
func (d *document) bytes() ([]byte, error) {
	var out bytes.Buffer
	if err := d.pdf.Output(&out); err != nil {
		return nil, &Error{Message: "the PDF could not be made: " + err.Error()}
	}
	return printUnscaled(out.Bytes())
}

// draw puts a label's content with its top left at x, y.
func (d *document) draw(k *ink, x, y float64) {
	for _, m := range k.marks {
		switch m.kind {
		case markText:
			d.text(m, x, y)
		case markSymbol:
			d.symbol(k, x+m.x, y+m.y)
		case markRule, markTick, markBox:
			d.stroke(m, x+m.x, y+m.y)
		case markPanel:
			d.panel(m, x+m.x, y+m.y)
		case markBlock, markPen:
			d.notched(m, x+m.x, y+m.y)
		}
	}
}

// text selects the font only when it changes.
func (d *document) text(m mark, x, y float64) {
	size := math.Round(m.face.points(m.h)*100) / 100
	if d.font != m.face || d.size != size {
		d.pdf.SetFont(m.face.name, "", size)
		d.font, d.size = m.face, size
	}
	if m.white {
		d.pdf.SetTextColor(255, 255, 255)
	}
	d.pdf.Text(x+m.x, y+m.y, m.text)
	if m.white {
		d.pdf.SetTextColor(0, 0, 0)
	}
}

// symbol draws all runs as one path in units of a module: the file stays small and
// neighbours share an exact edge, so no viewer shows seams. The corner is put on
// the printer's dot grid; with a module of whole dots every edge then is.
func (d *document) symbol(k *ink, x, y float64) {
	x = math.Round((x+QuietZone*k.module)/k.dot) * k.dot
	y = math.Round((y+QuietZone*k.module)/k.dot) * k.dot
	m := k.module * pointsPerMM
	d.raw = append(d.raw[:0], "q "...)
	d.numbers(5, m, 0, 0, -m, x*pointsPerMM, (d.pageH-y)*pointsPerMM)
	d.raw = append(d.raw, "cm\n"...)
	for _, r := range k.symbol.runs() {
		for _, n := range [3]int{r.x, r.y, r.n} {
			d.raw = strconv.AppendInt(d.raw, int64(n), 10)
			d.raw = append(d.raw, ' ')
		}
		d.raw = append(d.raw, "1 re\n"...)
	}
	d.raw = append(d.raw, "f Q"...)
	d.pdf.RawWriteStr(string(d.raw))
}

// notchMM is the largest cut of a block's top left corner.
const notchMM = 3.0

// notched draws a filled block or the outline of a pen box, with its notched corner.
func (d *document) notched(m mark, x, y float64) {
	cut := min(notchMM, m.h/4)
	d.raw = d.raw[:0]
	if m.kind == markPen {
		d.numbers(3, hairline*pointsPerMM)
		d.raw = append(d.raw, "w "...)
	}
	for i, c := range [][2]float64{{x + cut, y}, {x + m.w, y}, {x + m.w, y + m.h}, {x, y + m.h}, {x, y + cut}} {
		d.numbers(3, c[0]*pointsPerMM, (d.pageH-c[1])*pointsPerMM)
		d.raw = append(d.raw, "ml"[min(i, 1)], ' ')
	}
	if m.kind == markPen {
		d.raw = append(d.raw, "s"...)
	} else {
		d.raw = append(d.raw, "h f"...)
	}
	d.pdf.RawWriteStr(string(d.raw))
}

// stroke draws a line or the outline of a box.
func (d *document) stroke(m mark, x, y float64) {
	width := hairline
	if m.kind == markTick {
		width = tickMM
	}
	d.raw = d.raw[:0]
	d.numbers(3, width*pointsPerMM)
	d.raw = append(d.raw, "w "...)
	if m.kind == markBox {
		d.rect(m, x, y)
		d.raw = append(d.raw, "re S"...)
	} else {
		d.numbers(3, x*pointsPerMM, (d.pageH-y)*pointsPerMM)
		d.raw = append(d.raw, "m "...)
		d.numbers(3, (x+m.w)*pointsPerMM, (d.pageH-y-m.h)*pointsPerMM)
		d.raw = append(d.raw, "l S"...)
	}
	d.pdf.RawWriteStr(string(d.raw))
}

// panel paints a white ground.
func (d *document) panel(m mark, x, y float64) {
	d.raw = append(d.raw[:0], "q 1 g "...)
	d.rect(m, x, y)
	d.raw = append(d.raw, "re f Q"...)
	d.pdf.RawWriteStr(string(d.raw))
}

func (d *document) rect(m mark, x, y float64) {
	d.numbers(3, x*pointsPerMM, (d.pageH-y-m.h)*pointsPerMM, m.w*pointsPerMM, m.h*pointsPerMM)
}

// numbers appends operands, each followed by a space.
func (d *document) numbers(digits int, values ...float64) {
	for _, v := range values {
		d.raw = strconv.AppendFloat(d.raw, v, 'f', digits, 64)
		d.raw = append(d.raw, ' ')
	}
}
