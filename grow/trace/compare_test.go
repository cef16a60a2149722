package trace

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// rowOf is the row of one value.
func rowOf(t testing.TB, rows []Row, key, value string) Row {
	t.Helper()
	for _, r := range rows {
		if r.Key == key && r.Value == value {
			return r
		}
	}
	t.Fatalf("no row %s %s", key, value)
	return Row{}
}

// thirds is twelve batches of 24, every third with the hood off and spawn lot S-31; bad bags by kind.
func thirds(off, on []int) *farm {
	f := newFarm()
	for k := range 12 {
		if k%3 == 0 {
			f.batch(24, "S-31", upTo(1, 24), off)
		} else {
			f.batch(24, "S-30", nil, on)
		}
	}
	return f
}

func TestCompareVerdicts(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name    string
		farm    *farm
		method  Method
		verdict Verdict
		batches int
	}{
		{"4 of 5 against 1 of 19", newFarm().batch(24, "S", upTo(7, 11), []int{7, 8, 9, 10, 20}), StratifiedExact, PointsTo, 1},
		{"2 of 5 against 1 of 19", newFarm().batch(24, "S", upTo(7, 11), []int{7, 8, 20}), StratifiedExact, CannotTell, 1},
		{"none bad", newFarm().batch(24, "S", upTo(7, 11), nil), StratifiedExact, CannotTell, 1},
		{"all bad", newFarm().batch(24, "S", upTo(7, 11), upTo(1, 24)), StratifiedExact, CannotTell, 1},
		{"much and alike", newFarm().batch(640, "S", upTo(1, 320), []int{5, 6, 400, 401}), StratifiedExact, NoDifference, 1},
		{"much and hardly unlike", newFarm().batch(6000, "S", upTo(1, 3000), upTo(2950, 3010)), StratifiedExact, SmallDifference, 1},
		{"whole batches", thirds(upTo(1, 8), []int{1}), BatchPermutation, PointsTo, 12},
		{"one batch had it", newFarm().batch(24, "S", upTo(1, 24), upTo(1, 20)).batch(24, "S", nil, nil).batch(24, "S", nil, nil), BatchPermutation, CannotTell, 3},
		{"a mixed batch among whole ones decides", newFarm().batch(24, "S", upTo(7, 11), []int{7, 8, 9, 10, 20}).batch(24, "S", nil, []int{1}), StratifiedExact, PointsTo, 1},
		{"everybody had it", newFarm().batch(24, "S", upTo(1, 24), []int{3}), NoMethod, NothingToCompare, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			r := rowOf(t, Compare(tt.farm.bags, []Column{tt.farm.hood}, DefaultMargin), "flow_hood", "off")
			if r.Method != tt.method || r.Verdict != tt.verdict || r.Batches != tt.batches {
				t.Errorf("got %s %s over %d, want %s %s over %d\n%s", r.Method, r.Verdict, r.Batches, tt.method, tt.verdict, tt.batches, r.Words)
			}
		})
	}
}

func TestRowWithNothingBad(t *testing.T) {
	t.Parallel()
	for name, bad := range map[string][]int{"none": nil, "all": upTo(1, 24)} {
		f := newFarm().batch(24, "S", upTo(7, 11), bad)
		r := rowOf(t, Compare(f.bags, f.columns(), DefaultMargin), "flow_hood", "off")
		if r.P == nil || *r.P != 1 || r.OddsRatio != nil || r.Difference == nil || r.Difference.Low == nil {
			t.Errorf("%s bad: p %v, odds %v, difference %v", name, r.P, r.OddsRatio, r.Difference)
		}
	}
}

// Infinite limits are null, and the row has the fields that its readers rely on.
func TestRowJSON(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(24, "S", upTo(7, 11), upTo(7, 11))
	b, err := json.Marshal(rowOf(t, Compare(f.bags, f.columns(), DefaultMargin), "flow_hood", "off"))
	if err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(b, &got); err != nil {
		t.Fatal(err)
	}
	odds := got["odds_ratio"].(map[string]any)
	if odds["estimate"] != nil || odds["high"] != nil || odds["low"] == nil {
		t.Errorf("odds ratio: %v", odds)
	}
	var keys []string
	for _, k := range strings.Fields("key level value normal with without not_counted difference odds_ratio p_value q_value method batches confounded_with verdict words") {
		if _, ok := got[k]; ok {
			keys = append(keys, k)
		}
	}
	if len(keys) != 16 {
		t.Errorf("fields: %v", got)
	}
	if got["normal"] != "on" || got["level"] != "bag" {
		t.Errorf("normal %v, level %v", got["normal"], got["level"])
	}
}

func TestConfounding(t *testing.T) {
	t.Parallel()
	f := thirds(upTo(1, 8), []int{1})
	rows := Compare(f.bags, f.columns(), DefaultMargin)
	hood := rowOf(t, rows, "flow_hood", "off")
	if diff := cmp.Diff([]string{"spawn_lot"}, hood.ConfoundedWith); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"flow_hood"}, rowOf(t, rows, "spawn_lot", "S-31").ConfoundedWith); diff != "" {
		t.Error(diff)
	}
	if *hood.Q != *hood.P {
		t.Errorf("three views of one question were adjusted as more: p %g, q %g", *hood.P, *hood.Q)
	}

	// One batch with the new lot and the hood on tells them apart, if hardly.
	apart := thirds(upTo(1, 8), []int{1}).batch(24, "S-31", nil, []int{1})
	hood = rowOf(t, Compare(apart.bags, apart.columns(), DefaultMargin), "flow_hood", "off")
	if len(hood.ConfoundedWith) != 0 || !strings.Contains(hood.Words, "Hardly told apart from spawn lot S-31") {
		t.Errorf("got %v: %s", hood.ConfoundedWith, hood.Words)
	}
}

// Inside a batch two conditions set on the same bags cannot be told apart, whatever the other batches say.
func TestConfoundingInsideBatches(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(24, "S", upTo(7, 11), []int{7, 8, 9, 10, 20}).batch(24, "S", nil, nil)
	for _, k := range upTo(7, 11) {
		f.shaken.Values[k-1].Value = "no"
	}
	r := rowOf(t, Compare(f.bags, f.columns(), DefaultMargin), "shaken", "no")
	if diff := cmp.Diff([]string{"flow_hood"}, r.ConfoundedWith); diff != "" {
		t.Error(diff)
	}
	f.shaken.Values[6].Value, f.shaken.Values[1].Value = "yes", "no"
	f.shaken.Values[7].Value, f.shaken.Values[2].Value = "yes", "no"
	f.shaken.Values[8].Value, f.shaken.Values[3].Value = "yes", "no"
	r = rowOf(t, Compare(f.bags, f.columns(), DefaultMargin), "shaken", "no")
	if len(r.ConfoundedWith) != 0 {
		t.Errorf("told apart by six bags: %v", r.ConfoundedWith)
	}
}

func TestGroups(t *testing.T) {
	t.Parallel()
	f := thirds(upTo(1, 8), []int{1})
	got := Groups(f.bags, f.hood)
	if len(got) != 2 || got[0].Value != "on" || got[0].Bags != 192 || got[0].Contaminated != 8 || got[1].Value != "off" || got[1].Contaminated != 32 {
		t.Fatalf("got %+v", got)
	}
	plain := Wilson(Counts{8, 192})
	if *got[0].High < plain.High-1e-12 {
		t.Errorf("limits over batches are narrower than those of independent bags: %g, %g", *got[0].High, plain.High)
	}
}

// With a group in one batch the limits are the plain ones (Wilson's for 4 of 5 and 1 of 19, computed with R's
// prop.test without correction).
func TestGroupOfOneBatch(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(24, "S", upTo(7, 11), []int{7, 8, 9, 10, 20})
	r := rowOf(t, Compare(f.bags, f.columns(), DefaultMargin), "flow_hood", "off")
	if w := Wilson(Counts{4, 5}); *r.With.Low != w.Low || *r.With.High != w.High || math.Abs(*r.With.Low-0.3755) > 5e-5 {
		t.Errorf("got %g to %g", *r.With.Low, *r.With.High)
	}
}

// A condition that was on all batches of two lots, and no others, cannot be told from the two lots.
func TestConfoundingWithTwoValues(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(24, "S-4", nil, []int{1})
	for k := range 9 {
		lot := []string{"S-1", "S-2", "S-3"}[k%3]
		if lot == "S-3" {
			f.batch(24, lot, nil, []int{1})
		} else {
			f.batch(24, lot, upTo(1, 24), upTo(1, 8))
		}
	}
	r := rowOf(t, Compare(f.bags, f.columns(), DefaultMargin), "flow_hood", "off")
	if diff := cmp.Diff([]string{"spawn_lot"}, r.ConfoundedWith); diff != "" {
		t.Error(diff)
	}
	want := "Flow hood off was on exactly the bags of spawn lot S-1 and spawn lot S-2 together. The records cannot tell them apart."
	if !strings.Contains(r.Words, want) {
		t.Error(r.Words)
	}
	f.batch(24, "S-1", nil, nil)
	r = rowOf(t, Compare(f.bags, f.columns(), DefaultMargin), "flow_hood", "off")
	if len(r.ConfoundedWith) != 0 {
		t.Errorf("one batch of a lot without it: %v", r.ConfoundedWith)
	}
}

// Only restricts the rows of a column to one value; what stands beside is named but has no row.
func TestCompareBeside(t *testing.T) {
	t.Parallel()
	f := thirds(upTo(1, 8), []int{1})
	lot := f.lot
	lot.Only = "S-31"
	rows := CompareBeside(f.bags, []Column{lot}, []Column{f.hood}, DefaultMargin)
	if len(rows) != 1 || rows[0].Value != "S-31" {
		t.Fatalf("got %d rows", len(rows))
	}
	if diff := cmp.Diff([]string{"flow_hood"}, rows[0].ConfoundedWith); diff != "" {
		t.Error(diff)
	}
}
