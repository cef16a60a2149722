package grow

import (
	"cmp"
	"math"
	"strconv"
	"strings"
)

// Units rules
//
// Everything is kept, exported and asked for by programs in °C, grams, RFC 3339 and
// weeks from Monday. Units are how a farm's pages and papers write these and
// how its people type them. What a person typed comes back as it was typed: each
// conversion keeps digits enough for that, and a form that comes back untouched
// changes nothing.

// Units are how a farm writes; the zero value writes °C, grams, A4, 24 hours and
// weeks from Monday.
type Units struct {
	Temperature DegreeUnit `json:"temperature"`
	Weight      WeightUnit `json:"weight"`
	Paper       Paper      `json:"paper"`
	Clock       ClockFace  `json:"clock"`
	WeekStarts  WeekStart  `json:"week_starts"`
}

// DegreeUnit is what temperatures are written in.
type DegreeUnit string

// The two units of temperature.
const (
	Celsius    DegreeUnit = "c"
	Fahrenheit DegreeUnit = "f"
)

// WeightUnit is what masses are written in.
type WeightUnit string

// The two systems of masses.
const (
	MetricWeight   WeightUnit = "metric"   // grams and kilograms
	ImperialWeight WeightUnit = "imperial" // avoirdupois ounces and pounds
)

// Paper is what the farm's printer holds.
type Paper string

// The two papers: ISO 216 A4, and the Letter of ANSI/ASME Y14.1 size A.
const (
	A4     Paper = "a4"
	Letter Paper = "letter"
)

// UnitsOf is how a farm writes whose whole system is metric or imperial, on the
// paper, by the clock and in the weeks that are usual unless it says otherwise.
func UnitsOf(system string) Units {
	u := Units{Celsius, MetricWeight, A4, Hours24, FromMonday}
	if system == "imperial" {
		u.Temperature, u.Weight = Fahrenheit, ImperialWeight
	}
	return u
}

// Or is u with what it does not say as usual has it.
func (u Units) Or(usual Units) Units {
	return Units{cmp.Or(u.Temperature, usual.Temperature), cmp.Or(u.Weight, usual.Weight), cmp.Or(u.Paper, usual.Paper), cmp.Or(u.Clock, usual.Clock), cmp.Or(u.WeekStarts, usual.WeekStarts)}
}

// Check names every setting that is none.
func (u Units) Check(p *Problems) {
	if u.Temperature != Celsius && u.Temperature != Fahrenheit {
		p.Add("temperature", "must be c or f")
	}
	if u.Weight != MetricWeight && u.Weight != ImperialWeight {
		p.Add("weight", "must be metric or imperial")
	}
	if u.Paper != A4 && u.Paper != Letter {
		p.Add("paper", "must be a4 or letter")
	}
	if u.Clock != Hours24 && u.Clock != Hours12 {
		p.Add("clock", "must be 24 or 12")
	}
	if _, ok := firstDays[u.WeekStarts]; !ok {
		p.Add("week_starts", "must be monday, sunday or saturday")
	}
}

// The Fahrenheit scale: t/°F = 1.8 t/°C + 32 (NIST Special Publication 811, 2008,
// appendix B.8).
const (
	degreesFPerC = 1.8
	freezingF    = 32
)

// DegreeSign is the unit behind a temperature.
func (u Units) DegreeSign() string {
	if u.Temperature == Fahrenheit {
		return "°F"
	}
	return "°C"
}

// Temp writes a temperature to a tenth of a degree, without its unit.
func (u Units) Temp(c float64) string { return fixed(u.Degrees(c), 1) }

// TempWords writes a temperature with its unit.
func (u Units) TempWords(c float64) string { return u.Temp(c) + " " + u.DegreeSign() }

// TempDifference writes a difference of temperatures, which knows no freezing
// point: 1 °C is 1.8 °F. A tenth of nothing is not written.
func (u Units) TempDifference(c float64) string {
	if u.Temperature == Fahrenheit {
		c *= degreesFPerC
	}
	return trimmedTo(math.Round(c*10)/10, 1)
}

// TempTyped is a temperature as it is typed, without needless zeros: fine enough for
// hundredths of a degree Celsius.
func (u Units) TempTyped(c float64) string {
	if u.Temperature != Fahrenheit {
		return trimmedTo(c, 4)
	}
	return trimmedTo(u.Degrees(c), 3)
}

// TempC is what was typed, in °C.
func (u Units) TempC(typed float64) float64 {
	if u.Temperature != Fahrenheit {
		return typed
	}
	return math.Round((typed-freezingF)/degreesFPerC*ReadingScale) / ReadingScale
}

// Degrees is a temperature as a number of the farm's degrees.
func (u Units) Degrees(c float64) float64 {
	if u.Temperature == Fahrenheit {
		return c*degreesFPerC + freezingF
	}
	return c
}

// fixed writes a number with so many decimals, nothing below zero that is zero.
func fixed(n float64, decimals int) string {
	text := strconv.FormatFloat(n, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return text
}

// trimmedTo writes a number with at most so many decimals.
func trimmedTo(n float64, decimals int) string {
	text := fixed(n, decimals)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}
