package trace

import (
	"cmp"
	"math"
	"slices"
)

// An Event is what is waited for when times are compared.
type Event string

const (
	EventColonised    Event = "colonised"
	EventContaminated Event = "contaminated"
	EventStarted      Event = "started"
)

// A Fate is how a bag's watch for the event stands.
type Fate int

const (
	Happened Fate = iota // the event was seen
	Running              // not yet
	GoneOut              // culled, finished or contaminated before it
)

// A Timed is one bag whose time to an event is compared.
type Timed struct {
	Value   string // of the condition compared; "" is not known, and the bag is left out
	Batch   string
	Species string
	Span    Span // Right is +Inf unless Happened
	Fate    Fate
}

// A TimeGroup is the bags with one value.
type TimeGroup struct {
	Value      string       `json:"value"`
	Bags       int          `json:"bags"`
	Events     int          `json:"events"`
	Running    int          `json:"running"`
	Gone       int          `json:"gone"`
	MedianDays *float64     `json:"median_days"` // middle of the interval that holds the median
	MedianLow  *float64     `json:"median_low"`
	MedianHigh *float64     `json:"median_high"`
	Curve      [][2]float64 `json:"curve"` // day, share with the event; joined by straight lines
}

// Times is a comparison of the times to an event.
type Times struct {
	By      string      `json:"by"`
	Event   Event       `json:"event"`
	Groups  []TimeGroup `json:"groups"`
	P       *float64    `json:"p_value"`
	Method  Method      `json:"method"`
	Verdict Verdict     `json:"verdict"`
	Words   string      `json:"words"`
}

// CompareTimes compares how long bags with different values of a condition took to an event, bags still running
// counted as such. Where the values differ inside a batch, bags of that batch are exchanged among each other; where
// they do not, whole batches of one species are. normal is put first ("" for none).
//
// Bags on watch are looked at more often, so what happens to them is seen sooner: say so beside the answer.
func CompareTimes(by Column, event Event, bags []Timed) Times {
	out := Times{By: by.Key, Event: event, Groups: []TimeGroup{}, Method: NoMethod, Verdict: NothingToCompare}
	known := make([]Timed, 0, len(bags))
	for _, b := range bags {
		if b.Fate != Happened {
			b.Span.Right = math.Inf(1)
		}
		if b.Value != "" {
			known = append(known, b)
		}
	}
	vs := timedValues(known, by.Normal)
	for _, v := range vs {
		out.Groups = append(out.Groups, timeGroup(v, known))
	}
	if len(vs) > 1 {
		e := exchange(known, vs)
		out.P, out.Method, out.Verdict = &e.p, SunPermutation, CannotTell
		if e.p <= significant {
			out.Verdict = PointsTo
		}
		out.Words = out.words(by, e)
		return out
	}
	out.Words = out.words(by, exchanged{})
	return out
}

func timedValues(bags []Timed, normal string) []string {
	var vs []string
	for _, b := range bags {
		if !slices.Contains(vs, b.Value) {
			vs = append(vs, b.Value)
		}
	}
	slices.SortFunc(vs, func(a, b string) int {
		return cmp.Or(cmp.Compare(order(a == normal), order(b == normal)), cmp.Compare(a, b))
	})
	return vs
}

func order(first bool) int {
	if first {
		return 0
	}
	return 1
}

func timeGroup(value string, bags []Timed) TimeGroup {
	g := TimeGroup{Value: value, Curve: [][2]float64{}}
	var spans []Span
	for _, b := range bags {
		if b.Value != value {
			continue
		}
		g.Bags++
		spans = append(spans, b.Span)
		switch b.Fate {
		case Happened:
			g.Events++
		case Running:
			g.Running++
		default:
			g.Gone++
		}
	}
	c := Turnbull(spans)
	g.Curve = c.Points()
	if low, high, ok := c.Median(); ok {
		g.MedianDays, g.MedianLow, g.MedianHigh = finite((low+high)/2), finite(low), finite(high)
	}
	return g
}
