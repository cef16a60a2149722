package grow_test

import (
	"testing"

	"bagmark/grow"
)

// TestTaskFor: every reason leads to one task; a bag that may be ready is moved
// only if somebody has seen it grown over or pinning.
func TestTaskFor(t *testing.T) {
	t.Parallel()
	tests := []struct {
		why   grow.Why
		state grow.State
		pins  bool
		want  grow.Task
	}{
		{grow.DueRemove, grow.Colonising, false, "Out"},
		{grow.DueAgain, grow.Colonised, false, "Again"},
		{grow.DueWatch, grow.Colonising, false, "Watch"},
		{grow.DueUnmarked, grow.Unmarked, false, "Mark"},
		{grow.DueOverdue, grow.Colonising, false, "Late"},
		{grow.DueReady, grow.Colonised, false, "Move"},
		{grow.DueReady, grow.Colonising, false, "Look"},
		{grow.DueReady, grow.Colonising, true, "Move"},
		{grow.DueFirstLook, grow.Colonising, false, "Hunt"},
		{grow.DueCheck, grow.Fruiting, false, "Check"},
	}
	listed := map[grow.Task]bool{}
	for _, task := range grow.Tasks {
		listed[task] = true
		if task.About() == "" {
			t.Errorf("%s says nothing about itself", task)
		}
	}
	for _, test := range tests {
		if got := grow.TaskFor(test.why, test.state, test.pins); got != test.want || !listed[got] {
			t.Errorf("%s of a %s bag, pins %t: %s, want %s", test.why, test.state, test.pins, got, test.want)
		}
	}
}

func TestSentence(t *testing.T) {
	t.Parallel()
	lion := grow.Company{Bags: 8, Species: "lion's mane", Place: "rack 2", Day: 20}
	king := grow.Company{Bags: 18, Species: "king oyster", Place: "rack 1", Day: 7}
	mixed := grow.Company{Bags: 3, Species: "enoki", Day: -1}
	tests := []struct {
		name string
		task grow.Task
		list []grow.Company
		want string
	}{
		{"one", grow.TaskMove, []grow.Company{lion}, "8 lion's mane, rack 2"},
		{"the hunt names the day", grow.TaskHunt, []grow.Company{king}, "18 king oyster, day 7"},
		{"the hunt of several ages", grow.TaskHunt, []grow.Company{mixed}, "3 enoki"},
		{"in several places", grow.TaskWatch, []grow.Company{lion, mixed}, "8 lion's mane, rack 2; 3 enoki"},
		{"many", grow.TaskCheck, []grow.Company{lion, king, mixed, mixed, mixed}, "8 lion's mane, rack 2; 18 king oyster, rack 1; 3 enoki; and 6 more"},
		{"none", grow.TaskCheck, nil, ""},
	}
	for _, test := range tests {
		if got := test.task.Sentence(test.list); got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
	}
}
