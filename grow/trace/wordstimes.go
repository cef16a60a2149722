package trace

import (
	"fmt"
	"math"
	"strings"
)

// The sentences about times to an event.

// eventWords are the events as they follow "were" in a sentence.
var eventWords = map[Event]string{
	EventColonised: "grown over", EventContaminated: "found contaminated", EventStarted: "seen to have started",
}

func (t Times) words(by Column, e exchanged) string {
	var parts []string
	for _, g := range t.Groups {
		parts = append(parts, name(by, g.Value)+": "+g.words(eventWords[t.Event]))
	}
	said, told := strings.Join(parts, "; "), ""
	if !e.batches && e.units < t.known() {
		told = fmt.Sprintf(" What counts is the %s of batches that had both.", plural(e.units, "bag"))
	}
	switch t.Verdict {
	case PointsTo:
		return "Points to a difference in time. " + capital(said) + "." + told + t.longerWords(by, e) + " A record, not a proof."
	case CannotTell:
		return "Cannot tell yet. " + capital(said) + "." + told + t.moreWords(e)
	}
	if said == "" {
		return "Nothing to compare: no bag has a recorded value."
	}
	return "Nothing to compare: every bag had the same. " + capital(said) + "."
}

// longerWords say how much longer one of two groups took: how far apart the days can lie by which half of each had the
// event. That is what the looks leave open about these bags, no range for other bags, and it is said only where it is
// the bags of the test, all of one species, and where their halves do not overlap.
func (t Times) longerWords(by Column, e exchanged) string {
	if len(t.Groups) != 2 || !e.batches && e.units < t.known() || !e.oneSpecies {
		return ""
	}
	early, late := t.Groups[0], t.Groups[1]
	if early.MedianHigh == nil || late.MedianHigh == nil {
		return ""
	}
	if *late.MedianLow < *early.MedianLow {
		early, late = late, early
	}
	least, most := *late.MedianLow-*early.MedianHigh, *late.MedianHigh-*early.MedianLow
	if math.Round(least) < 1 {
		return ""
	}
	days := number(least) + " to " + number(most) + " days"
	if math.Round(least) == math.Round(most) {
		days = plural(int(math.Round(most)), "day")
	}
	return fmt.Sprintf(" By these two halves %s took about %s longer.", name(by, late.Value), days)
}

// known is how many bags have a recorded value.
func (t Times) known() (n int) {
	for _, g := range t.Groups {
		n += g.Bags
	}
	return n
}

// moreWords say how many more bags would tell two times apart.
func (t Times) moreWords(e exchanged) string {
	const mostTimes = 20 // times the bags there are; beyond it the guess is worth nothing
	events := 0
	for _, g := range t.Groups {
		events += g.Events
	}
	units := [2]string{"bag", "bags"}
	if e.batches {
		units = [2]string{"batch", "batches"}
	}
	switch more := e.missing(); {
	case events == 0:
		return " It has happened to no bag yet."
	case e.alike:
		return " All were seen so at the same look: only looking more often would tell them apart."
	case e.smallest > significant:
		return fmt.Sprintf(" With %s no result could tell.", plurals(e.units, units[0], units[1]))
	case len(t.Groups) != 2:
		return ""
	case more > mostTimes*float64(e.units):
		return fmt.Sprintf(" The times look so alike that no number of %s would soon tell them apart.", units[1])
	default:
		return fmt.Sprintf(" About %s more %s watched in the same way would tell, if the times stay so far apart.", roundUp(more), units[1])
	}
}

// words says by when half of the bags had the event.
func (g TimeGroup) words(event string) string {
	n := plural(g.Bags, "bag")
	if g.MedianHigh == nil || g.MedianLow == nil {
		return fmt.Sprintf("%d of %s %s so far", g.Events, n, event)
	}
	if *g.MedianLow == *g.MedianHigh {
		return fmt.Sprintf("half of %s %s by day %s", n, event, number(*g.MedianHigh))
	}
	return fmt.Sprintf("half of %s %s between day %s and %s", n, event, number(*g.MedianLow), number(*g.MedianHigh))
}

// Words says by when half of the bags had the event: "Half of 12 bags grown over between day 14 and 18."
func (g TimeGroup) Words(event Event) string {
	if g.Bags == 0 {
		return ""
	}
	return capital(g.words(eventWords[event])) + "."
}
