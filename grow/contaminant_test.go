package grow_test

import (
	"slices"
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// Other programs rely on these keys, to the letter and in this order.
func TestKeysOfEntries(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name string
		got  []string
		want string
		is   func(string) bool
	}{
		{"what", grow.Whats(), "green_mould blue_green_mould powdery_mould black_pin_mould orange_mould cobweb wet_spot yeast other unsure", grow.IsWhat},
		{"where", grow.Wheres(), "top filter seal fold side bottom bottom_corner spawn_points hole edge_of_growth under_label all_over", func(key string) bool { _, ok := grow.WhereOf(key); return ok }},
		{"sign", grow.Signs(), "started no_growth condensation metabolites cloudy_fluid dry_patch browning tint fluff pins stalled thin leak puffed hot flies mites", func(key string) bool { _, ok := grow.SignOf(key); return ok }},
	} {
		if diff := cmp.Diff(strings.Fields(test.want), test.got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, diff)
		}
		for _, key := range test.got {
			if !test.is(key) {
				t.Errorf("%s: %s is not known", test.name, key)
			}
		}
		for _, key := range []string{"", "mould", "GREEN_MOULD", "top "} {
			if test.is(key) {
				t.Errorf("%s: %q is taken for a key", test.name, key)
			}
		}
	}
}

// Common practice: anything with loose spores leaves the farm closed on the day
// that it is seen; wet spots, yeasts and doubts are set apart and looked at again.
func TestContaminants(t *testing.T) {
	t.Parallel()
	outToday := []string{"green_mould", "blue_green_mould", "powdery_mould", "black_pin_mould", "orange_mould"}
	for _, c := range grow.Contaminants() {
		if c.Label == "" || c.Look == "" || c.First == "" || c.PointsTo == "" || strings.Contains(c.Label, "_") {
			t.Errorf("%s: a word is missing in %+v", c.What, c)
		}
		if c.OutToday != slices.Contains(outToday, c.What) || c.OutToday != strings.Contains(c.Do, "today") {
			t.Errorf("%s: out today is %v, and what to do is %q", c.What, c.OutToday, c.Do)
		}
		if !strings.HasPrefix(c.Do, "Keep it closed.") {
			t.Errorf("%s: does not begin with keeping it closed: %q", c.What, c.Do)
		}
		if strings.Contains(c.PointsTo, "caused by") {
			t.Errorf("%s: points to, never caused by", c.What)
		}
		for _, where := range c.Where {
			if _, ok := grow.WhereOf(where); !ok {
				t.Errorf("%s: first seen at %q, which is no part of a bag", c.What, where)
			}
		}
		if got, ok := grow.ContaminantOf(c.What); !ok || got.Label != c.Label {
			t.Errorf("%s: looked up %v %q", c.What, ok, got.Label)
		}
	}
}

func TestSignsPartsAndPatternsHaveWords(t *testing.T) {
	t.Parallel()
	labels := map[string]bool{}
	for _, s := range grow.SignWords() {
		if s.Label == "" || s.UsuallyIs == "" || labels[s.Label] || strings.Contains(s.UsuallyIs, "\n") {
			t.Errorf("%s: %+v", s.Sign, s)
		}
		labels[s.Label] = true
	}
	for _, w := range grow.WhereParts() {
		if got, ok := grow.WhereOf(w.Where); !ok || got.Label == "" || strings.Contains(got.Label, "_") {
			t.Errorf("%s: %+v", w.Where, got)
		}
	}
	for _, p := range grow.Patterns() {
		if p.Seen == "" || p.PointsTo == "" || p.LookAt == "" {
			t.Errorf("%+v", p)
		}
	}
}
