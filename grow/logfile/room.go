package logfile

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"bagmark/grow"
)

// RoomMap says how a room logger's file is read: which column is what, by its
// head, "" for none, and what its numbers and times mean.
type RoomMap struct {
	Time       string `json:"time"`
	Clock      string `json:"clock"` // of the time of day, where it has a column of its own
	Temp       string `json:"temp"`
	RH         string `json:"rh"`
	CO2        string `json:"co2"`
	Fahrenheit bool   `json:"fahrenheit"`
	Order      Order  `json:"order"`
	Zone       Clock  `json:"zone"`
	// Unsure says that no date of the file tells day from month.
	Unsure bool `json:"-"`
}

// GuessRoom is the likely mapping of a file, by its heads and first row.
func (s *Sheet) GuessRoom() RoomMap {
	heads := s.Heads()
	m := RoomMap{Zone: ClockFarm, Time: heads[s.shape.column]}
	if s.shape.clock >= 0 {
		m.Clock = heads[s.shape.clock]
	}
	if c := clockOfHead(m.Time + " " + m.Clock); c != "" {
		m.Zone = c
	}
	first := slices.Clone(s.split(s.rows[0].text))
	for i, name := range heads {
		if name != m.Time && name != m.Clock {
			m.guess(name, cell(first, i))
		}
	}
	order, decided, points := s.orderOf(s.shape.column)
	m.Order, m.Unsure = order, !decided && !points && !s.tellsSeconds()
	return m
}

// guess takes a column for what its head says.
func (m *RoomMap) guess(head, first string) {
	name := strings.ToLower(head)
	has := func(words ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(name, w) })
	}
	switch {
	case m.CO2 == "" && has("co2", "co₂", "carbon", "ppm"):
		m.CO2 = head
	case m.RH == "" && has("hum", "feucht", "rh", "%") && !has("temp"):
		m.RH = head
	case m.Temp == "" && has("temp", "°c", "°f", "celsius", "fahrenheit") && !has("dew", "tau", "rosée"):
		m.Temp = head
		_, of, _ := number(first)
		m.Fahrenheit = ofHead(head) == fahren || strings.HasSuffix(name, " f") || of == fahren
	}
}

// Problem is a row that could not be read.
type Problem struct {
	Line    int
	Message string
}

// Room reads the rows by a mapping. Shift is added to every time: how much the
// logger's clock was slow. Rows that cannot be read are named; those that hold no
// value are passed over. A file may have its newest row first; readings come out
// in the order of time.
func (s *Sheet) Room(m RoomMap, zone *time.Location, shift time.Duration, now time.Time) (out []grow.AirReading, problems []Problem, err error) {
	in, err := s.roomColumns(m)
	if err != nil {
		return nil, nil, err
	}
	times := reader{shape: shape{column: in.time, clock: in.clock, kind: dated}, zone: zone, means: m.Zone, order: m.Order}
	for _, row := range s.oldestFirst(times) {
		cells := s.split(row.text)
		at, err := times.at(cells)
		if err != nil {
			problems = append(problems, Problem{row.line, timeProblem(cells, in, err)})
			continue
		}
		r, problem := in.reading(cells, m.Fahrenheit)
		if problem == "" && r.TempC == nil && r.RHPct == nil && r.CO2ppm == nil {
			if said := in.wordsFor(cells); said != "" {
				problems = append(problems, Problem{row.line, said + " is no reading"})
			}
			continue
		}
		if r.At = at.Add(shift); problem == "" {
			problem = troubleWords(r, now, m)
		}
		if problem != "" {
			problems = append(problems, Problem{row.line, problem})
			continue
		}
		out = append(out, r)
	}
	slices.SortStableFunc(out, func(a, b grow.AirReading) int { return a.At.Compare(b.At) })
	slices.SortFunc(problems, func(a, b Problem) int { return a.Line - b.Line })
	return out, problems, nil
}

// wordsFor are a row's cells of values where a word stands in one: a logger that
// writes ERR has lost a reading, one that writes dashes took none.
func (in roomColumns) wordsFor(cells []string) string {
	var said []string
	words := false
	for _, column := range []int{in.temp, in.rh, in.co2} {
		if text := cell(cells, column); text != "" {
			said = append(said, strconv.Quote(cut(text)))
			words = words || strings.ContainsFunc(text, unicode.IsLetter)
		}
	}
	if !words {
		return ""
	}
	return strings.Join(said, ", ")
}

// troubleWords says what is wrong with a row's reading, in the file's own unit.
func troubleWords(r grow.AirReading, now time.Time, m RoomMap) string {
	u := grow.Units{Temperature: grow.Celsius}
	if m.Fahrenheit {
		u.Temperature = grow.Fahrenheit
	}
	field, words := r.Trouble(now, u)
	if words == "" {
		return ""
	}
	name := map[string]string{"at": "the time", "temp_c": "temperature", "rh_pct": "humidity", "co2_ppm": "carbon dioxide"}[field]
	return strings.TrimSpace(name + " " + words)
}

func timeProblem(cells []string, in roomColumns, err error) string {
	said := cut(strings.TrimSpace(cell(cells, in.time) + " " + cell(cells, in.clock)))
	if errors.Is(err, errSkipped) {
		return fmt.Sprintf("%q %s: does the logger keep winter time all year?", said, err)
	}
	return fmt.Sprintf("%q %s", said, err)
}

// roomColumns are where the mapping's columns stand, -1 for none.
type roomColumns struct{ time, clock, temp, rh, co2 int }

func (s *Sheet) roomColumns(m RoomMap) (in roomColumns, err error) {
	var p grow.Problems
	heads := s.Heads()
	place := func(field, name string, needed bool) int {
		i := slices.Index(heads, name)
		if i < 0 && (needed || name != "") {
			p.Add(field, "must be one of the file's columns")
		}
		return i
	}
	in = roomColumns{place("time", m.Time, true), place("clock", m.Clock, false), place("temp", m.Temp, false), place("rh", m.RH, false), place("co2", m.CO2, false)}
	if in.temp < 0 && in.rh < 0 && in.co2 < 0 {
		p.Add("temp", "say at least one column of values")
	}
	return in, p.Err("this file cannot be read like this")
}

func (in roomColumns) reading(cells []string, fahrenheit bool) (r grow.AirReading, problem string) {
	for _, v := range []struct {
		column int
		into   **float64
		name   string
	}{{in.temp, &r.TempC, "temperature"}, {in.rh, &r.RHPct, "humidity"}, {in.co2, &r.CO2ppm, "carbon dioxide"}} {
		switch value, _, is := number(cell(cells, v.column)); is {
		case aNumber:
			*v.into = &value
		case strange:
			return r, fmt.Sprintf("%q is no %s", cut(cells[v.column]), v.name)
		}
	}
	if in.co2 >= 0 && r.CO2ppm != nil {
		*r.CO2ppm = withThousands(cells[in.co2], *r.CO2ppm)
	}
	if r.TempC != nil {
		*r.TempC = celsiusOf(*r.TempC, fahrenheit)
	}
	return r, ""
}

// withThousands is a number of parts per million whose sign before three digits
// parts thousands: no air on Earth has less than a hundred.
func withThousands(text string, ppm float64) float64 {
	if thousands.MatchString(text) {
		return ppm * 1000
	}
	return ppm
}

var thousands = regexp.MustCompile(`^[1-9][0-9]?[.,][0-9]{3}\b`)

// cut shortens what a cell holds to what a message can say.
func cut(text string) string {
	const most = 40
	if r := []rune(text); len(r) > most {
		return string(r[:most]) + "…"
	}
	return text
}
