package logfile

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

var headOffset = regexp.MustCompile(`(?i)\b(?:UTC|GMT)(?:\s*([+-])\s*(\d{1,2})(?::?([0-5]\d))?)?(?:[^0-9A-Za-z]|$)`)

// clockOfHead is the clock that a heading names, as "Date Time, GMT-05:00" does:
// its offset from UTC, "" for none.
func clockOfHead(head string) Clock {
	m := headOffset.FindStringSubmatch(head)
	if m == nil {
		return ""
	}
	hours, _ := strconv.Atoi(m[2]) // two digits or none
	minutes, _ := strconv.Atoi(m[3])
	if hours == 0 && minutes == 0 {
		return ClockUTC
	}
	c := Clock(fmt.Sprintf("utc%s%02d:%02d", m[1], hours, minutes))
	if _, ok := c.Offset(); !ok {
		return ""
	}
	return c
}

// Offset is how far east of UTC a clock of a fixed offset goes, like utc-05:00;
// false for the others.
func (c Clock) Offset() (time.Duration, bool) {
	text, ok := strings.CutPrefix(string(c), "utc")
	if !ok || text == "" {
		return 0, false
	}
	t, err := time.Parse("-07:00", text)
	if err != nil {
		return 0, false
	}
	_, seconds := t.Zone()
	return time.Duration(seconds) * time.Second, seconds >= -12*3600 && seconds <= 14*3600
}
