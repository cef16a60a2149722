package server

import (
	"strings"
	"time"
	"unicode/utf8"

	"bagmark/grow"
)

// A calendar file after RFC 5545: lines end in CR LF and are folded at 75 octets
// (3.1), text is escaped (3.3.11), whole days are DATE values whose end is the
// day after (3.6.1). NAME and REFRESH-INTERVAL are of RFC 7986.

// icalEvent is one event of whole days.
type icalEvent struct {
	UID      string // the same for the same event, for ever
	Summary  string
	Details  string
	URL      string
	From, To grow.Date // both inclusive
}

// ical writes a calendar.
func ical(name string, stamp time.Time, events []icalEvent) []byte {
	var w icalWriter
	w.line("BEGIN", "VCALENDAR")
	w.line("VERSION", "2.0")
	w.line("PRODID", "-//bagmark//bags//EN")
	w.line("CALSCALE", "GREGORIAN")
	w.text("NAME", name)
	w.line("REFRESH-INTERVAL;VALUE=DURATION", "PT6H")
	for _, e := range events {
		w.event(stamp, e)
	}
	if len(events) == 0 { // a calendar has at least one component
		w.utc()
	}
	w.line("END", "VCALENDAR")
	return []byte(w.String())
}

type icalWriter struct{ strings.Builder }

func (w *icalWriter) event(stamp time.Time, e icalEvent) {
	w.line("BEGIN", "VEVENT")
	w.line("UID", e.UID)
	w.line("DTSTAMP", stamp.UTC().Format("20060102T150405Z"))
	w.line("DTSTART;VALUE=DATE", e.From.Time().Format("20060102"))
	w.line("DTEND;VALUE=DATE", (e.To + 1).Time().Format("20060102"))
	w.text("SUMMARY", e.Summary)
	w.text("DESCRIPTION", e.Details)
	w.line("URL", e.URL)
	w.line("TRANSP", "TRANSPARENT") // nobody is busy by it
	w.line("END", "VEVENT")
}

// utc describes a time zone that no event uses.
func (w *icalWriter) utc() {
	w.line("BEGIN", "VTIMEZONE")
	w.line("TZID", "Etc/UTC")
	w.line("BEGIN", "STANDARD")
	w.line("DTSTART", "19700101T000000")
	w.line("TZOFFSETFROM", "+0000")
	w.line("TZOFFSETTO", "+0000")
	w.line("END", "STANDARD")
	w.line("END", "VTIMEZONE")
}

var icalEscapes = strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\r\n", `\n`, "\n", `\n`, "\r", `\n`)

// text writes a value that may hold anything; control characters go.
func (w *icalWriter) text(name, value string) {
	w.line(name, strings.Map(func(r rune) rune {
		if r < ' ' && r != '\t' || r == 0x7f {
			return -1
		}
		return r
	}, icalEscapes.Replace(value)))
}

// mostOctets is the length of a line without its end.
const mostOctets = 75

// line writes a line, folded between characters.
func (w *icalWriter) line(name, value string) {
	rest, room := name+":"+value, mostOctets
	for len(rest) > room {
		cut := room
		for !utf8.RuneStart(rest[cut]) {
			cut--
		}
		w.WriteString(rest[:cut] + "\r\n ")
		rest, room = rest[cut:], mostOctets-1
	}
	w.WriteString(rest + "\r\n")
}
