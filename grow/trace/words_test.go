package trace

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

func TestRowWords(t *testing.T) {
	t.Parallel()
	late := newFarm().batch(24, "S", upTo(7, 11), []int{7, 8, 20})
	late.hood.Values[6].Late = true
	late.hood.Values[0] = Exposure{}
	late.bags[1].Gone, late.bags[1].LastSeen, late.bags[1].GoneAs = On(12), On(12), "leak"
	find := newFarm().batch(24, "S", upTo(7, 11), []int{7, 8, 20})
	find.bags[8].LastSeen = On(3)
	tests := []struct {
		name string
		farm *farm
		want string
	}{
		{"points to", newFarm().batch(24, "S", upTo(7, 11), []int{7, 8, 9, 10, 20}),
			"Points to flow hood off: 4 of 5 against 1 of 19 in the same batch (difference 75 in 100, 95 % range 28 to 92). A record, not a proof. Bags 7-11 were also made one after another: the order at the bench could be the reason as well."},
		{"cannot tell yet", newFarm().batch(24, "S", []int{7, 9, 11, 13, 15}, []int{7, 9, 20}),
			"Cannot tell yet: 2 of 5 against 1 of 19. The difference could be anything from 0 to 72 in 100. About 30 bags of each kind would tell: 25 more with flow hood off and 11 with flow hood on."},
		{"small difference", newFarm().batch(6000, "S", upTo(1, 3000), upTo(2950, 3010)),
			"A difference, but inside what you said does not matter (5 in 100). 51 of 3,000 against 10 of 3,000. Bags 1-3000 were also made one after another: the order at the bench could be the reason as well."},
		{"no difference that matters", newFarm().batch(640, "S", append(upTo(1, 318), 400, 402), []int{5, 6, 404, 405}),
			"No difference that matters: 2 of 320 against 2 of 320; any difference is under 5 in 100."},
		{"everybody had it", newFarm().batch(24, "S", upTo(1, 24), nil), "Nothing to compare: every bag had it."},
		{"one batch had it", newFarm().batch(24, "S", upTo(1, 24), []int{1}).batch(24, "S", nil, nil).batch(24, "S", nil, nil),
			"Cannot tell yet: 1 of 24 against 0 of 48. The difference could be anything from 73 fewer to 88 more in 100. Only one batch had it."},
		{"one batch each", newFarm().batch(24, "S", upTo(1, 24), []int{1}).batch(24, "S", nil, nil),
			"Cannot tell yet: 1 of 24 against 0 of 24. Only one batch had it."},
		{"less with it", newFarm().batch(24, "S", upTo(3, 24), []int{1, 2, 5}),
			"Points to flow hood off: less contamination with it, 1 of 22 against 2 of 2 in the same batch (difference 95 fewer in 100, 95 % range 27 to 99 fewer). A record, not a proof. Bags 3-24 were also made one after another: the order at the bench could be the reason as well."},
		{"not recorded, gone early, changed late", late,
			"Cannot tell yet: 2 of 5 against 1 of 17. The difference could be anything from 1 fewer to 71 more in 100. About 31 bags of each kind would tell: 26 more with flow hood off and 14 with flow hood on. Bags 7-11 were also made one after another: the order at the bench could be the reason as well. 1 bag left early. 1 bag: not recorded. 1 bag: changed after the find, so the earlier value counts."},
		{"a bag to find", find,
			"Cannot tell yet: 2 of 4 against 1 of 19. The difference could be anything from 5 to 80 in 100. About 22 bags of each kind would tell: 18 more with flow hood off and 3 with flow hood on. The range alone would point to a difference, but chance alone does as much too often; both must agree. Find no. 9 to answer this. 1 bag not counted yet."},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			r := rowOf(t, Compare(tt.farm.bags, []Column{tt.farm.hood}, DefaultMargin), "flow_hood", "off")
			if r.Words != tt.want {
				t.Errorf("\n got %s\nwant %s", r.Words, tt.want)
			}
		})
	}
}

func TestConfoundedWords(t *testing.T) {
	t.Parallel()
	f := thirds(upTo(1, 8), []int{1})
	got := rowOf(t, Compare(f.bags, f.columns(), DefaultMargin), "flow_hood", "off").Words
	want := "Points to flow hood off: 32 of 96 against 8 of 192 over 12 batches (difference 29 in 100, 95 % range 18 to 41). A record, not a proof. Flow hood off and spawn lot S-31 were on the same 96 bags. The records cannot tell them apart."
	if got != want {
		t.Errorf("\n got %s\nwant %s", got, want)
	}
}

// Where a batch cannot be counted yet it is named, and people are called by their names.
func TestBatchRowWords(t *testing.T) {
	t.Parallel()
	ages := func(young ...int) *farm {
		f := newFarm().batch(16, "KI-6", nil, []int{1, 2}).batch(16, "KI-5", nil, nil).batch(16, "KI-5", nil, nil)
		for range young {
			f.batch(16, "KI-6", nil, []int{3})
		}
		for i := range f.bags[48:] {
			f.bags[48+i].Age, f.bags[48+i].LastSeen = 12, On(12)
		}
		return f
	}
	people := newFarm()
	people.lot.Key, people.lot.Label = "operator", "operator"
	for k := range 6 {
		people.batch(16, "Joss", nil, upTo(1, 1+2*k)).batch(16, "Maren", nil, upTo(1, k))
	}
	apart := newFarm() // kings alike but for one batch, beside a species that swings from batch to batch
	for k := range 12 {
		apart.batch(16, []string{"KI-6", "KI-5"}[k/6], nil, upTo(1, 3*(1-k/6)))
	}
	for k := range 8 {
		apart.batch(16, "KI-5", nil, upTo(1, 16*(k/7)))
	}
	for i := range apart.bags[12*16:] {
		apart.bags[12*16+i].Species = "oyster"
	}
	tests := []struct {
		name  string
		farm  *farm
		value string
		want  string
	}{
		{"one batch", ages(), "KI-6", "Only one batch had it."},
		{"one batch counts, one is young", ages(1), "KI-6", "Only one batch with it counts; B48 is too young to count."},
		{"three are young", ages(1, 2, 3), "KI-6", "Only one batch with it counts; B48, B64 and B80 are too young to count."},
		{"five are young", ages(1, 2, 3, 4, 5), "KI-6", "Only one batch with it counts; B48, B64, B80 and 2 more are too young to count."},
		{"without it too", ages(1, 2), "KI-5", "Only one batch without it counts; B48 and B64 are too young to count."},
		{"people", people, "Joss", "About 8 more batches by Joss and 8 by Maren would tell, at 16 bags a batch."},
		{"chance seldom, the range wide", apart, "KI-6", "Chance alone would seldom set them so far apart, but batches differ so much from one another that no difference at all still lies within the range; both must agree."},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			r := rowOf(t, Compare(tt.farm.bags, []Column{tt.farm.lot}, DefaultMargin), tt.farm.lot.Key, tt.value)
			if !strings.Contains(r.Words, tt.want) {
				t.Errorf("p %g q %g\n got %s\nwant %s", *r.P, *r.Q, r.Words, tt.want)
			}
		})
	}
}

// No sentence claims more than a record can.
func TestWordsNeverClaim(t *testing.T) {
	t.Parallel()
	for _, f := range []*farm{
		thirds(upTo(1, 8), []int{1}), thirds([]int{1}, upTo(1, 8)), thirds(nil, nil),
		newFarm().batch(24, "S", upTo(7, 11), upTo(7, 11)), newFarm().batch(640, "S", upTo(1, 320), []int{5, 6, 400}),
	} {
		for _, r := range Compare(f.bags, f.columns(), DefaultMargin) {
			for _, word := range []string{"caused", "cause of", "proved", "safe", "NaN", "Inf"} {
				if strings.Contains(r.Words, word) {
					t.Errorf("%q in %s", word, r.Words)
				}
			}
			if r.Words == "" {
				t.Errorf("%s %s: no words", r.Key, r.Value)
			}
		}
	}
}

func TestNeedWords(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name          string
		with, without Counts
		want          string
	}{
		{"alike and few", Counts{0, 20}, Counts{0, 20}, "About 200 bags of each kind would show a difference under 5 in 100, which is a lot: 180 more with flow hood off and 180 with flow hood on."},
		{"bags enough", Counts{40, 100}, Counts{5, 100}, "For a difference of this size there are bags enough; it has to hold beside the other conditions looked at."},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if got := HowMany(tt.with, tt.without, DefaultMargin).words(DefaultMargin, [2]string{"with flow hood off", "with flow hood on"}); got != tt.want {
				t.Errorf("\n got %s\nwant %s", got, tt.want)
			}
		})
	}
}

func TestRateWords(t *testing.T) {
	t.Parallel()
	if got, want := RateWords(group([]Counts{{3, 24}}, 0)), "3 of 24 contaminated (95 % range 4 to 31 in 100)"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	run := Column{Key: "steriliser_run", Label: "steriliser run"}
	for value, want := range map[string]string{"run 33": "steriliser run 33", "33": "steriliser run 33", "runny": "steriliser run runny"} {
		if got := name(run, value); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	if got := RateWords(group(nil, 0)); got != "" {
		t.Errorf("of no bags: %q", got)
	}
}

func TestTurnWords(t *testing.T) {
	t.Parallel()
	b := Beta{4.29338946345229, 33.9148899673369} // the law of the reference check "at-risk"
	if got, want := b.Turn(14).words(2), "14 bags alive share it; about 2 more may turn (0 to 3, 8 in 10)."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, want := b.Turn(14).words(0), "14 bags alive share it. None so far; up to 3 may turn (8 in 10)."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestChartWords(t *testing.T) {
	t.Parallel()
	start := time.Date(2026, time.January, 5, 0, 0, 0, 0, time.UTC)
	var weeks []Week
	for k := range 34 {
		w := Week{start.AddDate(0, 0, 7*k), Counts{float64(3 + k%2), 100}}
		if k >= 30 {
			w.Bad = 12
		}
		weeks = append(weeks, w)
	}
	c, ok := ControlChart(weeks, 8)
	if !ok {
		t.Fatal("no chart")
	}
	if got, want := c.Words(), "More contamination than usual since the week of 3 August (48 of 400, 12 in 100 against 4)."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	past := append(slices.Clone(weeks), Week{start.AddDate(0, 0, 7*34), Counts{3, 100}})
	c2, _ := ControlChart(past, 9)
	if got, want := c2.Words(), "More contamination than usual from the week of 3 August to that of 24 August (48 of 400, 12 in 100 against 4). As usual since."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	last := c.Points[len(c.Points)-1]
	if want := accumulated(0, last.Z/math.Sqrt(c.Spread)); last.Alarm != WorseAlarm || last.Worse != want {
		t.Errorf("after an alarm the sum is %g, want %g", last.Worse, want)
	}
	quiet, _ := ControlChart(weeks[:30], 8)
	if got := quiet.Words(); got != "" {
		t.Errorf("a quiet chart says %q", got)
	}
	if _, ok := ControlChart(weeks[:12], 8); ok {
		t.Error("a chart from four base weeks")
	}
}
