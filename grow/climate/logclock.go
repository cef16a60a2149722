package climate

import (
	"strings"
	"time"
)

// clockShape is how the rows of a file tell their time.
type clockShape struct {
	column  int  // where it begins
	two     bool // date and hour in two cells
	kind    clockKind
	order   dateOrder
	assumed string
}

type clockKind int

const (
	dated   clockKind = iota // a date and an hour
	hours                    // an hour alone: a day after one that is smaller
	minutes                  // since the start
	seconds
)

type dateOrder int

const (
	yearFirst dateOrder = iota
	dayFirst
	monthFirst
	undecided
)

// after is the first column behind the time.
func (s clockShape) after() int {
	if s.two {
		return s.column + 2
	}
	return s.column + 1
}

// clockOf finds the time in a row's first three cells; heads may say that a bare
// number is minutes or seconds since the start.
func clockOf(cells, head []string) (clockShape, bool) {
	for i := 0; i < min(3, len(cells)); i++ {
		f, ok := fieldsOf(cells[i])
		switch {
		case ok && f.n >= 5:
			return clockShape{column: i, kind: dated, order: f.order()}, true
		case ok && f.date():
			if i+1 < len(cells) {
				if g, ok := fieldsOf(cells[i+1]); ok && g.hour() {
					return clockShape{column: i, two: true, kind: dated, order: f.order()}, true
				}
			}
		case ok && f.hour():
			return clockShape{column: i, kind: hours}, true
		}
		if i < len(head) {
			if kind, ok := elapsed(head[i]); ok {
				if _, _, number := temperature(cells[i]); number {
					return clockShape{column: i, kind: kind}, true
				}
			}
		}
	}
	return clockShape{}, false
}

func elapsed(head string) (clockKind, bool) {
	low := strings.ToLower(head)
	switch {
	case strings.Contains(low, "min"):
		return minutes, true
	case strings.Contains(low, "sec"), low == "s", strings.Contains(low, "(s)"), strings.Contains(low, "[s]"):
		return seconds, true
	}
	return 0, false
}

// timeFields are the whole numbers of a time as it is written, in their order.
type timeFields struct {
	v      [7]int
	n      int
	wide   int  // digits of the first
	colon  bool // the first separator
	half   byte // 'a' or 'p' behind the hour
	nanos  int
	offset *time.Duration
}

func (f timeFields) date() bool { return f.n == 3 && !f.colon }
func (f timeFields) hour() bool { return f.colon && (f.n == 2 || f.n == 3) }

func (f timeFields) order() dateOrder {
	switch {
	case f.wide == 4:
		return yearFirst
	case f.v[0] > 12:
		return dayFirst
	case f.v[1] > 12, f.half != 0:
		return monthFirst
	}
	return undecided
}

// fieldsOf takes a cell apart; anything but digits, separators and the signs of a
// time makes it none.
func fieldsOf(cell string) (f timeFields, ok bool) {
	if len(cell) < 4 || len(cell) > 35 || cell[0] < '0' || cell[0] > '9' {
		return f, false
	}
	for i := 0; i < len(cell); {
		c := cell[i]
		switch {
		case c >= '0' && c <= '9':
			if i = f.number(cell, i); i < 0 {
				return f, false
			}
		case c == '-' && f.n >= 5 || c == '+':
			return f.zone(cell[i:])
		case c == 'Z' && f.n >= 5:
			zero := time.Duration(0)
			f.offset = &zero
			return f, i == len(cell)-1
		case strings.IndexByte("-/. T:_,", c) >= 0:
			if f.n == 1 {
				f.colon = c == ':'
			}
			if (c == '.' || c == ',') && f.n >= 3 && (f.n >= 6 || f.hour()) {
				i = f.fraction(cell, i+1)
				continue
			}
			i++
		case c == 'A' || c == 'a' || c == 'P' || c == 'p':
			f.half = c | 0x20
			rest := strings.Trim(strings.ToLower(cell[i+1:]), ". ")
			return f, (rest == "m" || rest == "") && f.n > 0
		default:
			return f, false
		}
	}
	return f, f.n > 1
}

// number reads the digits at i; it gives where they end, -1 if there is no room.
func (f *timeFields) number(cell string, i int) int {
	from, v := i, 0
	for ; i < len(cell) && cell[i] >= '0' && cell[i] <= '9'; i++ {
		v = v*10 + int(cell[i]-'0')
	}
	if f.n == len(f.v)-1 || i-from > 4 {
		return -1
	}
	if f.n == 0 {
		f.wide = i - from
	}
	f.v[f.n] = v
	f.n++
	return i
}

// fraction reads parts of a second; it gives where they end.
func (f *timeFields) fraction(cell string, i int) int {
	unit := int(time.Second)
	for ; i < len(cell) && cell[i] >= '0' && cell[i] <= '9'; i++ {
		unit /= 10
		f.nanos += int(cell[i]-'0') * unit
	}
	return i
}

// zone reads an offset like +01:00.
func (f timeFields) zone(text string) (timeFields, bool) {
	t, err := time.Parse("-07:00", text)
	if err != nil {
		if t, err = time.Parse("-0700", text); err != nil {
			return f, false
		}
	}
	_, seconds := t.Zone()
	offset := time.Duration(seconds) * time.Second
	f.offset = &offset
	return f, true
}

func (s clockShape) unsettled() bool { return s.kind == dated && s.order == undecided }

// settle decides by the whole file whether the day or the month comes first, and
// says so where nothing decides it.
func (s *clockShape) settle(r *logReader, lines []string) {
	for _, line := range lines {
		cells := r.split(line)
		if s.column >= len(cells) {
			continue
		}
		if f, ok := fieldsOf(cells[s.column]); ok && f.order() != undecided {
			s.order = f.order()
			return
		}
	}
	s.order, s.assumed = dayFirst, "The file does not say whether the day or the month comes first: the day was taken."
}

// read is the time of a row.
func (s clockShape) read(cells []string, r *logReader) (time.Time, bool) {
	if s.column >= len(cells) || s.two && s.column+1 >= len(cells) {
		return time.Time{}, false
	}
	if s.kind == minutes || s.kind == seconds {
		n, _, ok := temperature(cells[s.column])
		unit := time.Minute
		if s.kind == seconds {
			unit = time.Second
		}
		return r.Start.Add(time.Duration(n * float64(unit))), ok
	}
	f, ok := fieldsOf(cells[s.column])
	if ok && s.two {
		f, ok = f.join(cells[s.column+1])
	}
	if !ok {
		return time.Time{}, false
	}
	if s.kind == hours {
		return s.onTheHour(f, r)
	}
	return s.instant(f, r.Zone)
}

// join puts the hour of a second cell behind a date.
func (f timeFields) join(cell string) (timeFields, bool) {
	g, ok := fieldsOf(cell)
	if !ok || !f.date() || !g.hour() {
		return f, false
	}
	copy(f.v[3:], g.v[:g.n])
	f.n, f.half, f.nanos = 3+g.n, g.half, g.nanos
	return f, true
}

// instant is the time that a date and an hour say.
func (s clockShape) instant(f timeFields, zone *time.Location) (time.Time, bool) {
	if f.n < 5 {
		return time.Time{}, false
	}
	year, month, day := f.v[0], f.v[1], f.v[2]
	switch s.order {
	case dayFirst:
		day, month, year = f.v[0], f.v[1], f.v[2]
	case monthFirst:
		month, day, year = f.v[0], f.v[1], f.v[2]
	}
	if year < 100 {
		year += 2000
	}
	hour, ok := f.hourOf(3)
	if !ok || month < 1 || month > 12 || day < 1 || day > 31 {
		return time.Time{}, false
	}
	if f.offset != nil {
		zone = time.FixedZone("", int(*f.offset/time.Second))
	}
	return time.Date(year, time.Month(month), day, hour, f.v[4], f.v[5], f.nanos, zone), true
}

// hourOf is the hour at a place among the fields, of a day of 24.
func (f timeFields) hourOf(at int) (int, bool) {
	hour := f.v[at]
	switch {
	case f.half == 'p' && hour < 12:
		hour += 12
	case f.half == 'a' && hour == 12:
		hour = 0
	}
	return hour, hour < 24 && f.v[at+1] < 60 && f.v[at+2] < 60
}

// onTheHour is the next time at which the clock shows an hour.
func (s clockShape) onTheHour(f timeFields, r *logReader) (time.Time, bool) {
	hour, ok := f.hourOf(0)
	y, m, d := r.Start.In(r.Zone).Date()
	if !r.last.IsZero() {
		y, m, d = r.last.In(r.Zone).Date()
	}
	at := time.Date(y, m, d, hour, f.v[1], f.v[2], f.nanos, r.Zone)
	if at.Before(r.last) {
		at = time.Date(y, m, d+1, hour, f.v[1], f.v[2], f.nanos, r.Zone)
	}
	return at, ok
}
