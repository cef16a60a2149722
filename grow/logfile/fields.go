package logfile

import (
	"strconv"
	"strings"
	"time"
)

// Order is the order of day, month and year in a file's dates.
type Order string

// The orders.
const (
	YearFirst  Order = "ymd"
	DayFirst   Order = "dmy"
	MonthFirst Order = "mdy"
)

// fields are the whole numbers of a time as it is written, in their order.
type fields struct {
	v      [7]int
	n      int
	wide   int  // digits of the first
	colon  bool // the first separator
	point  bool // a point stands between the first two
	half   byte // 'a' or 'p' behind the hour
	nanos  int
	offset *time.Duration // east of UTC, nil where it names none
}

func (f fields) whole() bool { return f.n >= 5 && !f.colon }
func (f fields) date() bool  { return f.n == 3 && !f.colon }
func (f fields) hour() bool  { return f.colon && (f.n == 2 || f.n == 3) }

// order is what the numbers of a date say of their order, "" for nothing.
func (f fields) order() Order {
	switch {
	case f.wide == 4:
		return YearFirst
	case f.v[0] > 12:
		return DayFirst
	case f.v[1] > 12:
		return MonthFirst
	}
	return ""
}

// fieldsOf takes a cell apart; anything but digits, separators and the signs of a
// time makes it none. The name of a weekday may stand before it.
func fieldsOf(cell string) (f fields, ok bool) {
	if len(cell) > 0 && (cell[0] < '0' || cell[0] > '9') {
		cell = withoutWeekday(cell)
	}
	if len(cell) < 4 || len(cell) > 35 || cell[0] < '0' || cell[0] > '9' {
		return f, false
	}
	for i := 0; i < len(cell); {
		c := cell[i]
		switch {
		case c >= '0' && c <= '9':
			if i = f.digits(cell, i); i < 0 {
				return f, false
			}
		case c == '-' && f.n >= 5 || c == '+':
			return f.zone(cell[i:])
		case c == 'Z' && f.n >= 5:
			f.offset = new(time.Duration(0))
			return f, i == len(cell)-1
		case strings.IndexByte("-/. T:_,", c) >= 0:
			if f.n == 1 {
				f.colon, f.point = c == ':', c == '.'
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

// withoutWeekday is a cell without one word of letters at its start.
func withoutWeekday(cell string) string {
	const longest = 12
	for i := 0; i < min(longest, len(cell)); i++ {
		switch c := cell[i] | 0x20; {
		case c >= 'a' && c <= 'z', cell[i] >= 0x80:
		case i > 1:
			return strings.TrimLeft(cell[i:], "., ")
		default:
			return cell
		}
	}
	return cell
}

// digits reads the digits at i; it gives where they end, -1 if there is no room.
func (f *fields) digits(cell string, i int) int {
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
func (f *fields) fraction(cell string, i int) int {
	unit := int(time.Second)
	for ; i < len(cell) && cell[i] >= '0' && cell[i] <= '9'; i++ {
		unit /= 10
		f.nanos += int(cell[i]-'0') * unit
	}
	return i
}

// zone reads an offset like +01:00.
func (f fields) zone(text string) (fields, bool) {
	t, err := time.Parse("-07:00", text)
	if err != nil {
		if t, err = time.Parse("-0700", text); err != nil {
			return f, false
		}
	}
	_, seconds := t.Zone()
	f.offset = new(time.Duration(seconds) * time.Second)
	return f, true
}

// join puts the hour of a second cell behind a date.
func (f fields) join(cell string) (fields, bool) {
	g, ok := fieldsOf(cell)
	if !ok || !f.date() || !g.hour() {
		return f, false
	}
	copy(f.v[3:], g.v[:g.n])
	f.n, f.half, f.nanos, f.offset = 3+g.n, g.half, g.nanos, g.offset
	return f, true
}

// clock is the time of day at a place among the fields, in a day of 24 hours.
func (f fields) clock(at int) (time.Duration, bool) {
	hour := f.v[at]
	switch {
	case f.half == 'p' && hour < 12:
		hour += 12
	case f.half == 'a' && hour == 12:
		hour = 0
	}
	return f.span(hour, at), hour < 24 && f.v[at+1] < 60 && f.v[at+2] < 60
}

func (f fields) span(hours, at int) time.Duration {
	return time.Duration(hours)*time.Hour + time.Duration(f.v[at+1])*time.Minute + time.Duration(f.v[at+2])*time.Second + time.Duration(f.nanos)
}

// shown is what the wall shows, as if it were UTC.
func (f fields) shown(order Order) (time.Time, bool) {
	if !f.whole() {
		return time.Time{}, false
	}
	year, month, day := f.v[0], f.v[1], f.v[2]
	switch {
	case f.wide == 4:
	case order == DayFirst:
		day, year = f.v[0], f.v[2]
	case order == MonthFirst:
		month, day, year = f.v[0], f.v[1], f.v[2]
	}
	if year < 100 {
		year += 2000
	}
	clock, ok := f.clock(3)
	midnight := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	legal := month >= 1 && month <= 12 && day >= 1 && midnight.Day() == day && year >= 2000 && year < 2200
	return midnight.Add(clock), ok && legal
}

// unixTime is a time written as seconds or milliseconds since 1970.
func unixTime(cell string) (time.Time, bool) {
	const from2000, to2200 = 946684800, 7258118400
	if len(cell) != 10 && len(cell) != 13 {
		return time.Time{}, false
	}
	n, err := strconv.ParseInt(cell, 10, 64)
	milli := int64(0)
	if len(cell) == 13 {
		n, milli = n/1000, n%1000
	}
	if err != nil || n < from2000 || n >= to2200 {
		return time.Time{}, false
	}
	return time.Unix(n, milli*int64(time.Millisecond)), true
}
