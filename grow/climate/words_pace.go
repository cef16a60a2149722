package climate

import (
	"fmt"
	"math"

	"bagmark/grow"
)

// PaceWords says how a forecast reckons with the room: what it was like of late,
// and how much faster or slower that is than usual, which against names, such as
// "at 23.0 °C". "" where nothing is known of the room.
func PaceWords(p Paces, against string, u grow.Units) string {
	if p.Known == 0 && p.Ahead.Known == 0 {
		return ""
	}
	rest := ""
	if all := len(p.Hours); p.Known < all*19/20 {
		rest = fmt.Sprintf(" %s of %s known; the others count as usual.", trimmed(float64(p.Known)/24), dayWords(float64(all)/24))
	}
	a := p.Ahead
	switch {
	case a.Known == 0:
		return "Counted with the room as far as it is known; nothing is of late, so ahead at the usual pace." + rest
	case a.Rate < standsStill && a.AirC > 20:
		return fmt.Sprintf("Counted with the room: lately %s, about %s in the core, where next to nothing grows: too hot.", u.TempWords(a.AirC), u.Temp(a.CoreC)) + rest
	case a.Rate < standsStill:
		return fmt.Sprintf("Counted with the room: lately %s, about %s in the core, where next to nothing grows: too cold.", u.TempWords(a.AirC), u.Temp(a.CoreC)) + rest
	}
	return fmt.Sprintf("Counted with the room: lately %s, about %s in the core, %s than %s.", u.TempWords(a.AirC), u.Temp(a.CoreC), fasterWords(a.Pace), against) + rest
}

// fasterWords says how a pace lies to the usual one.
func fasterWords(pace float64) string {
	switch change := math.Round(100 * (pace - 1)); {
	case change >= 1:
		return fmt.Sprintf("about %.0f in 100 faster", change)
	case change <= -1:
		return fmt.Sprintf("about %.0f in 100 slower", -change)
	}
	return "no faster or slower"
}
