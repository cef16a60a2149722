package labels

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/multi/qrcode"
)

// need skips a test that lacks a program, or fails it when all are demanded.
func need(t *testing.T, programs ...string) {
	t.Helper()
	for _, program := range programs {
		if _, err := exec.LookPath(program); err != nil {
			if os.Getenv("BAGMARK_REQUIRE_TOOLS") == "1" {
				t.Fatalf("%s is not installed", program)
			}
			t.Skipf("%s is not installed", program)
		}
	}
}

// rasterise gives the pages of a PDF as a printer of that many dots per inch sees them.
func rasterise(t *testing.T, pdf []byte, dpi int) []*image.Gray {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, "labels.pdf")
	if err := os.WriteFile(file, pdf, 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("pdftoppm", "-r", fmt.Sprint(dpi), "-gray", "-png", file, filepath.Join(dir, "page"))
	if out, err := cmd.CombinedOutput(); err != nil || len(out) > 0 {
		t.Fatalf("pdftoppm: %v: %s", err, out)
	}
	names, err := filepath.Glob(filepath.Join(dir, "page*.png"))
	if err != nil {
		t.Fatal(err)
	}
	var pages []*image.Gray
	for _, name := range names {
		pages = append(pages, readGray(t, name))
	}
	return pages
}

func readGray(t *testing.T, name string) *image.Gray {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	picture, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if gray, ok := picture.(*image.Gray); ok {
		return gray
	}
	gray := image.NewGray(picture.Bounds())
	draw.Draw(gray, gray.Bounds(), picture, picture.Bounds().Min, draw.Src)
	return gray
}

// crop copies a part given in millimetres.
func crop(page *image.Gray, x, y, w, h float64, dpi int) *image.Gray {
	px := func(mm float64) int { return int(math.Round(mm / mmPerInch * float64(dpi))) }
	part := image.NewGray(image.Rect(0, 0, px(w), px(h)))
	draw.Draw(part, part.Bounds(), page, image.Pt(px(x), px(y)), draw.Src)
	return part
}

// TestEveryLabelIsRead prints every stock full, cuts the raster along the die cuts
// less 1 mm, and has each piece read by an independent program: its own payload,
// once. A second reader gives the finders' places, from which the quiet zone's
// edges follow.
func TestEveryLabelIsRead(t *testing.T) {
	t.Parallel()
	need(t, "pdftoppm", "zbarimg")
	const dpi = 200
	for _, s := range Sheets() {
		t.Run(s.Name, func(t *testing.T) {
			t.Parallel()
			bags := sampleBags(max(s.PerPage(), len(sampleDepartures)))
			pdf, err := Job{Sheet: s, Labels: bags}.PDF()
			if err != nil {
				t.Fatal(err)
			}
			pages := rasterise(t, pdf, dpi)
			pieces := make([]*image.Gray, len(bags))
			var want [][]string
			for i, bag := range bags {
				x, y := s.Origin(i % s.PerPage())
				pieces[i] = crop(pages[i/s.PerPage()], x+1, y+1, s.LabelW-2, s.LabelH-2, dpi)
				if i%3 == 0 { // slow, and all positions are laid out alike
					checkQuietZone(t, pieces[i], bag.Payload, dpi)
				}
				want = append(want, []string{bag.Payload})
			}
			if diff := cmp.Diff(want, zbar(t, pieces)); diff != "" {
				t.Errorf("-printed +read:\n%s", diff)
			}
			for i, page := range pages {
				checkWaste(t, s, page, dpi, i)
			}
		})
	}
}

// zbar reads pictures with zbarimg and gives what was found in each.
func zbar(t *testing.T, pictures []*image.Gray) [][]string {
	t.Helper()
	dir := t.TempDir()
	args := []string{"-q", "--xml", "--nodbus", "-Sdisable", "-Sqrcode.enable"}
	for i, picture := range pictures {
		name := filepath.Join(dir, fmt.Sprintf("%03d.pgm", i))
		head := fmt.Appendf(nil, "P5 %d %d 255\n", picture.Stride, picture.Rect.Dy())
		if err := os.WriteFile(name, append(head, picture.Pix...), 0o644); err != nil {
			t.Fatal(err)
		}
		args = append(args, name)
	}
	out, err := exec.Command("zbarimg", args...).Output()
	if err != nil && len(out) == 0 {
		t.Fatalf("zbarimg: %v", err)
	}
	var result struct {
		Sources []struct {
			Found []string `xml:"index>symbol>data"`
		} `xml:"source"`
	}
	if err := xml.Unmarshal(out, &result); err != nil {
		t.Fatalf("zbarimg: %v", err)
	}
	found := make([][]string, len(result.Sources))
	for i, source := range result.Sources {
		found[i] = source.Found
	}
	return found
}

// checkQuietZone works out from the centres of the three finders where the quiet
// zone ends: 3.5 modules of finder and 4 modules of white further out (ISO/IEC
// 18004). All of it has to lie in the picture.
func checkQuietZone(t *testing.T, picture *image.Gray, payload string, dpi int) {
	t.Helper()
	bitmap, err := gozxing.NewBinaryBitmapFromImage(picture)
	if err != nil {
		t.Fatal(err)
	}
	results, err := qrcode.NewQRCodeMultiReader().DecodeMultiple(bitmap, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true})
	if err != nil || len(results) != 1 || results[0].GetText() != payload {
		t.Errorf("%s: read %v: %v", payload, results, err)
		return
	}
	points := results[0].GetResultPoints() // bottom left, top left, top right
	between := float64(mustSymbol(t, payload).Modules - 7)
	module := (points[2].GetX() - points[1].GetX()) / between
	reach := (3.5 + QuietZone) * module
	slack := 0.15 / mmPerInch * float64(dpi) // the reader's own error, about a pixel
	bounds := picture.Bounds()
	if points[1].GetX()-reach < -slack || points[1].GetY()-reach < -slack ||
		points[2].GetX()+reach > float64(bounds.Dx())+slack || points[0].GetY()+reach > float64(bounds.Dy())+slack {
		t.Errorf("%s: the quiet zone leaves the die cut less 1 mm: finders at %v, module %.2f px, picture %v", payload, points, module, bounds)
	}
}

// checkWaste: not one dark dot outside the die cuts less 1 mm.
func checkWaste(t *testing.T, s Sheet, page *image.Gray, dpi, number int) {
	t.Helper()
	allowed := image.NewGray(page.Bounds())
	for at := range s.PerPage() {
		x, y := s.Origin(at)
		px := func(mm float64) int { return int(math.Round(mm / mmPerInch * float64(dpi))) }
		inside := image.Rect(px(x+1)-1, px(y+1)-1, px(x+s.LabelW-1)+1, px(y+s.LabelH-1)+1) // a pixel for smoothing
		draw.Draw(allowed, inside, image.White, image.Point{}, draw.Src)
	}
	for i, ink := range page.Pix {
		if ink < 128 && allowed.Pix[i] == 0 {
			t.Errorf("page %d: ink outside the die cuts at pixel %d, %d", number+1, i%page.Stride, i/page.Stride)
			return
		}
	}
}

// TestCalibrationRuler measures the printed ruler in a raster of 600 dots per inch:
// eleven ticks, 10 mm apart, 100 mm from first to last.
func TestCalibrationRuler(t *testing.T) {
	t.Parallel()
	need(t, "pdftoppm")
	const dpi = 600
	s, _ := SheetByName("a4-3x7-63.5x38.1")
	pdf, err := Calibration(s, Correction{}, fixedDay)
	if err != nil {
		t.Fatal(err)
	}
	page := rasterise(t, pdf, dpi)[0]
	mm := func(px float64) float64 { return px * mmPerInch / dpi }
	at := calibration{sheet: s}
	x, y := at.corner()
	across, down := Rulers(s)
	for _, c := range []struct {
		name   string
		strip  *image.Gray
		length float64
	}{
		// 4.5 mm out from the scale only the ticks of 10 mm are left.
		{"across", crop(page, x-1, y-4.5, across+2, 0.1, dpi), across},
		{"down", transpose(crop(page, x-4.5, y-1, 0.1, down+2, dpi)), down},
	} {
		ticks := darkRuns(c.strip)
		if len(ticks) != 11 {
			t.Errorf("%s: %d ticks, want 11", c.name, len(ticks))
			continue
		}
		for i := range ticks[1:] {
			if step := mm(ticks[i+1] - ticks[i]); math.Abs(step-c.length/10) > 0.06 {
				t.Errorf("%s: tick %d stands %.3f mm after the one before, want %.0f", c.name, i+1, step, c.length/10)
			}
		}
		if length := mm(ticks[10] - ticks[0]); math.Abs(length-c.length) > 0.06 || c.length != 100 {
			t.Errorf("%s: the ruler is %.3f mm long, want 100", c.name, length)
		}
	}
	// The frame stands 5 mm inside the page.
	if frame := darkRuns(crop(page, 0, 7, 10, 0.1, dpi)); len(frame) == 0 || math.Abs(mm(frame[0])-5) > 0.06 {
		t.Errorf("the frame's left side stands at %v px, want 5 mm", frame)
	}
}

// darkRuns gives the middles of dark stretches along a picture's first row.
func darkRuns(strip *image.Gray) []float64 {
	var middles []float64
	start := -1
	for x := 0; x <= strip.Bounds().Dx(); x++ {
		dark := x < strip.Bounds().Dx() && strip.GrayAt(x, 0).Y < 160
		switch {
		case dark && start < 0:
			start = x
		case !dark && start >= 0:
			middles = append(middles, float64(start+x)/2)
			start = -1
		}
	}
	return middles
}

func transpose(picture *image.Gray) *image.Gray {
	bounds := picture.Bounds()
	out := image.NewGray(image.Rect(0, 0, bounds.Dy(), bounds.Dx()))
	for y := range bounds.Dy() {
		for x := range bounds.Dx() {
			out.SetGray(y, x, picture.GrayAt(x, y))
		}
	}
	return out
}

// TestCorrectionMovesThePrint prints a sheet as a printer that shrinks by 1 % and
// shifts, with the correction for it, and finds the labels on their die cuts.
func TestCorrectionMovesThePrint(t *testing.T) {
	t.Parallel()
	need(t, "pdftoppm", "zbarimg")
	s, _ := SheetByName("a4-3x8-63.5x33.9")
	fix, err := Measured{Across: 99, Down: 99, Left: 5 - 0.8, Top: 5 + 0.9}.Correction(s)
	if err != nil {
		t.Fatal(err)
	}
	bags := sampleBags(s.PerPage())
	pdf, err := Job{Sheet: s, Labels: bags, Correction: fix}.PDF()
	if err != nil {
		t.Fatal(err)
	}
	// 198 pixels an inch shrink the page by 1 % against a raster of 200.
	page := rasterise(t, pdf, 198)[0]
	var pieces []*image.Gray
	var want [][]string
	for i, bag := range bags {
		x, y := s.Origin(i)
		// What the printer shifts: its frame is printed at 0.99 × 5 + shift.
		shiftX, shiftY := 5-0.8-0.99*5, 5+0.9-0.99*5
		pieces = append(pieces, crop(page, x+0.7-shiftX, y+0.7-shiftY, s.LabelW-1.4, s.LabelH-1.4, 200))
		checkQuietZone(t, pieces[i], bag.Payload, 200)
		want = append(want, []string{bag.Payload})
	}
	if diff := cmp.Diff(want, zbar(t, pieces)); diff != "" {
		t.Errorf("-printed +read:\n%s", diff)
	}
}

// TestReadAtPrinterResolution reads one page at the resolutions of label and office printers.
func TestReadAtPrinterResolution(t *testing.T) {
	t.Parallel()
	need(t, "pdftoppm", "zbarimg")
	s, _ := SheetByName("a4-4x12-45.7x21.2")
	for _, dpi := range []int{203, 300, 600} {
		bags := sampleBags(s.PerPage())
		pdf, err := Job{Sheet: s, Labels: bags, DPI: dpi}.PDF()
		if err != nil {
			t.Fatal(err)
		}
		page := rasterise(t, pdf, dpi)[0]
		var pieces []*image.Gray
		var want []string
		for i := range bags {
			x, y := s.Origin(i)
			pieces = append(pieces, crop(page, x, y, s.LabelW, s.LabelH, dpi))
			want = append(want, bags[i].Payload)
		}
		var got []string
		for _, found := range zbar(t, pieces) {
			got = append(got, strings.Join(found, " "))
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%d dots per inch, -printed +read:\n%s", dpi, diff)
		}
	}
}
