package trace

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The counting rule is the project's own: what a bag counts as by the species' day.
func TestOutcomeBy(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name string
		bag  Bag
		want Outcome
	}{
		{"found before the day", Bag{Contaminated: On(9), LastSeen: On(9)}, Bad},
		{"found on the day", Bag{Contaminated: On(20), LastSeen: On(20)}, Bad},
		{"found after the day", Bag{Contaminated: On(21), LastSeen: On(21)}, Clean},
		{"found after the day, no other look known", Bag{Contaminated: On(22)}, Clean},
		{"seen clean on the day", Bag{LastSeen: On(20)}, Clean},
		{"not seen since the day before", Bag{LastSeen: On(19)}, Unseen},
		{"never seen", Bag{}, Unseen},
		{"culled for a leak before the day", Bag{LastSeen: On(12), Gone: On(12), GoneAs: "leak"}, Left},
		{"culled as a precaution before the day", Bag{LastSeen: On(12), Gone: On(12), GoneAs: "precaution"}, Left},
		{"sold on the day", Bag{LastSeen: On(20), Gone: On(20), GoneAs: "sold"}, Clean},
		{"lost after the day, not seen since before", Bag{LastSeen: On(18), Gone: On(22), GoneAs: "lost"}, Unseen},
		{"found contaminated, then culled", Bag{Contaminated: On(9), LastSeen: On(10), Gone: On(10), GoneAs: GoneContaminated}, Bad},
		{"culled as contaminated without an entry", Bag{LastSeen: On(10), Gone: On(10), GoneAs: GoneContaminated}, Bad},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if got := tt.bag.OutcomeBy(20); got != tt.want {
				t.Errorf("got %d, want %d", got, tt.want)
			}
		})
	}
}

// young makes the farm's bags 12 days old, last seen on the given days; days is one a bag.
func (f *farm) young(days ...int) *farm {
	for i := range f.bags {
		f.bags[i].Age = 12
		f.bags[i].LastSeen = On(days[min(i, len(days)-1)])
	}
	return f
}

func TestCountYoungBatches(t *testing.T) {
	t.Parallel()
	seen := func(first ...int) []int { // these days for the first bags, day 12 for the rest
		return append(first, 12)
	}
	tests := []struct {
		name          string
		farm          *farm
		with, without Counts
		notCounted    int
		find          int
	}{
		{"no difference inside: none counts", newFarm().batch(10, "S", nil, []int{1}).young(12), Counts{}, Counts{}, 10, 0},
		{"difference inside, all seen today", newFarm().batch(10, "S", upTo(1, 4), []int{1, 2}).young(12), Counts{2, 4}, Counts{0, 6}, 0, 0},
		{"one of ten not seen lately: it is left out", newFarm().batch(12, "S", upTo(1, 4), []int{1, 2}).young(seen(9, 9, 3)...), Counts{2, 3}, Counts{0, 8}, 1, 1},
		{"half not seen lately: judged by the day they were seen, before the find", newFarm().batch(12, "S", upTo(1, 4), []int{1, 2}).young(8, 8, 8, 8, 8, 8, 8, 12), Counts{0, 4}, Counts{0, 8}, 0, 0},
		{"never looked at: not counted", newFarm().batch(10, "S", upTo(1, 4), []int{1}).young(0), Counts{}, Counts{}, 10, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got := counted(tt.farm.bags, tt.farm.hood, "off")
			if got.With != tt.with || got.Without != tt.without || got.NotCounted() != tt.notCounted || len(got.Find) != tt.find {
				t.Errorf("with %v without %v not counted %d find %v; want %v %v %d %d", got.With, got.Without, got.NotCounted(), got.Find, tt.with, tt.without, tt.notCounted, tt.find)
			}
		})
	}
}

func TestCountUnknownAndLate(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(10, "S", upTo(1, 4), []int{1, 2})
	f.hood.Values[0] = Exposure{Value: "off", Late: true}
	f.hood.Values[1] = Exposure{Late: true}
	f.hood.Values[9] = Exposure{}
	got := counted(f.bags, f.hood, "off")
	if got.With != (Counts{1, 3}) || got.Without != (Counts{0, 6 - 1}) || got.Unknown != 2 || got.Late != 1 {
		t.Errorf("got %+v", got)
	}
}

// A third value is on neither side where one value is normal, and on the other side where none is.
func TestSplit(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(3, "S", nil, nil)
	f.hood.Values = []Exposure{{Value: "off"}, {Value: "low"}, {Value: "on"}}
	with := counted(f.bags, f.hood, "off")
	f.hood.Normal = ""
	rest := counted(f.bags, f.hood, "off")
	if diff := cmp.Diff([]float64{1, 1, 1, 2}, []float64{with.With.Bags, with.Without.Bags, rest.With.Bags, rest.Without.Bags}); diff != "" {
		t.Error(diff)
	}
}

// counted applies the counting rule to one value of one column.
func counted(bags []Bag, column Column, value string) Tally {
	f := gather(bags)
	return f.count(f.lay(column), value)
}
