package labels

import (
	"fmt"
	"math"
	"strconv"
)

// page sizes of ISO 216 and ANSI/ASME Y14.1, millimetres.
const (
	a4W, a4H         = 210.0, 297.0
	letterW, letterH = 215.9, 279.4
)

// stock lists the layouts in common use (dimensions from memory, margins by
// arithmetic so that both sides are equal). The letter sheet of 4 × 20 labels
// of 12.7 mm is left out: too low for a symbol.
var stock = []Sheet{
	a4(2, 4, 99.1, 67.7, 101.6, 67.7, 4.65, 13.1),
	a4(2, 7, 99.1, 38.1, 101.6, 38.1, 4.65, 15.15),
	a4(3, 6, 63.5, 46.6, 66.0, 46.6, 7.25, 8.7),
	a4(3, 7, 63.5, 38.1, 66.0, 38.1, 7.25, 15.15),
	a4(3, 8, 63.5, 33.9, 66.0, 33.9, 7.25, 12.9),
	a4(3, 8, 70, 37, 70, 37, 0, 0.5),
	a4(3, 8, 70, 36, 70, 36, 0, 4.5),
	a4(4, 10, 48.5, 25.4, 48.5, 25.4, 8.0, 21.5),
	a4(4, 12, 45.7, 21.2, 48.3, 21.2, 9.7, 21.3),
	a4(5, 13, 38.1, 21.2, 40.6, 21.2, 4.75, 10.7),
	letter(2, 3, 101.6, 84.67, 106.36, 84.67, 3.97, 12.7),
	letter(2, 5, 101.6, 50.8, 106.36, 50.8, 3.97, 12.7),
	letter(2, 7, 101.6, 33.87, 106.36, 33.87, 3.97, 21.17),
	letter(2, 10, 101.6, 25.4, 106.36, 25.4, 3.97, 12.7),
	letter(3, 10, 66.675, 25.4, 69.85, 25.4, 4.76, 12.7),
	roll(57, 32),
	roll(50, 30),
	roll(38, 25),
	roll(76, 51),
	roll(100, 50),
	roll(102, 152),
	roll(62, 50), // continuous tape, cut by the printer: a length that holds all lines
}

// Sheets lists the known stock, sheets before rolls. The slice is the caller's own.
func Sheets() []Sheet {
	return append([]Sheet(nil), stock...)
}

// SheetByName finds known stock by its name.
func SheetByName(name string) (Sheet, bool) {
	for _, s := range stock {
		if s.Name == name {
			return s, true
		}
	}
	return Sheet{}, false
}

func a4(columns, rows int, w, h, pitchX, pitchY, left, top float64) Sheet {
	return sheet("a4", a4W, a4H, columns, rows, w, h, pitchX, pitchY, left, top)
}

func letter(columns, rows int, w, h, pitchX, pitchY, left, top float64) Sheet {
	return sheet("letter", letterW, letterH, columns, rows, w, h, pitchX, pitchY, left, top)
}

func sheet(page string, pageW, pageH float64, columns, rows int, w, h, pitchX, pitchY, left, top float64) Sheet {
	return Sheet{
		Name:  fmt.Sprintf("%s-%dx%d-%sx%s", page, columns, rows, tenth(w), tenth(h)),
		PageW: pageW, PageH: pageH, LabelW: w, LabelH: h,
		Columns: columns, Rows: rows, Left: left, Top: top, PitchX: pitchX, PitchY: pitchY,
	}
}

func roll(w, h float64) Sheet {
	return Sheet{
		Name:  fmt.Sprintf("roll-%sx%s", tenth(w), tenth(h)),
		PageW: w, PageH: h, LabelW: w, LabelH: h,
		Columns: 1, Rows: 1, PitchX: w, PitchY: h, Roll: true,
	}
}

// tenth writes a length to the nearest tenth without a needless zero.
func tenth(mm float64) string {
	return strconv.FormatFloat(math.Round(mm*10)/10, 'f', -1, 64)
}
