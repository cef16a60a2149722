package logfile

import (
	"errors"
	"math"
	"slices"
	"strings"
	"time"
)

// Clock is what a file's times without an offset mean.
type Clock string

// The clocks. A logger that keeps winter time all year shows an hour less in
// summer.
const (
	ClockFarm   Clock = "farm"   // as the farm's clocks on the wall, summer time too
	ClockWinter Clock = "winter" // the farm's winter time all year
	ClockUTC    Clock = "utc"
)

// shape is how the rows of a file tell their time.
type shape struct {
	column int // where it begins
	clock  int // of the time of day where it has a cell of its own, else -1
	kind   shapeKind
}

type shapeKind byte

const (
	dated    shapeKind = iota // a date and an hour, or seconds since 1970
	hours                     // an hour alone: a day after one that is smaller
	duration                  // hours, minutes and seconds since the start
	minutes                   // since the start
	seconds
)

// after is the first column behind the time.
func (s shape) after() int { return max(s.column, s.clock) + 1 }

// besideNumber tells whether a row has a number beside its time.
func (s shape) besideNumber(cells []string) bool {
	for i, c := range cells {
		if _, _, is := number(c); is == aNumber && i != s.column && i != s.clock {
			return true
		}
	}
	return false
}

// shapeOf finds the time of a row: a date and an hour before an hour alone, both
// before numbers whose head says minutes or seconds.
func shapeOf(cells, head []string) (shape, bool) {
	hour, date := -1, -1
	for i, c := range cells {
		f, ok := fieldsOf(c)
		switch {
		case ok && f.whole():
			return shape{i, -1, dated}, true
		case ok && f.hour() && hour < 0:
			hour = i
		case ok && f.date() && date < 0:
			date = i
		}
		if _, ok := unixTime(c); ok {
			return shape{i, -1, dated}, true
		}
	}
	switch {
	case date >= 0 && hour >= 0:
		return shape{date, hour, dated}, true
	case hour >= 0 && strings.Contains(strings.ToLower(cell(head, hour)), "elapsed"):
		return shape{hour, -1, duration}, true
	case hour >= 0:
		return shape{hour, -1, hours}, true
	}
	for i := range min(3, len(cells), len(head)) {
		if kind, ok := sinceStart(head[i]); ok {
			if _, _, is := number(cells[i]); is == aNumber {
				return shape{i, -1, kind}, true
			}
		}
	}
	return shape{}, false
}

// sinceStart tells whether a head means minutes or seconds since the start.
func sinceStart(head string) (shapeKind, bool) {
	low := strings.ToLower(head)
	switch {
	case strings.Contains(low, "temp"), strings.Contains(low, "°"):
	case strings.Contains(low, "min"):
		return minutes, true
	case strings.Contains(low, "sec"), low == "s", strings.Contains(low, "(s)"), strings.Contains(low, "[s]"):
		return seconds, true
	}
	return 0, false
}

// How a row's time cannot be read.
var (
	errNoTime  = errors.New("is no date and time")
	errSkipped = errors.New("was skipped when clocks went forward")
)

// reader reads the times of a file's rows, one after the other.
type reader struct {
	shape
	zone  *time.Location
	means Clock
	order Order
	start time.Time // of what tells no day

	last time.Time     // of the row before
	step time.Duration // between the two rows before
}

// longestRun bounds times counted from the start: no run lasts a year.
const longestRun = 366 * 24 * time.Hour

// at is the time of a row.
func (r *reader) at(cells []string) (t time.Time, err error) {
	text := cell(cells, r.column)
	switch r.kind {
	case minutes, seconds:
		n, _, is := number(text)
		each := map[shapeKind]time.Duration{minutes: time.Minute, seconds: time.Second}[r.kind]
		if is != aNumber || math.Abs(n) > float64(longestRun/each) {
			return t, errNoTime
		}
		return r.start.Add(time.Duration(n * float64(each))), nil
	case dated:
		if t, ok := unixTime(text); ok {
			return r.read(t), nil
		}
	}
	f, ok := fieldsOf(text)
	if ok && r.clock >= 0 {
		f, ok = f.join(cell(cells, r.clock))
	}
	switch {
	case !ok:
		return t, errNoTime
	case r.kind == hours:
		return r.hour(f)
	case r.kind == duration:
		if !f.hour() || f.v[1] > 59 || f.v[2] > 59 {
			return t, errNoTime
		}
		return r.start.Add(f.span(f.v[0], 0)), nil
	}
	return r.date(f)
}

// shown is what a row's clock shows, to be compared with other rows; false where
// the time is counted from the start.
func (r *reader) shown(cells []string) (time.Time, bool) {
	text := cell(cells, r.column)
	if t, ok := unixTime(text); ok && r.kind == dated {
		return t, true
	}
	f, ok := fieldsOf(text)
	if ok && r.clock >= 0 {
		f, ok = f.join(cell(cells, r.clock))
	}
	switch {
	case ok && r.kind == dated:
		return f.shown(r.order)
	case ok && r.kind == hours && f.hour():
		clock, ok := f.clock(0)
		return time.Unix(0, 0).Add(clock), ok
	}
	return time.Time{}, false
}

// oldestFirst is the rows in the order of time: turned round where the clock goes
// back from more rows to the next than it goes on.
func (s *Sheet) oldestFirst(r reader) []row {
	back := 0
	var before time.Time
	for _, row := range s.rows {
		shown, ok := r.shown(s.split(row.text))
		if !ok {
			continue
		}
		if !before.IsZero() {
			back -= shown.Compare(before)
		}
		before = shown
	}
	if back <= 0 {
		return s.rows
	}
	rows := slices.Clone(s.rows)
	slices.Reverse(rows)
	return rows
}

// read notes a row's time as the last one.
func (r *reader) read(t time.Time) time.Time {
	if !r.last.IsZero() {
		r.step = t.Sub(r.last)
	}
	r.last = t
	return t
}

// date is the instant that a date and an hour say. On the night when clocks go
// back a time that the file's order says has been before is the second one.
func (r *reader) date(f fields) (time.Time, error) {
	shown, ok := f.shown(r.order)
	if !ok {
		return time.Time{}, errNoTime
	}
	offset, fixed := r.means.Offset()
	switch {
	case f.offset != nil:
		return r.read(shown.Add(-*f.offset)), nil
	case fixed:
		return r.read(shown.Add(-offset)), nil
	case r.means == ClockUTC:
		return r.read(shown), nil
	case r.means == ClockWinter:
		return r.read(shown.Add(-winterOffset(shown.Year(), r.zone))), nil
	}
	list := instants(shown, r.zone)
	if len(list) == 0 {
		return time.Time{}, errSkipped
	}
	if i := slices.IndexFunc(list, r.mayFollow); i >= 0 {
		return r.read(list[i]), nil
	}
	return r.read(list[0]), nil
}

// mayFollow tells whether a time may stand behind the row before. The same time
// twice is one moment, unless rows are as far apart as the hour that clocks go
// back.
func (r *reader) mayFollow(t time.Time) bool {
	return t.After(r.last) || t.Equal(r.last) && r.step < 45*time.Minute
}

// early is how long before its run's noted start a logger may have begun.
const early = 3 * time.Hour

// hour is the next time at which a clock on the wall shows an hour.
func (r *reader) hour(f fields) (time.Time, error) {
	clock, ok := f.clock(0)
	if !ok || !f.hour() {
		return time.Time{}, errNoTime
	}
	from := r.last
	if from.IsZero() {
		from = r.start.Add(-early)
	}
	y, m, d := from.In(r.zone).Date()
	for day := range 2 {
		shown := time.Date(y, m, d+day, 0, 0, 0, 0, time.UTC).Add(clock)
		list := instants(shown, r.zone)
		for _, t := range list {
			if t.Equal(from) && len(list) == 1 || !t.Before(from) && r.mayFollow(t) {
				return r.read(t), nil
			}
		}
		if len(list) == 0 && shown.After(wall(from, r.zone)) {
			return time.Time{}, errSkipped
		}
	}
	return time.Time{}, errNoTime
}

// wall is what a clock on the wall shows, as if it were UTC.
func wall(t time.Time, zone *time.Location) time.Time {
	_, offset := t.In(zone).Zone()
	return t.UTC().Add(time.Duration(offset) * time.Second)
}

// instants are the moments at which a clock on the wall of the zone shows what is
// shown, earliest first: one, two on the night when clocks go back, none in the
// hour that is skipped.
func instants(shown time.Time, zone *time.Location) []time.Time {
	_, before := shown.Add(-26 * time.Hour).In(zone).Zone()
	_, after := shown.Add(26 * time.Hour).In(zone).Zone()
	offsets := []int{max(before, after), min(before, after)}
	if before == after {
		offsets = offsets[:1]
	}
	var out []time.Time
	for _, offset := range offsets {
		t := shown.Add(-time.Duration(offset) * time.Second)
		if _, there := t.In(zone).Zone(); there == offset {
			out = append(out, t)
		}
	}
	return out
}

// winterOffset is the zone's smaller offset of a year.
func winterOffset(year int, zone *time.Location) time.Duration {
	_, january := time.Date(year, 1, 1, 12, 0, 0, 0, zone).Zone()
	_, july := time.Date(year, 7, 1, 12, 0, 0, 0, zone).Zone()
	return time.Duration(min(january, july)) * time.Second
}

// orderOf finds out how a column's dates are written: by four digits, or by a
// number that no month has. Where nothing decides it, a point between the numbers
// means the day comes first, an hour of twelve the month, and else the day is
// taken.
func (s *Sheet) orderOf(column int) (order Order, decided, points bool) {
	half := false
	for _, r := range s.rows {
		f, ok := fieldsOf(cell(s.split(r.text), column))
		if !ok || f.hour() {
			continue
		}
		if order := f.order(); order != "" {
			return order, true, false
		}
		points, half = points || f.point, half || f.half != 0
	}
	if half && !points {
		return MonthFirst, false, false
	}
	return DayFirst, false, points
}
