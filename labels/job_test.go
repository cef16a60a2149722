package labels

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func sampleJob(n int) Job {
	s, _ := SheetByName("a4-3x7-63.5x38.1")
	return Job{Sheet: s, Labels: append(sampleBags(n), sampleOthers()...), Made: time.Date(2026, 3, 14, 9, 30, 0, 0, time.UTC)}
}

func mustPDF(t testing.TB, j Job) []byte {
	t.Helper()
	pdf, err := j.PDF()
	if err != nil {
		t.Fatal(err)
	}
	return pdf
}

// TestSameJobSameBytes draws one job several times at once, and another beside it.
func TestSameJobSameBytes(t *testing.T) {
	t.Parallel()
	want := sha256.Sum256(mustPDF(t, sampleJob(30)))
	other := sha256.Sum256(mustPDF(t, sampleJob(7)))
	var wait sync.WaitGroup
	for i := range 8 {
		wait.Go(func() {
			n, sum := 30, want
			if i%2 == 1 {
				n, sum = 7, other
			}
			pdf, err := sampleJob(n).PDF()
			if err != nil {
				t.Error(err)
			} else if sha256.Sum256(pdf) != sum {
				t.Errorf("a job of %d bags gave other bytes", n)
			}
		})
	}
	wait.Wait()
	if want == other {
		t.Error("two jobs gave the same bytes")
	}
}

func TestDateComesFromTheJob(t *testing.T) {
	t.Parallel()
	j := sampleJob(1)
	if pdf := mustPDF(t, j); !bytes.Contains(pdf, []byte("(D:20260314093000)")) {
		t.Error("the job's date is not in the file")
	}
	j.Made = time.Time{}
	if pdf := mustPDF(t, j); !bytes.Contains(pdf, []byte("(D:20000101000000)")) {
		t.Error("a job without a date has another than the fixed one")
	}
}

var (
	tableEntry = regexp.MustCompile(`(\d{10}) 00000 n`)
	startTable = regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n$`)
)

// TestFileStaysValid follows every cross-reference of the patched file (ISO 32000-1,
// 7.5.4) and looks for the preference it was patched for.
func TestFileStaysValid(t *testing.T) {
	t.Parallel()
	pdf := mustPDF(t, sampleJob(30))
	found := startTable.FindSubmatch(pdf)
	if found == nil {
		t.Fatal("no startxref at the end")
	}
	start, _ := strconv.Atoi(string(found[1]))
	if !bytes.HasPrefix(pdf[start:], []byte("xref\n")) {
		t.Fatalf("no table at %d: %q", start, pdf[start:start+20])
	}
	entries := tableEntry.FindAllSubmatch(pdf[start:], -1)
	for i, entry := range entries {
		at, _ := strconv.Atoi(string(entry[1]))
		if head := fmt.Sprintf("%d 0 obj", i+1); !bytes.HasPrefix(pdf[at:], []byte(head)) {
			t.Errorf("object %d is not at %d", i+1, at)
		}
	}
	if len(entries) < 5 {
		t.Errorf("%d objects in the table", len(entries))
	}
	if n := bytes.Count(pdf, []byte("/ViewerPreferences << /PrintScaling /None >>")); n != 1 {
		t.Errorf("the print scaling preference stands %d times", n)
	}
	if bytes.Contains(pdf, []byte("/Subtype /Image")) {
		t.Error("there is an image in the file")
	}
}

// TestPDFInfo has an independent program read the file without a complaint.
func TestPDFInfo(t *testing.T) {
	t.Parallel()
	need(t, "pdfinfo")
	s, _ := SheetByName("roll-57x32")
	for _, c := range []struct {
		name string
		job  Job
		want []string
	}{
		{"sheet", sampleJob(30), []string{`Pages:\s+2`, `Page size:\s+595.28 x 841.89 pts \(A4\)`}},
		{"roll", Job{Sheet: s, Labels: sampleBags(3)}, []string{`Pages:\s+3`, `Page size:\s+161.57 x 90.71 pts`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			file := filepath.Join(t.TempDir(), "labels.pdf")
			if err := os.WriteFile(file, mustPDF(t, c.job), 0o644); err != nil {
				t.Fatal(err)
			}
			var complaints bytes.Buffer
			cmd := exec.Command("pdfinfo", file)
			cmd.Stderr = &complaints
			out, err := cmd.Output()
			if err != nil || complaints.Len() > 0 {
				t.Errorf("pdfinfo: %v: %s", err, &complaints)
			}
			for _, want := range c.want {
				if !regexp.MustCompile(want).Match(out) {
					t.Errorf("no %s in:\n%s", want, out)
				}
			}
		})
	}
}

func TestPatchRefusesWhatItDoesNotKnow(t *testing.T) {
	t.Parallel()
	for _, pdf := range []string{"", "%PDF-1.3", "/Type /Catalog\nstartxref\nx\n", "/Type /Catalog\nstartxref\n99\n%%EOF\n", "startxref\n0\n/Type /Catalog\n"} {
		if _, err := printUnscaled([]byte(pdf)); err == nil {
			t.Errorf("%q was patched", pdf)
		}
	}
}

func TestStartAndCopies(t *testing.T) {
	t.Parallel()
	j := sampleJob(0)
	j.Labels = sampleBags(5)
	for _, c := range []struct{ start, copies, pages int }{{0, 0, 1}, {17, 1, 1}, {18, 1, 2}, {21, 1, 2}, {1, 5, 2}, {21, 5, 3}} {
		j.Start, j.Copies = c.start, c.copies
		if got := j.Pages(); got != c.pages {
			t.Errorf("start %d, %d copies: Pages() = %d, want %d", c.start, c.copies, got, c.pages)
		}
		if got := bytes.Count(mustPDF(t, j), []byte("/Type /Page\n")); got != c.pages {
			t.Errorf("start %d, %d copies: %d pages in the file, want %d", c.start, c.copies, got, c.pages)
		}
	}
}

// TestStartLeavesUsedPositionsAlone looks at the print of a part-used sheet.
func TestStartLeavesUsedPositionsAlone(t *testing.T) {
	t.Parallel()
	need(t, "pdftoppm", "zbarimg")
	j := sampleJob(0)
	j.Labels, j.Start, j.Copies = sampleBags(2), 18, 2
	page := rasterise(t, mustPDF(t, j), 200)[0]
	for at := range j.Sheet.PerPage() {
		x, y := j.Sheet.Origin(at)
		piece := crop(page, x, y, j.Sheet.LabelW, j.Sheet.LabelH, 200)
		if used := at < 17; used == bytes.ContainsFunc(piece.Pix, func(r rune) bool { return r < 128 }) {
			t.Errorf("position %d: used before is %v, and the print says otherwise", at+1, used)
		}
	}
}

func TestJobValidate(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		change func(*Job)
		want   []string
	}{
		{"good", func(*Job) {}, nil},
		{"no labels", func(j *Job) { j.Labels = nil }, []string{"labels"}},
		{"start and copies", func(j *Job) { j.Start, j.Copies = 22, -1 }, []string{"copies", "start"}},
		{"too many", func(j *Job) { j.Labels, j.Copies = sampleBags(300), 100 }, []string{"labels"}},
		{"dots", func(j *Job) { j.DPI = 72 }, []string{"dpi"}},
		{"departures", func(j *Job) { j.Labels[1].Departures = make([]string, 41) }, []string{"labels[1].departures"}},
		{"sheet", func(j *Job) { j.Sheet.Rows = 0 }, []string{"rows"}},
		{"correction", func(j *Job) { j.Correction.ScaleX = 100 }, []string{"scale_x_permille"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			j := sampleJob(2)
			c.change(&j)
			if diff := cmp.Diff(c.want, fieldsOf(j.Validate())); diff != "" {
				t.Error(diff)
			}
			if _, err := j.PDF(); (err == nil) != (c.want == nil) {
				t.Errorf("PDF: %v", err)
			}
		})
	}
}

func TestErrorIsOneLine(t *testing.T) {
	t.Parallel()
	err := Job{Sheet: Sheets()[0]}.Validate()
	if err == nil || strings.Contains(err.Error(), "\n") || !strings.Contains(err.Error(), "labels must be at least one") {
		t.Errorf("got %v", err)
	}
}

func TestCalibrationOfEveryStock(t *testing.T) {
	t.Parallel()
	for _, s := range Sheets() {
		page := calibration{sheet: s, ink: &ink{w: s.PageW, h: s.PageH}}
		page.outlines()
		page.rulers()
		page.words()
		for _, m := range page.ink.marks {
			if m.x < 0 || m.y < 0 || m.x+m.w > s.PageW+tolerance || (m.kind != markText && m.y+m.h > s.PageH+tolerance) || (m.kind == markText && m.y > s.PageH-FrameMM(s)) {
				t.Errorf("%s: off the page: %+v %q", s.Name, area{m.x, m.y, m.w, m.h}, m.text)
			}
		}
		if _, err := Calibration(s, Correction{OffsetX: 1}, time.Time{}); err != nil {
			t.Errorf("%s: %v", s.Name, err)
		}
	}
}
