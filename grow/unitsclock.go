package grow

import "time"

// ClockFace is how the time of day is written.
type ClockFace string

// The two faces: 14:05 as in ISO 8601, and 2:05 pm.
const (
	Hours24 ClockFace = "24"
	Hours12 ClockFace = "12"
)

// WeekStart is the day on which the farm's weeks start.
type WeekStart string

// The three days on which weeks start; ISO 8601 has Monday.
const (
	FromMonday   WeekStart = "monday"
	FromSunday   WeekStart = "sunday"
	FromSaturday WeekStart = "saturday"
)

var firstDays = map[WeekStart]time.Weekday{FromMonday: time.Monday, FromSunday: time.Sunday, FromSaturday: time.Saturday}

// Time writes the time of day that t's own zone shows.
func (u Units) Time(t time.Time) string { return t.Format(u.clockLayout()) }

// DayTime writes the day and the time of day.
func (u Units) DayTime(t time.Time) string { return t.Format("Mon 2 Jan " + u.clockLayout()) }

// TimeSeconds writes the time of day to a second.
func (u Units) TimeSeconds(t time.Time) string {
	if u.Clock == Hours12 {
		return t.Format("3:04:05 pm")
	}
	return t.Format("15:04:05")
}

func (u Units) clockLayout() string {
	if u.Clock == Hours12 {
		return "3:04 pm"
	}
	return "15:04"
}

// WeekStartOf is the first day of the week that a date lies in.
func (u Units) WeekStartOf(d Date) Date {
	first, ok := firstDays[u.WeekStarts]
	if !ok {
		first = time.Monday
	}
	return d - Date((int(d.Time().Weekday())-int(first)+7)%7)
}
