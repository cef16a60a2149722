package trace

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The day itself is reached on it: a batch of just that age counts, whether its bags differ or not.
func TestTheDayItself(t *testing.T) {
	t.Parallel()
	for name, off := range map[string][]int{"uniform": nil, "mixed": {1}} {
		f := newFarm().batch(4, "S", off, []int{2})
		for i := range f.bags {
			f.bags[i].Age, f.bags[i].LastSeen = 20, On(20)
		}
		got := counted(f.bags, f.hood, "off")
		if got.Young != 0 || got.With.Bags+got.Without.Bags != 4 {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// From that age on the day is the species' own, also where bags differ: who was not seen then does not count.
func TestOldMixedBatch(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(6, "S", []int{1, 2}, nil)
	for i := range f.bags {
		f.bags[i].Age, f.bags[i].LastSeen = 20, On(18)
	}
	f.bags[0].LastSeen = On(20)
	if got := counted(f.bags, f.hood, "off"); got.Unseen != 5 || got.With.Bags != 1 {
		t.Errorf("got %+v", got)
	}
}

// A young batch is judged by the day that nine in ten of its bags alive had reached when last seen.
func TestNineInTen(t *testing.T) {
	t.Parallel()
	seen := func(days ...int) []Bag {
		var out []Bag
		for _, d := range days {
			out = append(out, Bag{Age: 12, Horizon: 20, LastSeen: On(d)})
		}
		return out
	}
	gone, bad := Bag{Age: 12, Horizon: 20, LastSeen: On(2), Gone: On(2)}, Bag{Age: 12, Horizon: 20, LastSeen: On(2), Contaminated: On(2)}
	tests := []struct {
		name string
		bags []Bag
		want int
	}{
		{"one in ten", seen(3, 8, 12, 12, 12, 12, 12, 12, 12, 12), 8},
		{"one in nine is too many", seen(3, 8, 12, 12, 12, 12, 12, 12, 12), 3},
		{"gone and contaminated bags are left aside", append(seen(11, 12, 12, 12), gone, bad), 11},
		{"none left", []Bag{gone, bad}, 12},
		{"one never seen", append(seen(12, 12), Bag{Age: 12, Horizon: 20}), -1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			f := gather(tt.bags)
			if got := f.nineInTen(f.batches[0]); got != tt.want {
				t.Errorf("got %d, want %d", got, tt.want)
			}
		})
	}
}

func TestLateInUniformBatches(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(4, "S", nil, []int{2}).batch(4, "S", upTo(1, 4), nil)
	f.hood.Values[1].Late = true
	f.hood.Values[6] = Exposure{}
	if got := counted(f.bags, f.hood, "off"); got.Late != 1 || got.Unknown != 1 || got.With.Bags != 3 {
		t.Errorf("got %+v", got)
	}
}

func TestJudge(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name      string
		low, high float64
		q         float64
		want      Verdict
	}{
		{"above 0", 0.1, 0.3, 0.01, PointsTo},
		{"below 0", -0.3, -0.1, 0.01, PointsTo},
		{"above 0 but q too large", 0.1, 0.3, 0.06, CannotTell},
		{"above 0 inside the margin", 0.01, 0.04, 0.01, SmallDifference},
		{"below 0 inside the margin", -0.04, -0.01, 0.01, SmallDifference},
		{"below 0 out of the margin", -0.2, -0.01, 0.01, PointsTo},
		{"inside", -0.04, 0.04, 0.6, NoDifference},
		{"far below to inside", -0.2, 0.03, 0.6, CannotTell},
		{"inside to far above", -0.03, 0.2, 0.6, CannotTell},
		{"just the margin", -0.05, 0.05, 0.6, CannotTell},
		{"no limits", math.NaN(), math.NaN(), 0.01, CannotTell},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if got := Judge(Interval{0, tt.low, tt.high}, 0.05, tt.q); got != tt.want {
				t.Errorf("got %s, want %s", got, tt.want)
			}
		})
	}
}

// However many bags, none bad or all bad cannot be told; nor can whole batches so few that no result could.
func TestCannotTellWhateverWasSeen(t *testing.T) {
	t.Parallel()
	few := newFarm().batch(2000, "S", upTo(1, 2000), []int{1})
	for range 3 {
		few.batch(2000, "S", nil, []int{1})
	}
	for name, f := range map[string]*farm{
		"none bad":     newFarm().batch(2000, "S", upTo(1, 1000), nil),
		"all bad":      newFarm().batch(2000, "S", upTo(1, 1000), upTo(1, 2000)),
		"four batches": few,
	} {
		r := rowOf(t, Compare(f.bags, []Column{f.hood}, DefaultMargin), "flow_hood", "off")
		if r.Verdict != CannotTell || *r.Difference.Low < -DefaultMargin || *r.Difference.High > DefaultMargin {
			t.Errorf("%s: %s, %s", name, r.Verdict, r.Words)
		}
	}
}

// hardly makes one batch with the hood off on some bags and others not shaken.
func hardly(t *testing.T, off, unshaken []int) Row {
	t.Helper()
	f := newFarm().batch(40, "S", off, []int{1, 30})
	for _, k := range unshaken {
		f.shaken.Values[k-1].Value = "no"
	}
	return rowOf(t, Compare(f.bags, f.columns(), DefaultMargin), "flow_hood", "off")
}

func TestHardlyToldApart(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name          string
		off, unshaken []int
		want          int
	}{
		{"differ on two of fourteen", upTo(1, 12), append(upTo(1, 11), 40), 1},
		{"differ on six", upTo(1, 12), append(upTo(1, 9), 38, 39, 40), 0},
		{"nothing in common", []int{1, 2}, []int{11, 12}, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			r := hardly(t, tt.off, tt.unshaken)
			if len(r.Detail.Hardly) != tt.want || len(r.ConfoundedWith) != 0 {
				t.Errorf("hardly %v, confounded %v", r.Detail.Hardly, r.ConfoundedWith)
			}
		})
	}
}

// A batch in which only one of two conditions differs tells them apart.
func TestToldApartByABatch(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(24, "S", upTo(7, 11), []int{7, 8}).batch(24, "S", upTo(7, 11), []int{9})
	for k := range 24 {
		f.shaken.Values[24+k].Value = "no"
	}
	for _, k := range upTo(7, 11) {
		f.shaken.Values[k-1].Value = "no"
	}
	if r := rowOf(t, Compare(f.bags, f.columns(), DefaultMargin), "flow_hood", "off"); len(r.ConfoundedWith) != 0 {
		t.Errorf("confounded with %v", r.ConfoundedWith)
	}
}

// Two values of one condition that share out all bags are one question beside another condition: two p in all.
func TestTwoValuesAreOneQuestion(t *testing.T) {
	t.Parallel()
	f := newFarm()
	for k := range 8 {
		f.batch(24, []string{"S-1", "S-2"}[k%2], []int{3, 5}, upTo(1, 1+7*(k%2)))
	}
	rows := Compare(f.bags, []Column{f.lot, f.hood}, DefaultMargin)
	lot, hood := rowOf(t, rows, "spawn_lot", "S-1"), rowOf(t, rows, "flow_hood", "off")
	want := Adjust([]float64{*lot.P, *hood.P})
	if *lot.Q != want[0] || *hood.Q != want[1] {
		t.Errorf("p %g and %g, q %g and %g, want %v", *lot.P, *hood.P, *lot.Q, *hood.Q, want)
	}
}

// Conditions with less contamination stand after those with more, however strong.
func TestRankKeepsLessApart(t *testing.T) {
	t.Parallel()
	row := func(name string, low, high float64) Row {
		return Row{Verdict: PointsTo, Difference: Interval{(low + high) / 2, low, high}.Bounds(), Detail: Detail{Name: name}}
	}
	rows := []Row{row("much less", -0.9, -0.8), row("more", 0.1, 0.2), row("a little less", -0.3, -0.1), row("much more", 0.3, 0.9)}
	Rank(rows)
	var got []string
	for _, r := range rows {
		got = append(got, r.Detail.Name)
	}
	if diff := cmp.Diff([]string{"much more", "more", "much less", "a little less"}, got); diff != "" {
		t.Error(diff)
	}
}

// One batch in a group is worth what its bags' likeness leaves, rho coming from the other batches (Donner's factor).
func TestClusterOfOneBatch(t *testing.T) {
	t.Parallel()
	c := ClusterDifference([]Counts{{4, 24}}, []Counts{{0, 24}, {8, 24}, {1, 24}})
	if want := 24 / (1 + 23*c.ICC); !(c.ICC > 0) || math.Abs(c.With.Bags-want) > 1e-9 {
		t.Errorf("rho %g, effective %g, want %g", c.ICC, c.With.Bags, want)
	}
}

// Where batches are no more unlike than chance the farm's law is worth 200 bags, where nothing is known two.
func TestBetaPriorSize(t *testing.T) {
	t.Parallel()
	even, none := BetaPrior([]Counts{{2, 24}, {2, 24}, {2, 24}}), BetaPrior(nil)
	if size := even.A + even.B; math.Abs(size-200) > 1e-9 {
		t.Errorf("even batches: %g", size)
	}
	if size := none.A + none.B; math.Abs(size-2) > 1e-9 {
		t.Errorf("no batches: %g", size)
	}
}

// A design effect and few batches make the joint look less sure, never surer.
func TestJointOfBatches(t *testing.T) {
	t.Parallel()
	p := []Pattern{{[]float64{1}, Counts{20, 60}}, {[]float64{0}, Counts{8, 60}}}
	plain, _ := FirthLogistic(p, 1, math.Inf(1))
	effect, _ := FirthLogistic(p, 3, math.Inf(1))
	few, _ := FirthLogistic(p, 3, 4)
	a, b, c := plain.Coefficients[1], effect.Coefficients[1], few.Coefficients[1]
	if !(a.P < b.P && b.P < c.P) || !(a.Low > b.Low && b.Low > c.Low) || a.Estimate != c.Estimate {
		t.Errorf("got %+v, %+v, %+v", a, b, c)
	}
	if EnoughForJoint(Counts{9, 60}, 2) || !EnoughForJoint(Counts{10, 60}, 2) {
		t.Error("two columns need ten contaminated bags")
	}
}

func TestEndings(t *testing.T) {
	t.Parallel()
	for name, tt := range map[string]struct {
		bag  Bag
		want Ending
		none bool
	}{
		"found, then thrown out":         {bag: Bag{Contaminated: On(9), LastSeen: On(10), Gone: On(10)}, want: Ending{0.45, endContaminated}},
		"gone clean":                     {bag: Bag{Gone: On(8), LastSeen: On(8), GoneAs: "leak"}, want: Ending{0.4, endGone}},
		"found only when it was out":     {bag: Bag{Contaminated: On(12), Gone: On(8), GoneAs: "mistake"}, want: Ending{0.4, endGone}},
		"runs":                           {bag: Bag{LastSeen: On(15)}, want: Ending{0.75, 0}},
		"found after the day: clean yet": {bag: Bag{Contaminated: On(25)}, want: Ending{1, 0}},
		"never seen: says nothing":       {bag: Bag{}, none: true},
	} {
		tt.bag.Horizon = 20
		if got, ok := tt.bag.ending(); ok == tt.none || got != tt.want {
			t.Errorf("%s: got %+v, want %+v", name, got, tt.want)
		}
	}
	x := Incidence{Share: 0.2, SE: 0.05}
	if a, b := x.Interval(50, 1), x.Interval(50, 4); !(b.Low < a.Low && b.High > a.High) {
		t.Errorf("a design effect does not widen: %v, %v", a, b)
	}
}

// Ten bags with it, four of them culled for leaks on day 5 before anything was found: of the six left three turned on
// day 9. Counted bags alone say 3 of 6; of all bags 10 x (1 - 4/10) x 3/6 = 3 in 10 were found bad, which is what the
// incidence says of a single kind of end after another (Aalen and Johansen 1978), with Wilson's range above none for
// the clean side.
func TestEarly(t *testing.T) {
	t.Parallel()
	f := newFarm().batch(20, "S", upTo(1, 10), []int{5, 6, 7})
	for i := range 4 {
		f.bags[i].Gone, f.bags[i].LastSeen, f.bags[i].GoneAs = On(5), On(5), "leak"
	}
	r := rowOf(t, Compare(f.bags, []Column{f.hood}, DefaultMargin), "flow_hood", "off")
	if r.Early == nil || math.Abs(*r.Early.With.Estimate-0.3) > 1e-12 || *r.Early.Without.Estimate != 0 {
		t.Fatalf("got %+v", r.Early)
	}
	if w := Wilson(Counts{0, 10}); *r.Early.Without.High != w.High {
		t.Errorf("none of ten: up to %g, want %g", *r.Early.Without.High, w.High)
	}
	if *r.With.Rate != 0.5 || r.With.Bags != 6 {
		t.Errorf("the counts themselves stay: %+v", r.With)
	}
	if want := "4 bags left early, more than one in twenty: allowing for them, about 30 in 100 (95 % range 7 to 58) with it and about 0 in 100 (95 % range 0 to 28) without are found bad by their day."; !strings.Contains(r.Words, want) {
		t.Error(r.Words)
	}
	one := newFarm().batch(40, "S", upTo(1, 10), []int{5, 6, 7})
	one.bags[0].Gone, one.bags[0].LastSeen, one.bags[0].GoneAs = On(5), On(5), "leak"
	if r := rowOf(t, Compare(one.bags, []Column{one.hood}, DefaultMargin), "flow_hood", "off"); r.Early != nil {
		t.Errorf("one of forty is not many: %+v", r.Early)
	}
}

// Two conditions that met in one batch are not the same because one of them was not written down elsewhere.
func TestNotRecordedIsNotTheSame(t *testing.T) {
	t.Parallel()
	f := newFarm()
	for k := range 8 {
		lot := []string{"S-31", "S-30"}[k%2]
		f.batch(24, lot, nil, []int{1})
	}
	for i := range f.bags {
		f.shaken.Values[i] = Exposure{}
		if i < 24 {
			f.shaken.Values[i].Value = "no"
		} else if f.lot.Values[i].Value == "S-30" {
			f.shaken.Values[i].Value = "yes"
		}
	}
	r := rowOf(t, Compare(f.bags, f.columns(), DefaultMargin), "spawn_lot", "S-31")
	if len(r.ConfoundedWith) != 0 {
		t.Errorf("a lot on four batches and a flag known of one of them: %v", r.ConfoundedWith)
	}
}

// How many batches would tell grows with the likeness of their bags.
func TestNeedInBatches(t *testing.T) {
	t.Parallel()
	n := HowMany(Counts{6, 48}, Counts{1, 48}, DefaultMargin)
	alone, alike := n.inBatches(24, 0, 2, 2), n.inBatches(24, 0.2, 2, 2)
	if want := math.Ceil(n.Each / 24); alone.Each != want {
		t.Errorf("independent bags: %g batches, want %g", alone.Each, want)
	}
	if want := math.Ceil(n.Each * (1 + 23*0.2) / 24); alike.Each != want || alike.With != want-2 {
		t.Errorf("alike: %+v, want %g batches", alike, want)
	}
}
