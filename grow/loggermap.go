package grow

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// LoggerMap says how a logger's file is read: which column is what, by its
// heading, "" for none, and what its numbers and times mean.
type LoggerMap struct {
	Time       string      `json:"time"`
	Clock      string      `json:"clock"` // of the time of day, where it has a column of its own
	Temp       string      `json:"temp"`
	RH         string      `json:"rh"`
	CO2        string      `json:"co2"`
	Fahrenheit bool        `json:"fahrenheit"`
	Order      DateOrder   `json:"order"`
	Zone       LoggerClock `json:"zone"`
	// Unsure says that no date of the file tells day from month.
	Unsure bool `json:"-"`
}

// Heading is what a mapping is remembered by.
func (s LoggerSheet) HeadingKey() string { return strings.ToLower(strings.Join(s.Heading, "\x1f")) }

// Guess is the likely mapping of a file.
func (s LoggerSheet) Guess() LoggerMap {
	m := LoggerMap{Zone: ClockFarm, Time: s.Heading[0]}
	first := s.Rows[0]
	for i, cell := range first {
		if looksLikeTime(cell) {
			m.Time = s.Heading[i]
			if unixSeconds(cell) == nil && !clockPattern.MatchString(cell) {
				m.Clock = s.clockColumn(i)
			}
			break
		}
	}
	for i, name := range s.Heading {
		if name == m.Time || name == m.Clock {
			continue
		}
		s.guessColumn(&m, i, strings.ToLower(name))
	}
	m.Order, m.Unsure = s.order(m.Time)
	return m
}

// clockColumn is the column beside the date that holds times of day.
func (s LoggerSheet) clockColumn(date int) string {
	for i, cell := range s.Rows[0] {
		if i != date && clockPattern.MatchString(cell) {
			return s.Heading[i]
		}
	}
	return ""
}

func (s LoggerSheet) guessColumn(m *LoggerMap, i int, name string) {
	has := func(words ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(name, w) })
	}
	switch {
	case m.CO2 == "" && has("co2", "co₂", "carbon", "ppm"):
		m.CO2 = s.Heading[i]
	case m.RH == "" && (has("hum", "feucht", "humid", "rh", "%") && !has("temp")):
		m.RH = s.Heading[i]
	case m.Temp == "" && (has("temp", "°c", "°f", "celsius", "fahrenheit") && !has("dew", "tau", "rosée")):
		m.Temp = s.Heading[i]
		m.Fahrenheit = has("°f", "fahrenheit", "(f)", "[f]", "_f", " f") || strings.Contains(strings.ToUpper(s.Rows[0][i]), "F")
	}
}

// order finds out how dates are written: by four digits, or by a number that no
// month has. A point between the numbers means the day comes first.
func (s LoggerSheet) order(column string) (order DateOrder, unsure bool) {
	at := slices.Index(s.Heading, column)
	points := false
	for _, row := range s.Rows {
		m := datePattern.FindStringSubmatch(row[at])
		switch {
		case m == nil:
			continue
		case len(m[1]) == 4:
			return YearFirst, false
		case number(m[1]) > 12:
			return DayFirst, false
		case number(m[2]) > 12:
			return MonthFirst, false
		}
		points = points || strings.Contains(m[0], ".")
	}
	return DayFirst, !points && unixSeconds(s.Rows[0][at]) == nil
}

// LoggerProblem is a row that could not be read.
type LoggerProblem struct {
	Line    int
	Message string
}

// Readings reads the rows by a mapping. Shift is added to every time: how much the
// logger's clock was slow. Rows that cannot be read are named; those that hold no
// value are passed over.
func (s LoggerSheet) Readings(m LoggerMap, zone *time.Location, shift time.Duration, now time.Time) (out []AirReading, problems []LoggerProblem, err error) {
	at, err := s.columns(m)
	if err != nil {
		return nil, nil, err
	}
	var last time.Time
	for i, row := range s.Rows {
		r, problem := s.reading(m, row, at, zone, last)
		if problem == "" && r.TempC == nil && r.RHPct == nil && r.CO2ppm == nil {
			continue
		}
		if problem == "" {
			last = r.At
			r.At = r.At.Add(shift)
			problem = r.Problem(now)
		}
		if problem != "" {
			problems = append(problems, LoggerProblem{s.Lines[i], problem})
			continue
		}
		out = append(out, r)
	}
	return out, problems, nil
}

// loggerColumns are where the mapping's columns stand, -1 for none.
type loggerColumns struct{ time, clock, temp, rh, co2 int }

func (s LoggerSheet) columns(m LoggerMap) (at loggerColumns, err error) {
	var p Problems
	place := func(field, name string, needed bool) int {
		i := slices.Index(s.Heading, name)
		if i < 0 && (needed || name != "") {
			p.Add(field, "must be one of the file's columns")
		}
		return i
	}
	at = loggerColumns{place("time", m.Time, true), place("clock", m.Clock, false), place("temp", m.Temp, false), place("rh", m.RH, false), place("co2", m.CO2, false)}
	if at.temp < 0 && at.rh < 0 && at.co2 < 0 {
		p.Add("temp", "say at least one column of values")
	}
	return at, p.Err("this file cannot be read like this")
}

func (s LoggerSheet) reading(m LoggerMap, row []string, at loggerColumns, zone *time.Location, last time.Time) (r AirReading, problem string) {
	clock := ""
	if at.clock >= 0 {
		clock = row[at.clock]
	}
	if r.At, problem = instantOf(row[at.time], clock, m, zone, last); problem != "" {
		return r, problem
	}
	for _, v := range []struct {
		column int
		into   **float64
		name   string
	}{{at.temp, &r.TempC, "temperature"}, {at.rh, &r.RHPct, "humidity"}, {at.co2, &r.CO2ppm, "carbon dioxide"}} {
		if v.column < 0 {
			continue
		}
		n, ok := loggerNumber(row[v.column])
		if !ok {
			return r, fmt.Sprintf("%q is no %s", row[v.column], v.name)
		}
		*v.into = n
	}
	if r.TempC != nil && m.Fahrenheit {
		c := (*r.TempC - 32) / 1.8
		r.TempC = &c
	}
	return r, ""
}

// instantOf is when a row was read. On the night when clocks go back a time that
// the file's order says has been before is the second one.
func instantOf(date, clock string, m LoggerMap, zone *time.Location, last time.Time) (time.Time, string) {
	if t := unixSeconds(date); t != nil {
		return *t, ""
	}
	w, ok := parseWall(date, clock, m.Order)
	if !ok {
		return time.Time{}, fmt.Sprintf("%q is no date and time", strings.TrimSpace(date+" "+clock))
	}
	switch {
	case w.offset != nil:
		return w.utc().Add(-time.Duration(*w.offset) * time.Second), ""
	case m.Zone == ClockUTC:
		return w.utc(), ""
	case m.Zone == ClockWinter:
		return w.utc().Add(-time.Duration(winterOffset(w.year, zone)) * time.Second), ""
	}
	list := w.instants(zone)
	if len(list) == 0 {
		return time.Time{}, fmt.Sprintf("%q was skipped when clocks went forward: does the logger keep winter time all year?", strings.TrimSpace(date+" "+clock))
	}
	for _, t := range list {
		if t.After(last) {
			return t, ""
		}
	}
	return list[0], ""
}

// loggerNumber reads a value with a decimal point or comma and perhaps a unit;
// dashes and the like are no value.
func loggerNumber(cell string) (*float64, bool) {
	text := strings.TrimSpace(cell)
	for _, unit := range []string{"°C", "°F", "ppm", "%", "RH", "C", "F"} {
		text = strings.TrimSpace(strings.TrimSuffix(text, unit))
	}
	switch strings.ToLower(text) {
	case "", "-", "--", "---", "nan", "n/a", "na", "null", "none", "err", "error":
		return nil, true
	}
	if strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		text = strings.Replace(text, ",", ".", 1)
	}
	n, err := strconv.ParseFloat(text, 64)
	if err != nil || n != n {
		return nil, false
	}
	return &n, true
}
