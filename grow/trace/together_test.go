package trace

import (
	"math"
	"strings"
	"testing"
)

// pair is one batch of 40 in which the hood was off for ten bags and ten were not shaken, five of them the same.
func pairOfConditions(bad []int) *farm {
	f := newFarm().batch(40, "S", upTo(1, 10), bad)
	for k := 6; k <= 15; k++ {
		f.shaken.Values[k-1].Value = "no"
	}
	return f
}

var bothAsked = []Suspect{{"flow_hood", "off"}, {"shaken", "no"}}

// A single yes/no column's slope is the log odds ratio with half a bag added to each cell (Firth 1993); with a second
// column that goes with nothing of its own the first keeps nearly all of it.
func TestLookTogether(t *testing.T) {
	t.Parallel()
	f := pairOfConditions([]int{1, 2, 3, 4, 6, 7, 8, 9, 20, 30, 39})
	got, ok := LookTogether(f.bags, f.columns(), bothAsked, "king")
	if !ok || len(got.Conditions) != 2 || got.Bags != 40 || got.Bad != 11 || got.Batches != 1 {
		t.Fatalf("got %+v", got)
	}
	hood, shaken := got.Conditions[0], got.Conditions[1]
	alone := (8.5 / 2.5) / (3.5 / 27.5)
	if r := *hood.OddsRatio.Estimate; !(r > alone/2 && r < 2*alone) || hood.P > 0.01 {
		t.Errorf("hood off: %g times the odds (p %g), by itself %g", r, hood.P, alone)
	}
	if !(*shaken.OddsRatio.Low < 1 && *shaken.OddsRatio.High > 1) || shaken.Bags != 10 || shaken.Bad != 4 {
		t.Errorf("not shaken: %+v", shaken)
	}
	if !strings.Contains(got.Words, "flow hood off, 8 of 10 bad") || !strings.HasSuffix(got.Words, "A second look, not a verdict.") {
		t.Error(got.Words)
	}
}

func TestLookTogetherWhereNothingCanBeSaid(t *testing.T) {
	t.Parallel()
	same := newFarm().batch(40, "S", upTo(1, 10), []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 20})
	for k := range 10 {
		same.shaken.Values[k].Value = "no"
	}
	few := pairOfConditions([]int{1, 2})
	constant := newFarm().batch(40, "S", upTo(1, 10), upTo(5, 15))
	for k := range constant.bags {
		constant.shaken.Values[k].Value = "no"
	}
	none := pairOfConditions(nil)
	for k := range none.bags {
		none.bags[k].LastSeen = When{}
	}
	for name, tt := range map[string]struct {
		farm *farm
		want string
	}{
		"nobody looked": {none, "No bag can be counted yet whose value is known in all of them."},
		"the same bags": {same, "Flow hood off and shaken no cannot be told apart here and are taken as one. Nothing is left to hold against each other."},
		"too few":       {few, "Too few contaminated bags for a joint look: 2 of 40."},
		"all alike":     {constant, "Shaken no was the same on all these bags and is left out. Nothing is left to hold against each other."},
	} {
		got, ok := LookTogether(tt.farm.bags, tt.farm.columns(), bothAsked, "king")
		if !ok || len(got.Conditions) != 0 || got.Words != tt.want {
			t.Errorf("%s: %v %q", name, ok, got.Words)
		}
	}
	if _, ok := LookTogether(few.bags, few.columns(), bothAsked[:1], "king"); ok {
		t.Error("one condition is not several")
	}
}

// Over several batches the limits widen with the likeness of their bags.
func TestLookTogetherOverBatches(t *testing.T) {
	t.Parallel()
	alike, unlike := newFarm(), newFarm()
	for k := range 6 {
		off := upTo(1, 12)
		if k%2 == 0 {
			off = upTo(13, 24)
		}
		alike.batch(24, "S-1", off, []int{3, 9, 15, 21})
		if k < 3 {
			unlike.batch(24, "S-1", off, []int{1, 3, 5, 9, 13, 15, 19, 21})
		} else {
			unlike.batch(24, "S-1", off, nil)
		}
	}
	width := func(f *farm) float64 {
		for i := range f.bags {
			if f.bags[i].Number%3 == 0 {
				f.shaken.Values[i].Value = "no"
			}
		}
		got, _ := LookTogether(f.bags, f.columns(), bothAsked, "king")
		if len(got.Conditions) != 2 || got.Batches != 6 {
			t.Fatalf("got %+v", got)
		}
		b := got.Conditions[0].OddsRatio
		return math.Log(*b.High) - math.Log(*b.Low)
	}
	if a, u := width(alike), width(unlike); !(u > 1.3*a) {
		t.Errorf("limits over %g with like batches, %g with unlike ones", a, u)
	}
}
