package logfile

import (
	"slices"
	"strconv"
	"strings"

	"bagmark/grow"
)

// MostRows is how many rows one file may have: two years of five minutes.
const MostRows = 250000

// mostColumns is how many columns one file may have: each is a choice on a page.
const mostColumns = 250

// Sheet is a logger's file as a table.
type Sheet struct {
	heads     []string // as many as columns; "" where the file names none
	rows      []row
	separator byte
	shape     shape
	cells     []string // of the row split last
}

type row struct {
	text string
	line int // of the file
}

// Read finds the table of a logger's file: its first row is the first that holds
// a time and a number, its heads are the last cells above it.
func Read(data []byte) (*Sheet, error) {
	lines := splitLines(plainText(data))
	s := &Sheet{separator: separatorOf(lines)}
	for i, text := range lines {
		if strings.Count(text, string(rune(s.separator))) >= mostColumns {
			return nil, grow.Errorf(grow.TooLarge, "line %d of this file has more than %d columns", i+1, mostColumns)
		}
	}
	first, head, found := s.findTable(lines)
	if !found {
		return nil, grow.Errorf(grow.Invalid, "no row of this file has a date or a time that can be read, with a number beside it; a table like 2026-03-14 08:00;118.4 is looked for")
	}
	if len(lines)-first > MostRows {
		return nil, grow.Errorf(grow.TooLarge, "this file has %d rows; at most %d are taken at once", len(lines)-first, MostRows)
	}
	s.heads = head
	for width := len(s.split(lines[first])); len(s.heads) < width; {
		s.heads = append(s.heads, "")
	}
	for i, text := range lines[first:] {
		if strings.TrimSpace(text) != "" {
			s.rows = append(s.rows, row{text, first + i + 1})
		}
	}
	return s, nil
}

// ReadDated is Read of a file whose rows must tell their day.
func ReadDated(data []byte) (*Sheet, error) {
	s, err := Read(data)
	if err == nil && s.shape.kind != dated {
		return nil, grow.Errorf(grow.Invalid, "no row of this file has a date and time that can be read")
	}
	return s, err
}

// Heads are the names of the columns, each another: column 1, column 2 where the
// file has none, and the number behind a name that stands before.
func (s *Sheet) Heads() []string {
	out := slices.Clone(s.heads)
	for i := range out {
		number := "column " + strconv.Itoa(i+1)
		switch {
		case out[i] == "":
			out[i] = number
		case slices.Contains(out[:i], out[i]):
			out[i] += ", " + number
		}
	}
	return out
}

// Key is what a mapping of the file's columns is remembered by.
func (s *Sheet) Key() string { return strings.ToLower(strings.Join(s.Heads(), "\x1f")) }

// findTable gives the number of the table's first line and its heads.
func (s *Sheet) findTable(lines []string) (first int, head []string, found bool) {
	if s.shape, found = s.usualShape(lines); !found {
		return 0, nil, false
	}
	for i, text := range lines {
		cells := s.split(text)
		shape, ok := shapeOf(cells, head)
		switch {
		case ok && shape == s.shape:
			if len(head) < len(cells)-1 {
				head = nil // words about the device
			}
			return i, head, true
		case !ok:
			head = headOr(head, cells)
		}
	}
	return 0, nil, false
}

// usualShape is how most of the first rows that hold a number tell their time: a
// line about the device may hold a time too.
func (s *Sheet) usualShape(lines []string) (best shape, found bool) {
	const look = 400
	var head []string
	tally := map[shape]int{}
	for i, text := range lines {
		if i >= look && found {
			break
		}
		cells := s.split(text)
		shape, ok := shapeOf(cells, head)
		switch {
		case !ok:
			head = headOr(head, cells)
		case shape.besideNumber(cells):
			if tally[shape]++; !found || tally[shape] >= tally[best] {
				best, found = shape, true
			}
		}
	}
	return best, found
}

// headOr is a line's cells where they may be heads, else what was so far.
func headOr(head, cells []string) []string {
	if len(cells) < 2 || strings.Join(cells, "") == "" {
		return head
	}
	return slices.Clone(cells)
}

// cell is the cell of a column, "" where the row is shorter.
func cell(cells []string, column int) string {
	if column < 0 || column >= len(cells) {
		return ""
	}
	return cells[column]
}

// separatorOf is the sign that most of the first lines have: one that stands in
// few lines is part of a text or a number.
func separatorOf(lines []string) byte {
	const look = 200
	best, most := byte(','), 0
	for _, sign := range []byte{';', '\t', ','} {
		with := 0
		for _, text := range lines[:min(look, len(lines))] {
			if strings.IndexByte(text, sign) >= 0 {
				with++
			}
		}
		if with > most {
			best, most = sign, with
		}
	}
	return best
}

// split cuts a line into cells, without the spaces and quotes around them. The
// cells are good until the next line is split.
func (s *Sheet) split(text string) []string {
	s.cells = s.cells[:0]
	quotes := true
	for more := true; more; {
		var cell string
		cell, text, more = nextCell(text, s.separator, &quotes)
		s.cells = append(s.cells, cell)
	}
	return s.cells
}

// nextCell gives the first cell of a text, and what is behind it. A quote that is
// not closed on its line is a sign like any other, and so are those behind it:
// quotes is false from then on.
func nextCell(text string, separator byte, quotes *bool) (cell, rest string, more bool) {
	if start := strings.TrimLeft(text, " "); *quotes && strings.HasPrefix(start, `"`) {
		for end := 1; end < len(start); end++ {
			if start[end] != '"' {
				continue
			}
			if end+1 < len(start) && start[end+1] == '"' {
				end++
				continue
			}
			if after := strings.TrimLeft(start[end+1:], " "); after == "" || after[0] == separator {
				cell = strings.TrimSpace(strings.ReplaceAll(start[1:end], `""`, `"`))
				return cell, after[min(1, len(after)):], after != ""
			}
		}
		*quotes = false
	}
	if i := strings.IndexByte(text, separator); i >= 0 {
		return strings.TrimSpace(text[:i]), text[i+1:], true
	}
	return strings.TrimSpace(text), "", false
}
