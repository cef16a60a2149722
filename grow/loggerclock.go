package grow

import (
	"regexp"
	"strconv"
	"strings"
	"time"
)

// DateOrder is the order of day, month and year in a file's dates.
type DateOrder string

// The orders.
const (
	YearFirst  DateOrder = "ymd"
	DayFirst   DateOrder = "dmy"
	MonthFirst DateOrder = "mdy"
)

// LoggerClock is what a file's times without an offset mean.
type LoggerClock string

// The clocks. A logger that keeps winter time all year shows an hour less in
// summer.
const (
	ClockFarm   LoggerClock = "farm"   // as the farm's clocks on the wall, summer time too
	ClockWinter LoggerClock = "winter" // the farm's winter time all year
	ClockUTC    LoggerClock = "utc"
)

var (
	datePattern   = regexp.MustCompile(`(\d{1,4})[-/.](\d{1,2})[-/.](\d{1,4})`)
	clockPattern  = regexp.MustCompile(`(?i)(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?\s*([ap]\.?m\.?)?`)
	offsetPattern = regexp.MustCompile(`(Z|[+-]\d{2}:?\d{2})$`)
)

func looksLikeTime(cell string) bool {
	return datePattern.MatchString(cell) || unixSeconds(cell) != nil
}

// unixSeconds is a time written as seconds since 1970, nil for anything else.
func unixSeconds(cell string) *time.Time {
	cell = strings.TrimSpace(cell)
	if len(cell) < 10 || len(cell) > 13 {
		return nil
	}
	n, err := strconv.ParseInt(cell, 10, 64)
	if err != nil || n < 946684800 {
		return nil
	}
	t := time.Unix(n, 0)
	if len(cell) == 13 {
		t = time.UnixMilli(n)
	}
	return &t
}

// wallTime is a time as a file writes it. Offset is nil where it names none.
type wallTime struct {
	year, month, day, hour, minute, second, nano int
	offset                                       *int // seconds east of UTC
}

// parseWall reads a date, and the time of day from the same cell or another.
func parseWall(date, clock string, order DateOrder) (w wallTime, ok bool) {
	m := datePattern.FindStringSubmatch(date)
	if m == nil {
		return w, false
	}
	n := [3]int{number(m[1]), number(m[2]), number(m[3])}
	switch {
	case len(m[1]) == 4 || order == YearFirst:
		w.year, w.month, w.day = n[0], n[1], n[2]
	case order == MonthFirst:
		w.year, w.month, w.day = n[2], n[0], n[1]
	default:
		w.year, w.month, w.day = n[2], n[1], n[0]
	}
	if w.year < 100 {
		w.year += 2000
	}
	rest := clock
	if clock == "" {
		rest = date[strings.Index(date, m[0])+len(m[0]):]
	}
	rest = strings.TrimSpace(rest)
	c := clockPattern.FindStringSubmatch(rest)
	if c == nil {
		return w, false
	}
	w.hour, w.minute, w.second = number(c[1]), number(c[2]), number(c[3])
	if c[4] != "" {
		w.nano = number((c[4] + "000000000")[:9])
	}
	if half := strings.ToLower(c[5]); half != "" {
		if w.hour < 1 || w.hour > 12 {
			return w, false
		}
		w.hour = w.hour%12 + map[bool]int{true: 12}[half[0] == 'p']
	}
	if z := offsetPattern.FindString(rest); z != "" {
		seconds := 0
		if z != "Z" {
			digits := strings.ReplaceAll(z[1:], ":", "")
			seconds = number(digits[:2])*3600 + number(digits[2:])*60
			if z[0] == '-' {
				seconds = -seconds
			}
		}
		w.offset = &seconds
	}
	made := time.Date(w.year, time.Month(w.month), w.day, w.hour, w.minute, w.second, 0, time.UTC)
	return w, w.hour < 24 && w.minute < 60 && w.second < 60 && made.Day() == w.day && int(made.Month()) == w.month && w.year >= 2000 && w.year < 2200
}

func number(digits string) int {
	n, err := strconv.Atoi(digits)
	if err != nil {
		return 0
	}
	return n
}

// utc is the wall time as if it were UTC.
func (w wallTime) utc() time.Time {
	return time.Date(w.year, time.Month(w.month), w.day, w.hour, w.minute, w.second, w.nano, time.UTC)
}

// instants are the moments at which a wall clock of the zone shows the time: one,
// two on the night when clocks go back, none in the hour that is skipped.
func (w wallTime) instants(zone *time.Location) (out []time.Time) {
	shown := w.utc()
	for _, offset := range offsetsAround(shown, zone) {
		t := shown.Add(-time.Duration(offset) * time.Second)
		if _, there := t.In(zone).Zone(); there == offset {
			out = append(out, t)
		}
	}
	return out
}

// offsetsAround are the zone's offsets a day before and a day after, the larger
// one first: it gives the earlier instant.
func offsetsAround(shown time.Time, zone *time.Location) []int {
	_, before := shown.Add(-26 * time.Hour).In(zone).Zone()
	_, after := shown.Add(26 * time.Hour).In(zone).Zone()
	switch {
	case before == after:
		return []int{before}
	case before > after:
		return []int{before, after}
	}
	return []int{after, before}
}

// winterOffset is the zone's smaller offset of a year.
func winterOffset(year int, zone *time.Location) int {
	_, january := time.Date(year, 1, 1, 12, 0, 0, 0, zone).Zone()
	_, july := time.Date(year, 7, 1, 12, 0, 0, 0, zone).Zone()
	return min(january, july)
}
