package trace

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// timed makes bags of one batch; each day is that of the find, three days after the last look.
func timed(value, batch string, days ...float64) []Timed {
	var out []Timed
	for _, d := range days {
		out = append(out, Timed{Value: value, Batch: batch, Species: "king", Span: Span{d - 3, d}})
	}
	return out
}

func running(value, batch string, day float64, n int, fate Fate) []Timed {
	var out []Timed
	for range n {
		out = append(out, Timed{Value: value, Batch: batch, Species: "king", Span: Span{day, 0}, Fate: fate})
	}
	return out
}

func join2(lists ...[]Timed) (out []Timed) {
	for _, l := range lists {
		out = append(out, l...)
	}
	return out
}

var shaken = Column{Key: "shaken", Label: "shaken", Normal: "yes"}

func TestCompareTimes(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name    string
		bags    []Timed
		verdict Verdict
		method  Method
		words   string
	}{
		{"inside a batch", join2(timed("yes", "A", 12, 12, 12, 15, 15, 15), timed("no", "A", 18, 18, 21, 21, 21), running("no", "A", 21, 1, Running)), PointsTo, SunPermutation,
			"Points to a difference in time. Shaken yes: half of 6 bags grown over between day 9 and 12; shaken no: half of 6 bags grown over between day 18 and 21. By these two halves shaken no took about 6 to 12 days longer. A record, not a proof."},
		{"alike", join2(timed("yes", "A", 12, 15, 18), timed("no", "A", 12, 15, 18)), CannotTell, SunPermutation,
			"Cannot tell yet. Shaken yes: half of 3 bags grown over between day 12 and 15; shaken no: half of 3 bags grown over between day 12 and 15. With 6 bags no result could tell."},
		{"somewhat apart", join2(timed("yes", "A", 12, 12, 15, 18, 15, 12), timed("no", "A", 15, 15, 18, 18, 18, 12)), CannotTell, SunPermutation,
			"Cannot tell yet. Shaken yes: half of 6 bags grown over between day 9 and 12; shaken no: half of 6 bags grown over between day 12 and 15. About 77 more bags watched in the same way would tell, if the times stay so far apart."},
		{"all at one look", join2(timed("yes", "A", 12, 12, 12), timed("no", "A", 12, 12, 12)), CannotTell, SunPermutation,
			"Cannot tell yet. Shaken yes: half of 3 bags grown over between day 9 and 12; shaken no: half of 3 bags grown over between day 9 and 12. All were seen so at the same look: only looking more often would tell them apart."},
		{"nothing yet", join2(running("yes", "A", 9, 4, Running), running("no", "A", 9, 4, Running)), CannotTell, SunPermutation,
			"Cannot tell yet. Shaken yes: 0 of 4 bags grown over so far; shaken no: 0 of 4 bags grown over so far. It has happened to no bag yet."},
		{"two whole batches can tell nothing", join2(timed("yes", "A", 12, 12, 12, 12, 12, 12), timed("no", "B", 21, 21, 21, 21, 21, 21)), CannotTell, SunPermutation,
			"Cannot tell yet. Shaken yes: half of 6 bags grown over between day 9 and 12; shaken no: half of 6 bags grown over between day 18 and 21. With 2 batches no result could tell."},
		{"one value", join2(timed("yes", "A", 12), running("yes", "A", 12, 2, GoneOut)), NothingToCompare, NoMethod,
			"Nothing to compare: every bag had the same. Shaken yes: 1 of 3 bags grown over so far."},
		{"nothing recorded", timed("", "A", 12), NothingToCompare, NoMethod, "Nothing to compare: no bag has a recorded value."},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got := CompareTimes(shaken, EventColonised, tt.bags)
			if got.Verdict != tt.verdict || got.Method != tt.method || got.Words != tt.words {
				t.Errorf("%s %s\n got %s\nwant %s", got.Verdict, got.Method, got.Words, tt.words)
			}
			for _, g := range got.Groups {
				if g.Bags != g.Events+g.Running+g.Gone {
					t.Errorf("%s: %d bags are not %d + %d + %d", g.Value, g.Bags, g.Events, g.Running, g.Gone)
				}
			}
		})
	}
}

// Whole batches are exchanged as such: with five against five, one arrangement in 126 is as extreme as the most extreme
// one and its mirror.
func TestCompareTimesOfBatches(t *testing.T) {
	t.Parallel()
	var bags []Timed
	for k := range 10 {
		name := string(rune('A' + k))
		if k < 5 {
			bags = append(bags, timed("yes", name, 12, 12, 15, 15)...)
		} else {
			bags = append(bags, timed("no", name, 21, 21, 24, 24)...)
		}
	}
	got := CompareTimes(shaken, EventColonised, bags)
	if got.P == nil || math.Abs(*got.P-2.0/252) > 1e-12 || got.Verdict != PointsTo {
		t.Errorf("p %v, %s", got.P, got.Verdict)
	}
}

// Three values are compared by random exchanges.
func TestCompareTimesOfThree(t *testing.T) {
	t.Parallel()
	early, late := timed("a", "A", 9, 9, 9, 9, 12, 12), timed("b", "A", 21, 21, 24, 24, 24, 24)
	bags := join2(early, late, timed("c", "A", 12, 15, 15, 18, 18, 18))
	got := CompareTimes(Column{Key: "spawn_rate"}, EventColonised, bags)
	if len(got.Groups) != 3 || got.P == nil || *got.P > 0.01 {
		t.Errorf("got %+v", got)
	}
}

// Whatever the spans, the answer is one JSON can hold, and a curve never falls.
func TestCompareTimesStaysFinite(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var bags []Timed
		for _, s := range drawSpans(t) {
			bags = append(bags, Timed{
				Value: rapid.SampledFrom([]string{"", "yes", "no", "half"}).Draw(t, "value"),
				Batch: rapid.SampledFrom([]string{"A", "B", "C"}).Draw(t, "batch"),
				Span:  s, Fate: Fate(rapid.IntRange(0, 2).Draw(t, "fate")),
			})
			if b := &bags[len(bags)-1]; b.Fate == Happened && math.IsInf(b.Span.Right, 1) {
				b.Fate = Running
			}
		}
		got := CompareTimes(shaken, EventContaminated, bags)
		b, err := json.Marshal(got)
		if err != nil || strings.Contains(got.Words, "NaN") {
			t.Fatalf("%v: %s", err, b)
		}
		for _, g := range got.Groups {
			last := [2]float64{-1, 0}
			for _, p := range g.Curve {
				if p[0] < last[0] || p[1] < last[1]-1e-12 || p[1] > 1 {
					t.Fatalf("curve %v", g.Curve)
				}
				last = p
			}
		}
	})
}
