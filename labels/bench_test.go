package labels

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/jung-kurt/gofpdf"
)

// BenchmarkSheet draws a sheet of 21 labels and a run of 500, and in the same run
// draws the same rectangles and words with the PDF library alone, from coordinates
// worked out beforehand. x-plain is how many times as long the whole takes,
// symbols and layout included; the aim is 1.5 or less on two free processors.
// Most of what is over is the encoding of symbols, which the baseline is spared:
// x-plain-symbols compares with the baseline and that encoding, one after another.
func BenchmarkSheet(b *testing.B) {
	s, _ := SheetByName("a4-3x7-63.5x38.1")
	for _, n := range []int{21, 500} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			job := Job{Sheet: s, Labels: farmRun(n)}
			plain := plainly(b, job)
			var ours, baseline, symbols time.Duration
			for b.Loop() {
				start := time.Now()
				if _, err := job.PDF(); err != nil {
					b.Fatal(err)
				}
				ours += time.Since(start)
				start = time.Now()
				plain()
				baseline += time.Since(start)
				start = time.Now()
				for _, l := range job.Labels {
					if _, err := NewSymbol(l.Payload); err != nil {
						b.Fatal(err)
					}
				}
				symbols += time.Since(start)
			}
			b.ReportMetric(float64(ours)/float64(baseline), "x-plain")
			b.ReportMetric(float64(ours)/float64(baseline+symbols), "x-plain-symbols")
		})
	}
}

// farmRun is a run of bags of which one in ten departs from the routine.
func farmRun(n int) []Label {
	bags := sampleBags(n)
	for i := range bags {
		bags[i].Departures = nil
		if i%10 == 9 {
			bags[i].Departures = sampleDepartures[1+i/10%2]
		}
	}
	return bags
}

// plainly gives a function that draws the job's vectors with the library alone.
func plainly(b *testing.B, j Job) func() {
	type rect struct{ x, y, w, h float64 }
	type words struct {
		x, y, size float64
		font, text string
		white      bool
	}
	type page struct {
		rects []rect
		words []words
	}
	var pages []page
	for i, l := range j.Labels {
		if i%j.Sheet.PerPage() == 0 {
			pages = append(pages, page{})
		}
		p := &pages[len(pages)-1]
		k := mustLayout(b, l, j.Sheet, laserDPI)
		x, y := j.Sheet.contentAt(i % j.Sheet.PerPage())
		for _, m := range k.marks {
			switch m.kind {
			case markText:
				p.words = append(p.words, words{x + m.x, y + m.y, m.face.points(m.h), m.face.name, m.text, m.white})
			case markSymbol:
				for _, r := range k.symbol.runs() {
					p.rects = append(p.rects, rect{
						x + m.x + float64(QuietZone+r.x)*k.module, y + m.y + float64(QuietZone+r.y)*k.module,
						float64(r.n) * k.module, k.module,
					})
				}
			default:
				p.rects = append(p.rects, rect{x + m.x, y + m.y, m.w, m.h})
			}
		}
	}
	return func() {
		pdf := gofpdf.New("P", "mm", "A4", "")
		pdf.SetCatalogSort(true)
		pdf.SetMargins(0, 0, 0)
		pdf.SetAutoPageBreak(false, 0)
		for _, f := range loadFaces().all() {
			pdf.AddUTF8FontFromBytes(f.name, "", bytes.Clone(f.ttf))
		}
		for _, p := range pages {
			pdf.AddPage()
			for _, r := range p.rects {
				pdf.Rect(r.x, r.y, r.w, r.h, "F")
			}
			for _, w := range p.words {
				pdf.SetFont(w.font, "", w.size)
				if w.white {
					pdf.SetTextColor(255, 255, 255)
				} else {
					pdf.SetTextColor(0, 0, 0)
				}
				pdf.Text(w.x, w.y, w.text)
			}
		}
		var out bytes.Buffer
		if err := pdf.Output(&out); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSymbol(b *testing.B) {
	for b.Loop() {
		if _, err := NewSymbol(samplePayload(7)); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLayout(b *testing.B) {
	s, _ := SheetByName("a4-3x7-63.5x38.1")
	for n, name := range []string{"plain", "one departure", "two", "five", "six"} {
		b.Run(name, func(b *testing.B) {
			k := mustLayout(b, sampleLabel(n), s, laserDPI)
			words := sampleLabel(n).cleaned(s.LabelH)
			for b.Loop() {
				compose(&ink{w: k.w, h: k.h, dot: k.dot, module: k.module, symbol: k.symbol}, words)
			}
		})
	}
}

// BenchmarkLayoutWorst has words that nobody would print, to show that they cost
// little more than time.
func BenchmarkLayoutWorst(b *testing.B) {
	s, _ := SheetByName("a4-5x13-38.1x21.2")
	l := sampleLabel(0)
	long := strings.Repeat("W ab ", 1000)
	l.Name, l.Species, l.Strain, l.Batch, l.Hint, l.Code = long, long, long, long, long, long
	for range maxDepartures {
		l.Departures = append(l.Departures, long)
	}
	for b.Loop() {
		mustLayout(b, l, s, laserDPI)
	}
}
