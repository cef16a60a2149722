package trace

import (
	"math"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// A week counts once all its batches have reached their day, by the counting rule.
func TestByWeek(t *testing.T) {
	t.Parallel()
	day := func(d int) time.Time { return time.Date(2026, time.March, d, 15, 0, 0, 0, time.UTC) }
	old := Bag{Age: 30, Horizon: 20, LastSeen: On(25)}
	bad, unseen, young := old, old, old
	bad.Contaminated = On(9)
	unseen.LastSeen = On(10)
	young.Age = 12
	bags := []Bag{old, bad, unseen, old, young, old}
	made := []time.Time{day(9), day(15), day(10), day(2), day(17), day(18)}
	want := []Week{
		{time.Date(2026, time.March, 2, 0, 0, 0, 0, time.UTC), Counts{0, 1}},
		{time.Date(2026, time.March, 9, 0, 0, 0, 0, time.UTC), Counts{1, 2}},
	}
	fromSunday := []Week{ // the 15th is a Sunday: its week has young bags
		{time.Date(2026, time.March, 1, 0, 0, 0, 0, time.UTC), Counts{0, 1}},
		{time.Date(2026, time.March, 8, 0, 0, 0, 0, time.UTC), Counts{0, 1}},
	}
	if diff := cmp.Diff(fromSunday, ByWeek(bags, made, grow.Units{WeekStarts: grow.FromSunday})); diff != "" {
		t.Errorf("weeks from Sunday (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(want, ByWeek(bags, made, grow.Units{})); diff != "" {
		t.Error(diff)
	}
}

// Weeks in which fewer than three bad bags are expected are joined with the next.
func TestMerge(t *testing.T) {
	t.Parallel()
	var weeks []Week
	for _, n := range []float64{100, 10, 40, 50, 100, 5} {
		weeks = append(weeks, Week{Counts: Counts{1, n}})
	}
	var got []float64
	for _, p := range merge(weeks, 0.05) {
		got = append(got, p.Bags, float64(p.Weeks))
	}
	if diff := cmp.Diff([]float64{100, 1, 100, 3, 105, 2}, got); diff != "" {
		t.Error(diff)
	}
}

// An alarm speaks of the weeks since the sum was last nothing, and a better farm is told so too.
func TestAlarms(t *testing.T) {
	t.Parallel()
	start := time.Date(2026, time.January, 5, 0, 0, 0, 0, time.UTC)
	var weeks []Week
	for k := range 40 {
		w := Week{start.AddDate(0, 0, 7*k), Counts{float64(9 + 2*(k%2)), 100}}
		if k >= 32 {
			w.Bad = 1
		}
		weeks = append(weeks, w)
	}
	c, ok := ControlChart(weeks, 10)
	if !ok {
		t.Fatal("no chart")
	}
	i, ok := c.LastAlarm()
	if !ok || c.Points[i].Alarm != BetterAlarm {
		t.Fatalf("got %+v", c.Points[len(c.Points)-8:])
	}
	if got := c.Points[c.Since(i)].Start; !got.Equal(weeks[32].Start) {
		t.Errorf("since %s, want %s", got, weeks[32].Start)
	}
	for k := 1; k < len(c.Points); k++ {
		before := c.Points[k-1].Better
		if c.Points[k-1].Alarm == BetterAlarm {
			before = 0
		}
		if want := accumulated(before, -c.Points[k].Z/math.Sqrt(c.Spread)); c.Points[k].Better != want {
			t.Errorf("point %d: sum %g, want %g", k, c.Points[k].Better, want)
		}
	}
	if p := c.Points[c.Since(i)-1]; p.Alarm != NoAlarm || p.Out {
		t.Errorf("an ordinary week alarms: %+v", p)
	}
}
