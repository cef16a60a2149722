package climate

import "math"

// Limits of carbon dioxide for people, ppm: the eight-hour mean that the European
// Union, the United Kingdom and the United States name, and the United Kingdom's
// fifteen minutes (values as tabled in CGS Europe, key report 3.5, after IVHHN
// 2013; the acts themselves from memory). Local law decides.
const (
	CO2WarnPPM  = 5000
	CO2LeavePPM = 15000
	outsidePPM  = 420.0 // open air, common knowledge
)

// Heat of a growing bag in watts per kilogram of wet substrate. The two indirect
// estimates differ twofold and concern different substrates: compost measured at
// 25 °C (a forum post), and the dry matter that a sawdust bag loses (common
// practice). Nobody has published oyster bags.
const (
	HeatLowWPerKg  = 0.27
	HeatHighWPerKg = 0.63
)

const (
	kJPerGramCO2 = 10.66         // glucose burned: 2,816 kJ/mol, six CO2 (from memory)
	litresPerG   = 24.06 / 44.01 // CO2 at 20 °C and 101.3 kPa
)

// CO2GramsPerHour is what this mass of growing substrate breathes out when it gives
// off this much heat.
func CO2GramsPerHour(kgWet, wPerKg float64) float64 { return kgWet * wPerKg * 3.6 / kJPerGramCO2 }

// CO2Litres is the volume of a mass of carbon dioxide at 20 °C.
func CO2Litres(grams float64) float64 { return grams * litresPerG }

// Breath is what a room of growing bags does to its air.
type Breath struct {
	GramsPerHour, LitresPerHour float64
	// RisePPMPerHour is how fast a closed room fills; HoursTo5000 and HoursTo15000
	// count from open air. Infinite for an empty room.
	RisePPMPerHour, HoursToWarn, HoursToLeave float64
	// FreshM3PerHour is the open air that holds the level asked for.
	FreshM3PerHour float64
}

// Breathe is the estimate for a mass of wet substrate in a closed room of a volume
// in m³, and for the fresh air that would hold holdPPM.
func Breathe(kgWet, wPerKg, roomM3, holdPPM float64) Breath {
	g := CO2GramsPerHour(kgWet, wPerKg)
	b := Breath{GramsPerHour: g, LitresPerHour: CO2Litres(g), FreshM3PerHour: FreshAir(CO2Litres(g), holdPPM)}
	b.RisePPMPerHour = b.LitresPerHour / roomM3 * 1000
	b.HoursToWarn = (CO2WarnPPM - outsidePPM) / b.RisePPMPerHour
	b.HoursToLeave = (CO2LeavePPM - outsidePPM) / b.RisePPMPerHour
	return b
}

// FreshAir is the open air in m³ an hour that holds a level in ppm against a source
// in litres an hour; infinite for a level that open air itself has.
func FreshAir(litresPerHour, holdPPM float64) float64 {
	if holdPPM <= outsidePPM {
		return math.Inf(1)
	}
	return litresPerHour * 1000 / (holdPPM - outsidePPM)
}

// Air says what a level of carbon dioxide asks of people.
type Air string

// The levels.
const (
	AirFine  Air = "fine"
	AirWarn  Air = "warn"
	AirLeave Air = "leave"
)

// AirAt judges a level.
func AirAt(ppm float64) Air {
	switch {
	case ppm >= CO2LeavePPM:
		return AirLeave
	case ppm >= CO2WarnPPM:
		return AirWarn
	}
	return AirFine
}
