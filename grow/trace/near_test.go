package trace

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// bench makes times from minutes after nine; a negative minute is a bag that was not scanned live.
func bench(minutes ...int) []time.Time {
	nine := time.Date(2026, time.March, 14, 9, 0, 0, 0, time.UTC)
	var out []time.Time
	for _, m := range minutes {
		if m < 0 {
			out = append(out, time.Time{})
			continue
		}
		out = append(out, nine.Add(time.Duration(m)*time.Minute))
	}
	return out
}

func TestNear(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name    string
		bench   []time.Time
		subject int
		want    []int
	}{
		{"five each way when slow", bench(0, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100, 110, 120), 6, []int{1, 2, 3, 4, 5, 7, 8, 9, 10, 11}},
		{"fifteen minutes when quick", bench(0, 1, 2, 3, 4, 5, 6, 7, 8, 20), 0, []int{1, 2, 3, 4, 5, 6, 7, 8}},
		{"just fifteen minutes", bench(0, 1, 2, 3, 4, 5, 6, 15, 16), 0, []int{1, 2, 3, 4, 5, 6, 7}},
		{"out of order in the list", bench(3, 1, 2), 1, []int{0, 2}},
		{"over a long rest nothing is near", bench(0, 1, 2, 240, 241), 2, []int{0, 1}},
		{"bags not scanned live do not count", bench(0, -1, 2), 0, []int{2}},
		{"the bag itself was not scanned live", bench(-1, 1, 2), 0, nil},
		{"no bench", nil, 0, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if diff := cmp.Diff(tt.want, Near(tt.bench, tt.subject)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestAtRisk(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(24, "S-31", upTo(7, 11), []int{8}).batch(24, "S-31", []int{1}, nil).batch(24, "S-30", nil, nil)
	f.bags[8].Gone = On(10) // no. 9 was thrown out
	places := make([]string, len(f.bags))
	places[6], places[7] = "rack 3", "rack 3"
	scene := Farm{Bags: f.bags, Columns: f.columns(), Places: places}
	got := scene.Kin(7, nil).AtRisk()
	want := map[string][]string{
		"B0-7": {"flow_hood", "spawn_lot", "place"}, "B0-10": {"flow_hood", "spawn_lot"}, "B0-11": {"flow_hood", "spawn_lot"}, "B24-1": {"flow_hood", "spawn_lot"},
	}
	shares := make(map[string][]string)
	for _, r := range got {
		shares[f.bags[r.Bag].Code] = r.Shares
		if !(r.Risk.Low >= 0 && r.Risk.Low <= r.Risk.Estimate && r.Risk.Estimate <= r.Risk.High && r.Risk.High <= 1) {
			t.Errorf("%s: risk %+v", f.bags[r.Bag].Code, r.Risk)
		}
	}
	if diff := cmp.Diff(want, shares); diff != "" {
		t.Error(diff)
	}
	lot := scene.Kin(7, map[Suspect]bool{{KeySpawnLot, "S-31"}: true}).AtRisk()
	if len(lot) != 24-2+24 {
		t.Errorf("a lot under suspicion: %d bags at risk, want all 46 alive of it", len(lot))
	}
	if got := scene.Kin(99, nil).AtRisk(); got != nil {
		t.Errorf("no such bag: %v", got)
	}
}

// A bag made near a bad one is at risk, also in another batch.
func TestAtRiskMadeNear(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(3, "S-31", nil, []int{3}).batch(2, "S-30", nil, nil)
	scene := Farm{Bags: f.bags, Columns: f.columns(), Bench: bench(-1, 1, 2, 3, 200)}
	got := scene.Kin(2, nil).AtRisk()
	if len(got) != 2 || got[0].Shares[len(got[0].Shares)-1] != KeyMadeNear {
		t.Errorf("got %+v", got)
	}
}

// The longer a bag stays clean the less is left of its risk, but never nothing.
func TestRiskFallsWithAge(t *testing.T) {
	t.Parallel()
	last := 1.0
	for _, seen := range []int{0, 8, 10, 20, 30} {
		f := newFarm().batch(24, "S", upTo(7, 11), []int{8, 9, 10})
		f.bags[6].LastSeen = On(seen)
		r := Farm{Bags: f.bags, Columns: f.columns()}.Kin(7, nil).AtRisk()
		for _, x := range r {
			if x.Bag != 6 {
				continue
			}
			if !(x.Risk.Estimate < last) || !(x.Risk.Estimate > 0) {
				t.Errorf("seen on day %d: risk %g after %g", seen, x.Risk.Estimate, last)
			}
			last = x.Risk.Estimate
		}
	}
}

func TestTurns(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(24, "S-31", upTo(7, 11), []int{8, 9}).batch(24, "S-31", []int{1}, nil)
	got := Farm{Bags: f.bags, Columns: f.columns()}.Kin(7, nil).Turns()
	if len(got) != 1 || got[0].Key != "flow_hood" || got[0].Bad != 2 || got[0].Alive != 4 {
		t.Fatalf("got %+v", got)
	}
	if x := got[0]; !(x.Mean > 0 && x.Low <= x.High && x.High <= x.Alive) {
		t.Errorf("got %+v", x)
	}
}

// Both departing is what is shared, also with different values; a bag of a batch that nobody has looked at takes its
// risk from the other batches.
func TestAtRiskOtherValue(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(24, "S", upTo(7, 11), []int{7, 8, 9, 10}).batch(24, "S", []int{3}, nil)
	f.hood.Values[26].Value = "low"
	f.bags[26].LastSeen = When{}
	got := Farm{Bags: f.bags, Columns: []Column{f.hood}}.Kin(7, nil).AtRisk()
	if len(got) != 2 || got[0].Bag != 26 {
		t.Fatalf("got %+v", got)
	}
	if prior := NewEstimator(f.bags).priors["king"].Mean(); !(got[0].Risk.Estimate > 1.5*prior) {
		t.Errorf("risk %g is hardly above that of any bag, %g", got[0].Risk.Estimate, prior)
	}
}
