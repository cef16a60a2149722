package server

import (
	"math"
	"net/url"

	"bagmark/grow"
	"bagmark/grow/climate"
	"bagmark/store"
)

// Units rules
//
// All is kept in °C and grams. A farm that says imperial reads and types °F,
// pounds and ounces; what it types comes back to it as it was typed, since
// readings are kept to a ten-thousandth of a degree.

// imperial tells whether the farm reads °F.
func imperial(f *store.Farm) bool { return f.Temperature == grow.Fahrenheit }

// degreesOf is how the farm's temperatures are written.
func degreesOf(f *store.Farm) climate.Degrees {
	if imperial(f) {
		return climate.Fahrenheit
	}
	return climate.Celsius
}

// degreeSign is the unit that is written behind them.
func degreeSign(f *store.Farm) string {
	if imperial(f) {
		return "°F"
	}
	return "°C"
}

// typedDegrees reads a temperature in the farm's unit as °C; nil if none was
// typed.
func typedDegrees(f *store.Farm, v url.Values, name string, p *grow.Problems) *float64 {
	n := numberField(v, name, p)
	if n == nil || !imperial(f) {
		return n
	}
	c := math.Round((*n-32)/1.8*grow.ReadingScale) / grow.ReadingScale
	return &c
}
