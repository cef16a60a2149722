package labels

import (
	"encoding/json"
	"errors"
	"flag"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write golden files anew")

// golden compares with a file under testdata, or writes it with -update.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", name, diff)
	}
}

// TestStockArithmetic holds every built-in layout to what its own numbers say.
func TestStockArithmetic(t *testing.T) {
	t.Parallel()
	for _, s := range Sheets() {
		t.Run(s.Name, func(t *testing.T) {
			t.Parallel()
			if err := s.Validate(); err != nil {
				t.Error(err)
			}
			right := s.PageW - (s.Left + float64(s.Columns-1)*s.PitchX + s.LabelW)
			if math.Abs(right-s.Left) > 0.1 {
				t.Errorf("left margin %.3f mm, right margin %.3f mm", s.Left, right)
			}
			bottom := s.PageH - (s.Top + float64(s.Rows-1)*s.PitchY + s.LabelH)
			if bottom < 0 {
				t.Errorf("bottom margin %.3f mm", bottom)
			}
			if found, ok := SheetByName(s.Name); !ok || found != s {
				t.Errorf("SheetByName(%q) = %v, %v", s.Name, found, ok)
			}
		})
	}
}

func TestSheetNamesAreUnique(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, s := range Sheets() {
		if seen[s.Name] {
			t.Errorf("%s stands twice", s.Name)
		}
		seen[s.Name] = true
	}
	for _, name := range []string{"a4-3x7-63.5x38.1", "a4-3x8-70x37", "letter-3x10-66.7x25.4", "roll-57x32", "roll-62x50"} {
		if !seen[name] {
			t.Errorf("%s is missing", name)
		}
	}
	if _, ok := SheetByName("a4-1x1"); ok {
		t.Error("an unknown name was found")
	}
}

// TestSheetJSON fixes the words that other programs read.
func TestSheetJSON(t *testing.T) {
	t.Parallel()
	s, _ := SheetByName("a4-3x7-63.5x38.1")
	got, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	want := `{"name":"a4-3x7-63.5x38.1","page_w_mm":210,"page_h_mm":297,"label_w_mm":63.5,"label_h_mm":38.1,"columns":3,"rows":7,"left_mm":7.25,"top_mm":15.15,"pitch_x_mm":66,"pitch_y_mm":38.1,"roll":false}`
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Error(diff)
	}
}

func TestSheetsCannotBeSpoiled(t *testing.T) {
	t.Parallel()
	Sheets()[0].Name = "spoiled"
	if Sheets()[0].Name == "spoiled" {
		t.Error("a caller can change the stock")
	}
}

func TestSheetValidate(t *testing.T) {
	t.Parallel()
	good, _ := SheetByName("a4-3x7-63.5x38.1")
	for _, c := range []struct {
		name   string
		change func(*Sheet)
		want   []string // fields
	}{
		{"good", func(*Sheet) {}, nil},
		{"name", func(s *Sheet) { s.Name = "My Sheet" }, []string{"name"}},
		{"three at once", func(s *Sheet) { s.Name, s.Columns, s.Top = "", 0, -1 }, []string{"columns", "name", "top_mm"}},
		{"not a number", func(s *Sheet) { s.PitchX = math.NaN() }, []string{"pitch_x_mm"}},
		{"infinite", func(s *Sheet) { s.PageW = math.Inf(1) }, []string{"page_w_mm"}},
		{"too many columns", func(s *Sheet) { s.Columns = 4 }, []string{"columns"}},
		{"too many rows", func(s *Sheet) { s.Rows = 8 }, []string{"rows"}},
		{"overlap", func(s *Sheet) { s.PitchX, s.PitchY = 60, 38 }, []string{"pitch_x_mm", "pitch_y_mm"}},
		{"too low for a symbol", func(s *Sheet) { s.LabelH, s.PitchY = 12.7, 12.7 }, []string{"label_h_mm", "pitch_y_mm"}},
		{"a roll of columns", func(s *Sheet) { s.Roll = true }, []string{"columns", "label_h_mm", "label_w_mm", "left_mm", "rows", "top_mm"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := good
			c.change(&s)
			if diff := cmp.Diff(c.want, fieldsOf(s.Validate())); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// fieldsOf gives the fields that an error names, in order of the alphabet.
func fieldsOf(err error) []string {
	var e *Error
	if !errors.As(err, &e) {
		return nil
	}
	var fields []string
	for field := range e.Fields() {
		fields = append(fields, field)
	}
	slices.Sort(fields)
	return fields
}

func TestSheetOrigin(t *testing.T) {
	t.Parallel()
	s, _ := SheetByName("a4-3x7-63.5x38.1")
	for _, c := range []struct {
		at   int
		x, y float64
	}{{0, 7.25, 15.15}, {2, 139.25, 15.15}, {3, 7.25, 53.25}, {20, 139.25, 243.75}} {
		if x, y := s.Origin(c.at); math.Abs(x-c.x) > 1e-9 || math.Abs(y-c.y) > 1e-9 {
			t.Errorf("position %d at %.3f, %.3f, want %.3f, %.3f", c.at, x, y, c.x, c.y)
		}
	}
}

// TestContentKeepsItsDistance: 1 mm inside the die cut, 5 mm inside the page of a
// sheet, one size for all labels (common practice).
func TestContentKeepsItsDistance(t *testing.T) {
	t.Parallel()
	const tiny = 1e-9
	for _, s := range Sheets() {
		w, h := s.content()
		for at := range s.PerPage() {
			x, y := s.contentAt(at)
			cutX, cutY := s.Origin(at)
			if x < cutX+1-tiny || y < cutY+1-tiny || x+w > cutX+s.LabelW-1+tiny || y+h > cutY+s.LabelH-1+tiny {
				t.Errorf("%s position %d: content comes within 1 mm of the die cut", s.Name, at)
			}
			if !s.Roll && (x < 5-tiny || y < 5-tiny || x+w > s.PageW-5+tiny || y+h > s.PageH-5+tiny) {
				t.Errorf("%s position %d: content comes within 5 mm of the page's edge", s.Name, at)
			}
		}
	}
}

func TestCorrection(t *testing.T) {
	t.Parallel()
	c := Correction{OffsetX: 0.5, OffsetY: -1, ScaleX: 2, ScaleY: -3}
	if x, y := c.Apply(100, 200); math.Abs(x-100.7) > 1e-9 || math.Abs(y-198.4) > 1e-9 {
		t.Errorf("100, 200 goes to %.4f, %.4f, want 100.7, 198.4", x, y)
	}
	if diff := cmp.Diff([]string{"offset_y_mm", "scale_x_permille"}, fieldsOf(Correction{OffsetY: 11, ScaleX: math.NaN()}.Validate())); diff != "" {
		t.Error(diff)
	}
}

// TestMeasuredUndoesThePrinter sends points through a printer that scales and
// shifts, measures its calibration page, and expects the correction to undo it.
func TestMeasuredUndoesThePrinter(t *testing.T) {
	t.Parallel()
	s, _ := SheetByName("a4-3x7-63.5x38.1")
	printer := func(x, y float64) (float64, float64) { return 0.985*x + 1.2, 1.01*y - 0.7 }
	left, top := printer(5, 5)
	fix, err := Measured{Across: 98.5, Down: 101, Left: left, Top: top}.Correction(s)
	if err != nil {
		t.Fatal(err)
	}
	for _, point := range [][2]float64{{0, 0}, {7.25, 15.15}, {210, 297}} {
		x, y := printer(fix.Apply(point[0], point[1]))
		if math.Hypot(x-point[0], y-point[1]) > 1e-9 {
			t.Errorf("%v is printed at %.4f, %.4f", point, x, y)
		}
	}
	if _, err := (Measured{Across: 100, Down: 0, Left: 5, Top: 5}).Correction(s); err == nil {
		t.Error("a ruler of 0 mm was taken")
	}
	if _, err := (Measured{Across: 80, Down: 100, Left: 5, Top: 5}).Correction(s); err == nil {
		t.Error("a printer that shrinks by a fifth was taken for a true one")
	}
}
