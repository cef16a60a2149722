package grow_test

import (
	"errors"
	"maps"
	"slices"
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// startingSet is what a new farm begins with.
func startingSet() grow.Conditions {
	out := grow.Conditions{}
	for _, c := range grow.StartingConditions() {
		out[c.Key] = c
	}
	return out
}

// faulty are the fields that an error names, in order.
func faulty(err error) []string {
	var e *grow.Error
	if !errors.As(err, &e) || e.Kind != grow.Invalid {
		return nil
	}
	return slices.Sorted(maps.Keys(e.Fields))
}

func TestStartingConditions(t *testing.T) {
	t.Parallel()
	if len(startingSet()) != len(grow.StartingConditions()) {
		t.Error("two starting conditions have one key")
	}
	for _, c := range grow.StartingConditions() {
		if err := c.Validate(); err != nil {
			t.Errorf("%s: %v", c.Key, err)
		}
		for _, v := range c.Values {
			printed := c.Printed(&v)
			if (printed == "") != (v == *c.Normal) || len(printed) > 14 || printed != strings.ToUpper(printed) {
				t.Errorf("%s %s prints %q; want capitals, at most 14, and nothing for the normal value", c.Key, v, printed)
			}
		}
		c.Values[0] = "changed"
	}
	if grow.StartingConditions()[0].Values[0] == "changed" {
		t.Error("a caller's change reaches the built-in set")
	}
}

func TestConditionValidate(t *testing.T) {
	t.Parallel()
	good := grow.Condition{Key: "music", Label: "music", Level: grow.BagLevel, Values: []string{"on", "off"}}
	tests := []struct {
		name   string
		change func(*grow.Condition)
		want   []string
	}{
		{"as it is", func(c *grow.Condition) {}, nil},
		{"everything", func(c *grow.Condition) {
			c.Normal, c.Short, c.Shorts, c.Pen, c.Explains = new("on"), "MUSIC OFF 1234", map[string]string{"off": "MUSIC"}, "MUSIC", "nothing"
		}, nil},
		{"key in capitals", func(c *grow.Condition) { c.Key = "Music" }, []string{"key"}},
		{"no key", func(c *grow.Condition) { c.Key = "" }, []string{"key"}},
		{"key of a batch field", func(c *grow.Condition) { c.Key = "strain" }, []string{"key"}},
		{"another key of a batch field", func(c *grow.Condition) { c.Key = "recipe" }, []string{"key"}},
		{"level", func(c *grow.Condition) { c.Level = "rack" }, []string{"level"}},
		{"no values", func(c *grow.Condition) { c.Values = nil }, []string{"values"}},
		{"unknown is no value", func(c *grow.Condition) { c.Values = []string{"on", "unknown"} }, []string{"values"}},
		{"value twice", func(c *grow.Condition) { c.Values = []string{"on", "on"} }, []string{"values"}},
		{"normal is none of the values", func(c *grow.Condition) { c.Normal = new("loud") }, []string{"normal"}},
		{"short too long", func(c *grow.Condition) { c.Short = "MUSIC OFF 12345" }, []string{"short"}},
		{"shorts of no value", func(c *grow.Condition) { c.Shorts = map[string]string{"loud": "LOUD"} }, []string{"shorts.loud"}},
		{"all at once", func(c *grow.Condition) { *c = grow.Condition{Short: strings.Repeat("X", 15)} }, []string{"key", "label", "level", "short", "values"}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			c := good
			test.change(&c)
			if diff := cmp.Diff(test.want, faulty(c.Validate())); diff != "" {
				t.Errorf("faulty fields (-want +got):\n%s", diff)
			}
		})
	}
}

// TestUnknownIsNoDeparture: not given, null and unknown are one; normal prints
// nothing; without a normal value nothing prints.
func TestUnknownIsNoDeparture(t *testing.T) {
	t.Parallel()
	hood := startingSet()["flow_hood"]
	for _, text := range []*string{nil, new(""), new("unknown")} {
		if v, err := hood.Value(text); v != nil || err != nil {
			t.Errorf("Value(%v) = %v, %v; want unknown", text, v, err)
		}
	}
	if _, err := hood.Value(new("sideways")); grow.KindOf(err) != grow.Invalid || !strings.Contains(err.Error(), "still_air_box") {
		t.Errorf("a value that is none: %v; want the values listed", err)
	}
	if hood.Departs(nil) || hood.Printed(nil) != "" || hood.Departs(new("on")) || hood.Printed(new("on")) != "" {
		t.Error("unknown or normal is taken for a departure")
	}
	if !hood.Departs(new("off")) || hood.Printed(new("off")) != "HOOD OFF" {
		t.Errorf("hood off prints %q", hood.Printed(new("off")))
	}
	free := grow.Condition{Key: "music", Label: "music", Values: []string{"jazz", "none"}, Short: "MUSIC"}
	if free.Departs(new("jazz")) || free.Printed(new("jazz")) != "" {
		t.Error("a condition without a normal value departs")
	}
	plain := grow.Condition{Key: "light", Label: "lamp over bench", Values: []string{"on", "off"}, Normal: new("on")}
	if got := plain.Printed(new("off")); got == "" || len(got) > 14 {
		t.Errorf("without a short word %q is printed, want something of at most 14 characters", got)
	}
}

func TestConditionsParse(t *testing.T) {
	t.Parallel()
	var p grow.Problems
	got := startingSet().Parse(map[string]*string{"flow_hood": new("off"), "gloves": nil, "shaken": new("unknown"), "seal": new("glued"), "moon": new("full")}, "conditions", &p)
	if diff := cmp.Diff(map[string]string{"flow_hood": "off"}, got); diff != "" {
		t.Errorf("values (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]string{"conditions.moon", "conditions.seal"}, faulty(p.Err("no"))); diff != "" {
		t.Errorf("faulty fields (-want +got):\n%s", diff)
	}
}

func TestConditionsKeys(t *testing.T) {
	t.Parallel()
	set := startingSet()
	set["zoo"], set["aura"] = grow.Condition{Key: "zoo"}, grow.Condition{Key: "aura"}
	var want []string
	for _, c := range grow.StartingConditions() {
		want = append(want, c.Key)
	}
	if diff := cmp.Diff(append(want, "aura", "zoo"), set.Keys()); diff != "" {
		t.Errorf("order (-want +got):\n%s", diff)
	}
}
