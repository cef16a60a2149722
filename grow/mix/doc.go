// Package mix is the arithmetic of substrate: what is dry and what is water in
// it, how much water a target moisture asks for, how much supplement and spawn,
// how many bags come out, and what the mushrooms picked are worth against the
// dry substrate.
//
// Start at [Make] for a mix of several materials; [Dry], [OvenMoisture] and
// [Efficiency] stand by themselves. Masses are in grams, moistures and rates in
// per cent, 0 to 100. Moisture is on the wet basis, 100·(wet − dry)/wet, as the
// trade and substrate handbooks give it; a dry-basis moisture is another number.
//
// The formulas are the standard definitions. The package never rounds: what a
// scale can show is the business of whoever shows it.
package mix
