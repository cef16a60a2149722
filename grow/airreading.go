package grow

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// AirReading is what a room's thermometer, hygrometer or carbon dioxide meter said at
// one instant. At least one of the three is given.
type AirReading struct {
	At     time.Time `json:"at"`
	TempC  *float64  `json:"temp_c,omitempty"`
	RHPct  *float64  `json:"rh_pct,omitempty"`
	CO2ppm *float64  `json:"co2_ppm,omitempty"`
}

// ReadingScale is how readings are kept: as whole ten-thousandths. Sums of them are
// exact in any order, a sensor's sixteenths of a degree stay what they were, and so
// do tenths of a degree Fahrenheit.
const ReadingScale = 10000

// The widest that a reading may be: beyond it an instrument is broken or a unit
// is wrong.
const (
	coldestRoom, warmestRoom = -40, 85
	mostCO2                  = 200000 // a fifth of the air
)

// earliestReading is before any farm kept readings with this program.
var earliestReading = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// Problem says what is wrong with a reading as programs send it, "" if nothing is.
func (r AirReading) Problem(now time.Time) string {
	field, words := r.Trouble(now, Units{})
	return strings.TrimSpace(field + " " + words)
}

// Trouble is the field that is wrong, "" for the whole reading, and what it must
// be, with temperatures as a farm or a file writes them; nothing at all if nothing
// is wrong. A clock may be five minutes ahead.
func (r AirReading) Trouble(now time.Time, u Units) (field, words string) {
	switch {
	case r.At.IsZero():
		return "at", "is missing"
	case r.At.Before(earliestReading):
		return "at", "is before the year 2000: is the clock set?"
	case r.At.After(now.Add(5 * time.Minute)):
		return "at", "is in the future: is the clock set?"
	case r.TempC == nil && r.RHPct == nil && r.CO2ppm == nil:
		return "", "has no temp_c, rh_pct or co2_ppm"
	case r.TempC != nil && !inside(*r.TempC, coldestRoom, warmestRoom):
		words = fmt.Sprintf("must be %s to %s %s", u.TempTyped(coldestRoom), u.TempTyped(warmestRoom), u.DegreeSign())
		if u.Temperature != Fahrenheit {
			words += ": is it in Fahrenheit?"
		}
		return "temp_c", words
	case r.RHPct != nil && !inside(*r.RHPct, 0, 100):
		return "rh_pct", "must be 0 to 100"
	case r.CO2ppm != nil && !inside(*r.CO2ppm, 0, mostCO2):
		return "co2_ppm", "must be 0 to 200000"
	}
	return "", ""
}

func inside(v, low, high float64) bool { return v >= low && v <= high }

// Scaled is a value as it is kept.
func Scaled(v *float64) *int64 {
	if v == nil {
		return nil
	}
	n := int64(math.Round(*v * ReadingScale))
	return &n
}

// Unscaled is the value of what was kept.
func Unscaled(n *int64) *float64 {
	if n == nil {
		return nil
	}
	v := float64(*n) / ReadingScale
	return &v
}
