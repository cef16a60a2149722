// Package yield asks of a farm's records what was picked, and whether bags that
// went through something else gave more or less.
//
// Start at [Count]: it decides which bags tell anything yet. [Sum] adds them up
// as one group: a bag, its flushes, the days to its first picking, what thrown
// out bags cost. [Compare] sets each value of a condition against the rest, bags
// of the same batch where it differs inside batches and whole batches where it
// does not, by the same rules and verdicts as package trace has for
// contamination; what both need (permuting, joining interval and p, adjusting)
// is trace's.
//
// Everything is per bag made: a bag thrown out has given what it gave, often
// nothing, and counts. A mean over the bags that survived would praise whatever
// kills the weak ones. Intervals are 95 % ones, masses grams, days whole days.
//
// The package never reads a clock or storage and never says that something
// causes a yield: records point to things, no more.
package yield
