package store

import (
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// TestPutCondition adds one of the farm's own: it can be set, it has bench
// cards, and a departure prints.
func TestPutCondition(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(1))
	music := grow.Condition{Key: "music", Label: "music", Level: grow.BagLevel, Values: []string{"on", "off"}, Normal: new("on"), Short: "NO MUSIC"}
	if err := f.PutCondition(t.Context(), f.by, music); err != nil {
		t.Fatal(err)
	}
	g := f.add(bags[0].Code, grow.KindCondition, grow.Details{Key: "music", Value: grow.KnownValue("off")})
	if c := conditionOf(g, "music"); c.Printed != "NO MUSIC" || !c.Departure {
		t.Errorf("%+v", c)
	}
	cards, err := f.Cards(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, c := range cards {
		if c.Key == "music" {
			found++
			if one, err := f.Card(t.Context(), c.Code); err != nil || one != c {
				t.Errorf("card %s: %+v, %v", c.Code, one, err)
			}
		}
	}
	if found != 2 {
		t.Errorf("%d cards for two values", found)
	}
	f.sound()
}

// TestChangedConditionReplays: bags whose log speaks of a condition follow when
// its words change.
func TestChangedConditionReplays(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(1))
	c := grow.Condition{Key: "music", Label: "music", Level: grow.BagLevel, Values: []string{"on", "off"}}
	if err := f.PutCondition(t.Context(), f.by, c); err != nil {
		t.Fatal(err)
	}
	f.add(bags[0].Code, grow.KindMarked)
	f.clock.move(time.Hour)
	if f.add(bags[0].Code, grow.KindCondition, grow.Details{Key: "music", Value: grow.KnownValue("off")}).NeedsLabel {
		t.Error("what prints nothing asks for a label")
	}
	c.Normal = new("on")
	if err := f.PutCondition(t.Context(), f.by, c); err != nil {
		t.Fatal(err)
	}
	if !f.bag(bags[0].Code).NeedsLabel {
		t.Error("what prints now does not ask for a label")
	}
	f.sound()
}

// TestConditionsOnRecord: a value that stands somewhere cannot be dropped.
func TestConditionsOnRecord(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(2, func(d *grow.BatchDraft) {
		d.Conditions = map[string]*string{"flow_hood": new("none")}
		d.BagConditions = []grow.BagConditions{{Bags: "1", Conditions: map[string]*string{"flow_hood": new("still_air_box")}}}
	}))
	f.add(bags[0].Code, grow.KindCondition, grow.Details{Key: "flow_hood", Value: grow.KnownValue("off")})
	farm, err := f.Farm(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	before := f.everything()
	for _, dropped := range []string{"none", "still_air_box", "off"} {
		c := farm.Conditions["flow_hood"]
		c.Values, c.Shorts = nil, nil
		for _, v := range farm.Conditions["flow_hood"].Values {
			if v != dropped {
				c.Values = append(c.Values, v)
			}
		}
		wantFields(t, "without "+dropped, f.PutCondition(t.Context(), f.by, c), "values")
	}
	bad := grow.Condition{Key: "strain", Label: "strain", Level: grow.BagLevel, Values: []string{"a"}}
	wantFields(t, "a batch's field", f.PutCondition(t.Context(), f.by, bad), "key")
	if diff := cmp.Diff(before, f.everything()); diff != "" {
		t.Errorf("a refusal left something behind (-before +after):\n%s", diff)
	}
	for _, c := range farm.Conditions {
		if err := f.PutCondition(t.Context(), f.by, c); err != nil {
			t.Errorf("the built-in %s cannot be saved as it is: %v", c.Key, err)
		}
	}
}
