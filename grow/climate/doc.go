// Package climate says what temperature does: to bags in a room, to a load in a
// steriliser, to the air that people breathe.
//
// Start with [Soak] (what a run's readings did to the load), [SteamTempC] and
// [GaugeKPa] (what a gauge says at the farm's height). All temperatures are °C,
// all pressures kPa, all instants come in as arguments.
//
// Readings have gaps: a logger stops, a cable is pulled. No function here bridges
// a gap silently. What cannot be known is left out and named, and a figure that
// lacks it is a lower bound and says so.
//
// The package reads no clock, touches no storage, and never calls a load sterile.
package climate
