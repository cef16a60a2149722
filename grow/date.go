package grow

import (
	"encoding/json"
	"time"
)

// Date is a day of the calendar, counted from 1 January 1970. Days are counted
// as dates in the farm's time zone, never as hours divided by 24: where clocks
// change, a day has 23 or 25 hours.
type Date int32

const dateLayout = "2006-01-02"

// DateOf is the date of an instant in a time zone.
func DateOf(t time.Time, zone *time.Location) Date {
	y, m, d := t.In(zone).Date()
	return DateOn(y, m, d)
}

// DateOn is the date of a year, month and day.
func DateOn(year int, month time.Month, day int) Date {
	return Date(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// ParseDate reads YYYY-MM-DD.
func ParseDate(text string) (Date, error) {
	t, err := time.Parse(dateLayout, text)
	if err != nil {
		return 0, Errorf(Invalid, "must be a date like 2026-03-14")
	}
	return Date(t.Unix() / 86400), nil
}

// Time is the start of the date, in UTC; use it for formatting.
func (d Date) Time() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// In is the first instant at which the clock of the zone shows the hour on that
// date; an hour that the zone skips becomes the next instant that exists.
func (d Date) In(zone *time.Location, hour int) time.Time {
	wanted := d.Time().Add(time.Duration(hour) * time.Hour)
	y, m, day := d.Time().Date()
	t := time.Date(y, m, day, hour, 0, 0, 0, zone)
	start, end := t.ZoneBounds()
	switch shown := onTheClock(t); {
	case shown.Before(wanted): // skipped, and t fell before the gap
		return end
	case shown.After(wanted): // skipped, and t fell behind it
		return start
	}
	return t
}

// onTheClock is what the clock of t's zone shows, as if it were UTC.
func onTheClock(t time.Time) time.Time {
	_, offset := t.Zone()
	return t.UTC().Add(time.Duration(offset) * time.Second)
}

// String is YYYY-MM-DD.
func (d Date) String() string { return d.Time().Format(dateLayout) }

// MarshalJSON writes YYYY-MM-DD.
func (d Date) MarshalJSON() ([]byte, error) { return json.Marshal(d.String()) }

// UnmarshalJSON reads YYYY-MM-DD.
func (d *Date) UnmarshalJSON(b []byte) error {
	var s string
	if err := json.Unmarshal(b, &s); err != nil {
		return Errorf(Invalid, "must be a date like 2026-03-14")
	}
	v, err := ParseDate(s)
	*d = v
	return err
}
