package climate

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Reading a logger's file
//
// Loggers write tables of their own: commas, semicolons or tabs between cells,
// decimal commas, °F, lines about the device above the table, cells left empty or
// filled with dashes where a reading is missing. ReadLog finds the table by its
// first line that begins with a time, takes the line before it for the heads, and
// reads each column of temperatures as one probe. What is missing stays missing.

// A Log is a logger's file as it was understood.
type Log struct {
	Probes []Probe
	// Skipped are the lines below the table's first that hold no time.
	Skipped []int
	// Assumed says what the file left open and how it was read, "" for nothing.
	Assumed string
}

// A Probe is one column of temperatures.
type Probe struct {
	Name       string
	Fahrenheit bool
	Points     []Point
	Missing    int // rows without a reading of it
}

// LogFormat says what a file leaves open.
type LogFormat struct {
	Zone *time.Location
	// Start is when the run began, for files that tell only the hour, or minutes
	// since the start.
	Start time.Time
	// Fahrenheit reads columns that name no unit as °F.
	Fahrenheit bool
}

// mostProbes is how many columns of temperatures one file may have.
const mostProbes = 32

// ReadLog reads a logger's file. An error says what was looked for and not found.
func ReadLog(data []byte, how LogFormat) (Log, error) {
	if how.Zone == nil {
		how.Zone = time.UTC
	}
	lines := splitLines(data)
	r := logReader{LogFormat: how, separator: separatorOf(lines)}
	first, head := r.findTable(lines)
	if first < 0 {
		return Log{}, fmt.Errorf("no line of the file begins with a time and a temperature; a table like 2026-03-14 08:00;118.4 is looked for")
	}
	r.chooseColumns(lines[first:], head)
	if len(r.columns) == 0 {
		return Log{}, fmt.Errorf("no column of the file holds temperatures")
	}
	for i, line := range lines[first:] {
		r.take(line, first+i+1)
	}
	return r.log()
}

func splitLines(data []byte) []string {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	text := strings.ReplaceAll(string(data), "\r\n", "\n")
	return strings.Split(strings.ReplaceAll(text, "\r", "\n"), "\n")
}

// separatorOf is what stands between cells: semicolons and tabs before commas,
// which may be decimal ones.
func separatorOf(lines []string) byte {
	for _, separator := range []byte{';', '\t'} {
		with, without := 0, 0
		for _, line := range lines {
			switch {
			case strings.IndexByte(line, separator) >= 0:
				with++
			case strings.TrimSpace(line) != "":
				without++
			}
		}
		if with > without {
			return separator
		}
	}
	return ','
}

// logReader is a file being read.
type logReader struct {
	LogFormat
	separator byte
	clock     clockShape
	columns   []int // of temperatures
	probes    []Probe
	skipped   []int
	last      time.Time // of the row before, for files that tell only the hour
	cells     []string
}

// split cuts a line into cells, without spaces and quotes around them.
func (r *logReader) split(line string) []string {
	r.cells = r.cells[:0]
	for line != "" {
		cell, rest := line, ""
		if i := strings.IndexByte(line, r.separator); i >= 0 {
			cell, rest = line[:i], line[i+1:]
		}
		if cell = strings.TrimSpace(cell); len(cell) > 0 && cell[0] == '"' {
			cell = strings.Trim(cell, `" `)
		}
		r.cells, line = append(r.cells, cell), rest
	}
	return r.cells
}

// findTable is the first line that begins with a time and holds a number behind
// it, and the heads above it.
func (r *logReader) findTable(lines []string) (first int, head []string) {
	for i, line := range lines {
		cells := r.split(line)
		shape, ok := clockOf(cells, head)
		if !ok {
			if strings.TrimSpace(line) != "" {
				head = append([]string{}, cells...)
			}
			continue
		}
		if r.anyNumber(cells[shape.after():]) {
			r.clock = shape
			return i, head
		}
	}
	return -1, nil
}

func (r *logReader) anyNumber(cells []string) bool {
	for _, c := range cells {
		if _, _, ok := temperature(c); ok {
			return true
		}
	}
	return false
}

// notTemperatures are parts of heads of columns that hold something else.
var notTemperatures = []string{"hum", "rh", "%", "dew", "bar", "kpa", "psi", "press", "volt", "batt", "alarm", "state", "event", "co2", "f0", "lux"}

// chooseColumns finds the columns of temperatures: numbers in the first rows
// under a head that names nothing else.
func (r *logReader) chooseColumns(lines []string, head []string) {
	const look = 50
	numbers := map[int]int{}
	for _, line := range lines[:min(look, len(lines))] {
		for i, c := range r.split(line) {
			if _, _, ok := temperature(c); ok {
				numbers[i]++
			}
		}
	}
	for i := r.clock.after(); i < r.clock.after()+4*mostProbes && len(r.columns) < mostProbes; i++ {
		name := ""
		if i < len(head) {
			name = head[i]
		}
		if numbers[i] > 0 && !namesOther(name) {
			r.columns = append(r.columns, i)
			r.probes = append(r.probes, Probe{Name: name, Fahrenheit: inFahrenheit(name, r.Fahrenheit)})
		}
	}
	if r.clock.unsettled() {
		r.clock.settle(r, lines)
	}
}

func namesOther(head string) bool {
	low := strings.ToLower(head)
	for _, part := range notTemperatures {
		if strings.Contains(low, part) {
			return true
		}
	}
	return false
}

func inFahrenheit(head string, otherwise bool) bool {
	low := strings.ToLower(head)
	for _, unit := range []string{"°f", "ºf", "(f)", "[f]", "deg f", "degf", "fahrenheit", "_f"} {
		if strings.Contains(low, unit) {
			return true
		}
	}
	for _, unit := range []string{"°c", "ºc", "(c)", "[c]", "deg c", "degc", "celsius", "_c"} {
		if strings.Contains(low, unit) {
			return false
		}
	}
	return otherwise
}

// take reads one row.
func (r *logReader) take(line string, number int) {
	if strings.TrimSpace(line) == "" {
		return
	}
	cells := r.split(line)
	at, ok := r.clock.read(cells, r)
	if !ok {
		r.skipped = append(r.skipped, number)
		return
	}
	r.last = at
	for k, column := range r.columns {
		p := &r.probes[k]
		value, unit, ok := 0.0, byte(0), false
		if column < len(cells) {
			value, unit, ok = temperature(cells[column])
		}
		if !ok {
			p.Missing++
			continue
		}
		if unit == 'f' || unit == 0 && p.Fahrenheit {
			value, p.Fahrenheit = (value-32)/1.8, true
		}
		p.Points = append(p.Points, Point{At: at, C: value})
	}
}

func (r *logReader) log() (Log, error) {
	out := Log{Skipped: r.skipped, Assumed: r.clock.assumed}
	for _, p := range r.probes {
		if len(p.Points) > 0 {
			out.Probes = append(out.Probes, p)
		}
	}
	if len(out.Probes) == 0 {
		return out, fmt.Errorf("no row of the file holds a temperature")
	}
	return out, nil
}

// temperature reads a number with a decimal point or comma and perhaps a unit
// behind it: 'c', 'f' or 0.
func temperature(cell string) (value float64, unit byte, ok bool) {
	n := len(cell)
	for n > 0 && !(cell[n-1] >= '0' && cell[n-1] <= '9') {
		n--
	}
	number, behind := cell[:n], cell[n:]
	if n == 0 || n > 16 {
		return 0, 0, false
	}
	switch strings.Trim(strings.ToLower(behind), " °º") {
	case "":
	case "c":
		unit = 'c'
	case "f":
		unit = 'f'
	default:
		return 0, 0, false
	}
	if i := strings.IndexByte(number, ','); i >= 0 {
		if strings.IndexByte(number[i+1:], ',') >= 0 {
			return 0, 0, false
		}
		number = number[:i] + "." + number[i+1:]
	}
	value, err := strconv.ParseFloat(number, 64)
	return value, unit, err == nil && !math.IsNaN(value) && !math.IsInf(value, 0)
}
