package logfile

import (
	"errors"
	"slices"
	"strings"
	"time"
	"unicode"

	"bagmark/grow"
)

// Log is a file in which each column of temperatures is one probe's.
type Log struct {
	Probes []Probe
	// Skipped are the lines below the table's first that hold no time.
	Skipped []int
	// Assumed says what the file left open and how it was read, "" for nothing.
	Assumed string
}

// Probe is one column of temperatures.
type Probe struct {
	Name       string // "" where the file names none
	Fahrenheit bool
	Points     []Point
	Missing    int // rows without a reading of it
}

// Point is one reading.
type Point struct {
	At time.Time
	C  float64
}

// Format says what a file leaves open.
type Format struct {
	Zone *time.Location
	// Start is when the run began, for files that tell only the hour, or minutes
	// since the start.
	Start time.Time
	// Fahrenheit reads columns that name no unit as °F.
	Fahrenheit bool
}

// mostProbes is how many columns of temperatures one file may have.
const mostProbes = 32

// Probes reads every column of temperatures. An error says what was looked for
// and not found. A file that has rows in an hour which clocks skipped keeps winter
// time, or it could not.
func (s *Sheet) Probes(how Format) (Log, error) {
	if how.Zone == nil {
		how.Zone = time.UTC
	}
	columns, probes := s.temperatures(how)
	if len(columns) == 0 {
		return Log{}, grow.Errorf(grow.Invalid, "no column of the file holds temperatures")
	}
	order, decided, _ := s.orderOf(s.shape.column)
	r := reader{shape: s.shape, zone: how.Zone, start: how.Start, order: order}
	out, skipped := s.probesBy(r, columns, probes)
	if !decided && s.shape.kind == dated && !s.tellsSeconds() {
		out.Assumed = "The file does not say whether the day or the month comes first: the day was taken."
		if order == MonthFirst {
			out.Assumed = "The file does not say whether the day or the month comes first: the month was taken."
		}
	}
	if skipped {
		if s.shape.kind == dated { // each row tells its year
			r.means = ClockWinter
		} else {
			r.zone = time.FixedZone("", int(winterOffset(how.Start.Year(), how.Zone)/time.Second))
		}
		_, probes = s.temperatures(how)
		again, _ := s.probesBy(r, columns, probes)
		again.Assumed = strings.TrimSpace(out.Assumed + " It has times that clocks skipped when they went forward: it was read as keeping winter time.")
		out = again
	}
	if len(out.Probes) == 0 {
		return out, grow.Errorf(grow.Invalid, "no row of the file holds a temperature")
	}
	return out, nil
}

// tellsSeconds tells whether the time is seconds since 1970.
func (s *Sheet) tellsSeconds() bool {
	_, ok := unixTime(cell(s.split(s.rows[0].text), s.shape.column))
	return ok
}

func (s *Sheet) probesBy(r reader, columns []int, probes []Probe) (out Log, skipped bool) {
	for _, row := range s.oldestFirst(r) {
		cells := s.split(row.text)
		at, err := r.at(cells)
		if err != nil {
			skipped = skipped || errors.Is(err, errSkipped)
			out.Skipped = append(out.Skipped, row.line)
			continue
		}
		for k, column := range columns {
			probes[k].take(at, cell(cells, column))
		}
	}
	for _, p := range probes {
		if len(p.Points) > 0 {
			out.Probes = append(out.Probes, p)
		}
	}
	return out, skipped
}

// The coldest and the hottest that a probe of a steriliser reads, in °C: loggers
// write -999.9 or 850 for a probe that is torn off.
const coldest, hottest = -60, 300

func (p *Probe) take(at time.Time, text string) {
	value, of, is := number(text)
	if is != aNumber || of == other {
		p.Missing++
		return
	}
	inF := of == fahren || of == noUnit && p.Fahrenheit
	c := celsiusOf(value, inF)
	if c < coldest || c > hottest {
		p.Missing++
		return
	}
	p.Fahrenheit = p.Fahrenheit || inF
	p.Points = append(p.Points, Point{At: at, C: c})
}

// notTemperatures are words in heads of columns that hold something else, with or
// without a number behind; longOnes may also stand inside a longer word.
var (
	notTemperatures = []string{"hum", "rh", "relhum", "dew", "bar", "mbar", "hpa", "kpa", "psi", "press", "volt", "volts", "v", "batt", "alarm", "state", "status", "event", "events", "co2", "co2ppm", "f0", "lux"}
	longOnes        = []string{"humid", "dewpoint", "pressure", "voltage", "battery", "alarm"}
	inACooker       = []string{"cooker", "canner", "core"} // a place to be hot in, whatever it works by
)

// namesOther goes by whole words: "TF01" is no F0, "thermostate" no state, and
// "Pressure cooker core" is where a probe sits.
func namesOther(head string) bool {
	if strings.Contains(head, "%") {
		return true
	}
	words := strings.FieldsFunc(strings.ToLower(head), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	cooker := slices.ContainsFunc(words, func(w string) bool { return slices.Contains(inACooker, w) })
	return slices.ContainsFunc(words, func(w string) bool {
		if cooker && w == "pressure" {
			return false
		}
		return slices.Contains(notTemperatures, w) || slices.Contains(notTemperatures, strings.TrimRight(w, "0123456789")) ||
			slices.ContainsFunc(longOnes, func(long string) bool { return strings.Contains(w, long) })
	})
}

// temperatures finds the columns of temperatures: numbers in the first rows behind
// the time, under a head that names nothing else.
func (s *Sheet) temperatures(how Format) (columns []int, probes []Probe) {
	const look = 50
	numbers := map[int]int{}
	for _, row := range s.rows[:min(look, len(s.rows))] {
		for i, c := range s.split(row.text) {
			if _, of, is := number(c); is == aNumber && of != other {
				numbers[i]++
			}
		}
	}
	for i := s.shape.after(); i < s.shape.after()+4*mostProbes && len(columns) < mostProbes; i++ {
		name := cell(s.heads, i)
		if numbers[i] == 0 || namesOther(name) {
			continue
		}
		of := ofHead(name)
		columns = append(columns, i)
		probes = append(probes, Probe{Name: name, Fahrenheit: of == fahren || of == noUnit && how.Fahrenheit})
	}
	return columns, probes
}
