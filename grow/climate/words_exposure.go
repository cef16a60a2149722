package climate

import (
	"fmt"
	"math"
	"strings"

	"bagmark/grow"
)

// ExposureShort says in one line what the air did to one bag; "" where nothing of
// it is known.
func ExposureShort(e Exposure) string {
	if e.Known() == 0 {
		return ""
	}
	out := "all of them in its band"
	if e.Out() > leastShown {
		out = trimmed(e.Out()) + " of them out of its band"
	}
	return fmt.Sprintf("Its air: %s of %s known, %s; by its curve that allows %s in 100 of its best growth.", trimmed(e.Known()), dayWords(e.Known()+e.Unknown), out, trimmed(math.Round(100*e.Rate)))
}

// dayWords writes a length in days with a decimal where it has one.
func dayWords(d float64) string {
	if n := trimmed(d); n != "1" {
		return n + " days"
	}
	return "1 day"
}

// leastShown is a length in days that is written as nothing.
const leastShown = 0.05

// ExposureWords says it at length: what is known and how, how far out of band, the
// ceiling, growth.
func ExposureWords(e Exposure, b Band, u grow.Units) []string {
	if e.Known() == 0 {
		return []string{fmt.Sprintf("Nothing is known of its air: %s unknown.", dayWords(e.Unknown))}
	}
	out := []string{knownWords(e), bandWords(e, u)}
	if e.PastCeiling > leastShown {
		out = append(out, fmt.Sprintf("%s with its core past its ceiling of %s.", dayWords(e.PastCeiling), u.TempWords(b.CeilingC)))
	}
	return append(out, fmt.Sprintf("By its curve the air of the days known allows %s in 100 of the growth at its best temperature.", trimmed(math.Round(100*e.Rate))))
}

// knownWords says how much is known, and how.
func knownWords(e Exposure) string {
	var parts []string
	for _, p := range []struct {
		days float64
		how  string
	}{{e.Measured, "measured"}, {e.Between, "between readings typed by hand"}, {e.SetPoint, "by what the thermostat was set to"}} {
		if p.days > leastShown {
			parts = append(parts, trimmed(p.days)+" "+p.how)
		}
	}
	text := fmt.Sprintf("%s of %s known: %s.", trimmed(e.Known()), dayWords(e.Known()+e.Unknown), strings.Join(parts, ", "))
	if e.Unknown > leastShown {
		text += fmt.Sprintf(" %s unknown.", dayWords(e.Unknown))
	}
	return text
}

func bandWords(e Exposure, u grow.Units) string {
	hours := fmt.Sprintf("hours between %s and %s", u.Temp(e.Lowest), u.TempWords(e.Highest))
	switch {
	case e.Above > leastShown && e.Below > leastShown:
		return fmt.Sprintf("%s over its band and %s under: %s.", dayWords(e.Above), trimmed(e.Below), hours)
	case e.Above > leastShown:
		return fmt.Sprintf("%s over its band: %s.", dayWords(e.Above), hours)
	case e.Below > leastShown:
		return fmt.Sprintf("%s under its band: %s.", dayWords(e.Below), hours)
	}
	return "All of them in its band: " + hours + "."
}
