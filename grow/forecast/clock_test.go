package forecast

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func drawClock(t *rapid.T) *Clock {
	return NewClock(1.0/24, rapid.SliceOfN(rapid.Float64Range(-0.5, 5), 0, 400).Draw(t, "paces"), rapid.Float64Range(-0.5, 5).Draw(t, "ahead"))
}

// A clock rises, is never slower or faster than its bounds, and its two ways undo each other.
func TestClockRisesAndTurnsBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c := drawClock(t)
		day := rapid.Float64Range(0, 60).Draw(t, "day")
		later := day + rapid.Float64Range(1e-3, 20).Draw(t, "later")
		a, b := c.At(day), c.At(later)
		if gone := b - a; gone < SlowestPace*(later-day)-1e-9 || gone > FastestPace*(later-day)+1e-9 {
			t.Fatalf("%v days went by as %v", later-day, gone)
		}
		if back := c.Day(a); math.Abs(back-day) > 1e-9*(1+day) {
			t.Fatalf("day %v came back as %v", day, back)
		}
		if there := c.At(c.Day(day)); math.Abs(there-day) > 1e-9*(1+day) {
			t.Fatalf("%v of the law's days came back as %v", day, there)
		}
	})
}

// Where every pace is the usual one there is no clock, and every answer is the same to the last bit.
func TestUsualPaceChangesNothing(t *testing.T) {
	t.Parallel()
	if c := NewClock(1.0/24, []float64{1, math.NaN(), 1}, 1); c != nil {
		t.Fatalf("usual paces made the clock %+v", c)
	}
	rapid.Check(t, func(t *rapid.T) {
		law, sisters := drawLaw(t), drawSpans(t)
		bag := Bag{Span: Running(rapid.Float64Range(0, 30).Draw(t, "left")), Today: rapid.Float64Range(0, 60).Draw(t, "today")}
		if rapid.Bool().Draw(t, "read") {
			bag.Reading = &Reading{rapid.Float64Range(0, 30).Draw(t, "day"), rapid.Float64Range(0, 1).Draw(t, "share")}
		}
		if d := cmp.Diff(law.Bag(bag, sisters), law.BagBy(nil, bag, sisters)); d != "" {
			t.Fatalf("(-Bag +BagBy):\n%s", d)
		}
	})
}

// A room that is steadily so much faster brings every day of the answer forward by just that: lognormal days
// scale.
func TestSteadyRoomScalesTheAnswer(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		law, pace := drawLaw(t), rapid.Float64Range(.1, 3).Draw(t, "pace")
		c := NewClock(1.0/24, []float64{pace, pace, pace}, pace)
		want := law.NewBag()
		got := law.BagBy(c, Bag{Span: Running(0)}, nil).Colonised
		for name, pair := range map[string][2]float64{"early": {got.Early, want.Early}, "likely": {got.Likely, want.Likely}, "late": {got.Late, want.Late}} {
			if math.Abs(pair[0]*pace/pair[1]-1) > 1e-9 {
				t.Fatalf("%s is day %v at pace %v, day %v without", name, pair[0], pace, pair[1])
			}
		}
	})
}

// A bag seen grown over keeps its day, whatever its room did; one is overdue from the day after OverdueAfter.
func TestClockLeavesWhatWasSeen(t *testing.T) {
	t.Parallel()
	law := FromRange(14, 28)
	rapid.Check(t, func(t *rapid.T) {
		c := drawClock(t)
		seen := float64(rapid.IntRange(1, 60).Draw(t, "seen"))
		if f := law.BagBy(c, Bag{Span: Span{seen - 1, seen}, Today: seen}, nil); !f.Known || f.Colonised.Likely != seen {
			t.Fatalf("seen on day %v: %+v", seen, f)
		}
		last := law.OverdueAfter(c)
		for day, want := range map[float64]bool{last: false, last + 1: true} {
			if f := law.BagBy(c, Bag{Span: Running(0), Today: day}, nil); f.Overdue != want {
				t.Fatalf("on day %v, overdue after %v: %t", day, last, f.Overdue)
			}
		}
	})
}
