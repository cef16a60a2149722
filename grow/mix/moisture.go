package mix

// Dry is the dry mass in a wet one at a moisture.
func Dry(wetG, moisturePct float64) float64 { return wetG * (1 - moisturePct/100) }

// Moisture is the share of water in per cent of the wet mass. Nothing wet has
// none.
func Moisture(wetG, dryG float64) float64 {
	if !(wetG > 0) {
		return 0
	}
	return 100 * (wetG - dryG) / wetG
}

// Wet is the mass of something dry once it has a moisture under 100 %.
func Wet(dryG, moisturePct float64) float64 { return dryG / (1 - moisturePct/100) }

// OvenMoisture is the moisture of a sample that was weighed before and after it
// was dried until it lost no more. ok is false where the weights cannot be.
func OvenMoisture(beforeG, afterG float64) (pct float64, ok bool) {
	if !(beforeG > 0) || !(afterG >= 0) || afterG > beforeG {
		return 0, false
	}
	return Moisture(beforeG, afterG), true
}
