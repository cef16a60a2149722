package forecast

import (
	"fmt"
	"time"
)

// A Source is where a forecast's figures come from.
type Source string

const (
	Published  Source = "published range"
	OwnRange   Source = "your own figures" // the farm set the species' days itself
	OwnBatches Source = "your batches"
)

// A Basis says what a law was made from.
type Basis struct {
	Source  Source
	Batches int // how many of the farm's batches, with OwnBatches
}

// String is the basis in the shortest words: "published range", "3 of your batches".
func (b Basis) String() string {
	if b.Source == OwnBatches {
		return fmt.Sprintf("%d of your batches", b.Batches)
	}
	return string(b.Source)
}

// clause is the basis as it stands at the end of a sentence, in brackets.
func (b Basis) clause() string {
	switch b.Source {
	case OwnBatches:
		return "(from " + b.String() + ")"
	case OwnRange:
		return "(from the days you set; your own batches will sharpen this)"
	}
	return "(from published figures; your own batches will sharpen this)"
}

// Words is the forecast in sentences for a grower, one after another; inoculated is in the farm's time zone, today
// the bag's age in days.
func (f Forecast) Words(inoculated time.Time, today int) []string {
	d := f.Colonised.Dates(inoculated)
	if f.Known {
		return []string{fmt.Sprintf("Seen grown over on %s.", day(d.Likely))}
	}
	out := []string{fmt.Sprintf("Colonised about %s, likely %s %s.", day(d.Likely), between(d.Earliest, d.Latest), f.Basis.clause())}
	if f.Overdue { // few bags tell what becomes of one so late: any day from now on, and no promise
		out = []string{"Overdue: 95 of 100 such bags are done by now.",
			fmt.Sprintf("If it goes on growing, colonised any day now, likely by %s %s.", day(d.Latest), f.Basis.clause())}
		if WholeDay(f.Colonised.Late) <= today {
			out[1] = fmt.Sprintf("If it went on growing, its wall is done by now: look %s.", f.Basis.clause())
		}
	}
	if f.Slow {
		out = append(out, "Slow: less of the wall is grown over than a late bag would show on that day.")
	}
	return out
}

// ReadyWords is the sentence for the day a bag is ready.
func ReadyWords(ready Days, inoculated time.Time) string {
	d := ready.Dates(inoculated)
	return fmt.Sprintf("Ready about %s, likely %s.", day(d.Likely), between(d.Earliest, d.Latest))
}

func day(t time.Time) string { return fmt.Sprintf("%d %s", t.Day(), t.Month()) }

// between names a span of days, the month once where both have it, the year where it turns.
func between(a, b time.Time) string {
	switch {
	case a.Equal(b):
		return "on that day"
	case a.Year() != b.Year():
		return fmt.Sprintf("%s %d to %s %d", day(a), a.Year(), day(b), b.Year())
	case a.Month() == b.Month():
		return fmt.Sprintf("%d to %s", a.Day(), day(b))
	}
	return fmt.Sprintf("%s to %s", day(a), day(b))
}
