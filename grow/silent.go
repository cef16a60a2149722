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
	Bare    int // of which somebody said that nothing grows yet
	Sisters int // other bags of the batch in which growth was seen
	Day     int // of the batch
	// FirstSign is the species' day on which growth can be seen; Over the one on
	// which it is usually done.
	FirstSign, Over int
}

// Silent tells that nothing grows in any bag of a jar though it could be seen by
// now: half of them at least were said to be bare, or were looked at while sisters
// of the batch were said to have started. A farm that never says so has told
// nothing of its jars. Dead or weak spawn rather than bags that nobody saw; common
// practice.
func (j JarBags) Silent() bool {
	told := 2*j.Bare >= j.Bags || j.Sisters > 0 && 2*j.Looked >= j.Bags
	return j.MayBeSilent() && told
}

// MayBeSilent tells that no growth was seen though it could be by now: what else is
// known of the batch decides.
func (j JarBags) MayBeSilent() bool {
	return j.Bags >= leastSilent && j.Started == 0 && j.Day >= j.FirstSign && j.Day <= j.Over
}

// Words say so in a sentence.
func (j JarBags) Words() string {
	return fmt.Sprintf("None of %d bags from %s has started by day %d.", j.Bags, j.Name, j.Day)
}
