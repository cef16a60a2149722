package grow

import "fmt"

// leastSilent is from how many bags on it says something that none has started.
const leastSilent = 3

// JarBags are the bags of one batch whose spawn came from one jar, as far as
// they are still in the farm's care.
type JarBags struct {
	Name    string // of the jar
	Bags    int
	Started int // growth was seen, or mould, which also grows
	Looked  int // had in the hand since the day on which something could be seen
	Day     int // of the batch
	// FirstSign is the species' day on which growth can be seen; Over the one on
	// which it is usually done.
	FirstSign, Over int
}

// Silent tells that nothing grows in any bag of a jar though it could be seen by
// now, and somebody has looked at half of them at least: dead or weak spawn
// rather than bags that nobody saw. Common practice.
func (j JarBags) Silent() bool {
	return j.Bags >= leastSilent && j.Started == 0 && 2*j.Looked >= j.Bags && j.Day >= j.FirstSign && j.Day <= j.Over
}

// Words say so in a sentence.
func (j JarBags) Words() string {
	return fmt.Sprintf("None of %d bags from %s has started by day %d.", j.Bags, j.Name, j.Day)
}
