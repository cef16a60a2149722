package grow_test

import (
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// TestBagConditionsNow: the log's word stands before the bag's own at making,
// and that before its batch's.
func TestBagConditionsNow(t *testing.T) {
	t.Parallel()
	at := moment(t, "2026-03-14T15:00:00Z")
	bad := &grow.Contamination{At: at, ReceivedAt: at}
	set := func(v *string, basis string, seq int64) map[string]grow.Setting {
		return map[string]grow.Setting{"flow_hood": {Value: v, Basis: basis, At: at, ReceivedAt: at, Seq: seq}}
	}
	off := map[string]*string{"flow_hood": new("off")}
	tests := []struct {
		name   string
		batch  map[string]string
		own    map[string]*string
		status grow.Status
		want   grow.BagCondition
	}{
		{"nobody said", nil, nil, grow.Status{}, grow.BagCondition{From: "batch", Basis: "recorded"}},
		{"the batch", map[string]string{"flow_hood": "on"}, nil, grow.Status{}, grow.BagCondition{Value: new("on"), From: "batch", Basis: "recorded"}},
		{"the bag", map[string]string{"flow_hood": "on"}, off, grow.Status{}, grow.BagCondition{Value: new("off"), Departure: true, From: "bag", Basis: "recorded", Printed: "HOOD OFF"}},
		{"the bag, unknown", map[string]string{"flow_hood": "on"}, map[string]*string{"flow_hood": nil}, grow.Status{}, grow.BagCondition{From: "bag", Basis: "recorded"}},
		{"the log", map[string]string{"flow_hood": "on"}, off, grow.Status{Set: set(new("none"), "remembered", 0)}, grow.BagCondition{Value: new("none"), Departure: true, From: "bag", Basis: "remembered", Printed: "NO HOOD"}},
		{"the log, unknown", nil, off, grow.Status{Set: set(nil, "recorded", 0)}, grow.BagCondition{From: "bag", Basis: "recorded"}},
		{"a guess is kept", nil, nil, grow.Status{Set: set(new("off"), "guess", 0)}, grow.BagCondition{Value: new("off"), Departure: true, From: "bag", Basis: "guess", Printed: "HOOD OFF"}},
		{"heard of after the contamination", nil, nil, grow.Status{Contaminated: bad, ContaminatedSeq: 5, Set: set(new("off"), "recorded", 6)}, grow.BagCondition{Value: new("off"), Departure: true, From: "bag", Basis: "recorded", Printed: "HOOD OFF", Late: true}},
		{"heard of before the contamination", nil, nil, grow.Status{Contaminated: bad, ContaminatedSeq: 5, Set: set(new("off"), "recorded", 4)}, grow.BagCondition{Value: new("off"), Departure: true, From: "bag", Basis: "recorded", Printed: "HOOD OFF"}},
	}
	conditions := grow.Conditions{"flow_hood": startingSet()["flow_hood"]}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			test.want.Key, test.want.Label, test.want.Normal = "flow_hood", "flow hood", new("on")
			got := grow.BagConditionsNow(conditions, test.batch, test.own, test.status)
			if diff := cmp.Diff([]grow.BagCondition{test.want}, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
	if got := grow.BagConditionsNow(startingSet(), nil, nil, grow.Status{}); len(got) != len(startingSet()) {
		t.Errorf("%d conditions, want all %d of the farm", len(got), len(startingSet()))
	}
}
