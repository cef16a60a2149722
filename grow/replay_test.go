package grow_test

import (
	"fmt"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// TestStates follows bags through their lives.
func TestStates(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name string
		do   func(*book)
		want grow.State
	}{
		{"a glance marks nothing", func(b *book) { b.add(grow.KindLook, 1, seen("glance")) }, grow.Unmarked},
		{"words mark nothing", func(b *book) {
			for _, k := range []grow.EntryKind{grow.KindCondition, grow.KindNote, grow.KindWatch, grow.KindUnwatch, grow.KindAgain} {
				b.add(k, 1)
			}
		}, grow.Unmarked},
		{"a look in the hand", func(b *book) { b.add(grow.KindLook, 1) }, grow.Colonising},
		{"98.9 per cent", func(b *book) { b.add(grow.KindColonised, 1, pct(98.9)) }, grow.Colonising},
		{"99 per cent", func(b *book) { b.add(grow.KindColonised, 1, pct(99)) }, grow.Colonised},
		{"the latest counts", func(b *book) { b.add(grow.KindColonised, 5, pct(100)); b.add(grow.KindColonised, 6, pct(90)) }, grow.Colonising},
		{"the latest seen, not the latest heard of", func(b *book) { b.add(grow.KindColonised, 5, pct(100)); b.add(grow.KindColonised, 4, pct(60)) }, grow.Colonised},
		{"not fully after all", func(b *book) {
			b.add(grow.KindColonised, 5, pct(100))
			b.add(grow.KindColonised, 6, func(d *grow.Draft) { d.Pct, d.Full = nil, new(false) })
		}, grow.Colonising},
		{"contamination leaves the state", func(b *book) { b.add(grow.KindContaminated, 2) }, grow.Colonising},
		{"set apart", func(b *book) { b.add(grow.KindColonised, 1, pct(100)); b.add(grow.KindIsolate, 2) }, grow.Isolated},
		{"set apart and seen to grow", func(b *book) { b.add(grow.KindIsolate, 2); b.add(grow.KindColonised, 3, pct(100)) }, grow.Isolated},
		{"brought back to what was", func(b *book) {
			b.add(grow.KindColonised, 1, pct(100))
			b.add(grow.KindIsolate, 2)
			b.add(grow.KindRelease, 3)
		}, grow.Colonised},
		{"brought back to what became of it", func(b *book) {
			b.add(grow.KindIsolate, 2)
			b.add(grow.KindColonised, 3, pct(100))
			b.add(grow.KindRelease, 4)
		}, grow.Colonised},
		{"brought back to fruiting", func(b *book) { b.add(grow.KindFruiting, 1); b.add(grow.KindIsolate, 2); b.add(grow.KindRelease, 3) }, grow.Fruiting},
		{"set apart before anybody else had it", func(b *book) { b.add(grow.KindIsolate, 2); b.add(grow.KindRelease, 3) }, grow.Colonising},
		{"to fruiting", func(b *book) { b.add(grow.KindFruiting, 2) }, grow.Fruiting},
		{"to fruiting from apart", func(b *book) { b.add(grow.KindIsolate, 1); b.add(grow.KindFruiting, 2) }, grow.Fruiting},
		{"picked where it stood", func(b *book) { b.add(grow.KindHarvest, 2) }, grow.Fruiting},
		{"in fruiting, growth changes nothing", func(b *book) { b.add(grow.KindFruiting, 2); b.add(grow.KindColonised, 3, pct(50)) }, grow.Fruiting},
		{"culled", func(b *book) { b.add(grow.KindFruiting, 2); b.add(grow.KindCull, 3) }, grow.Culled},
		{"finished", func(b *book) { b.add(grow.KindHarvest, 2); b.add(grow.KindFinish, 3) }, grow.Finished},
		{"seen when out", func(b *book) { b.add(grow.KindCull, 2); b.add(grow.KindColonised, 3, pct(100)) }, grow.Culled},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			b := newBook(t)
			test.do(b)
			if b.status.State != test.want {
				t.Errorf("state %s, want %s", b.status.State, test.want)
			}
		})
	}
}

// TestWhoHadIt: the first that had the bag sets when it was marked, each sets
// when it was last seen, a glance that alone.
func TestWhoHadIt(t *testing.T) {
	t.Parallel()
	b := newBook(t)
	b.add(grow.KindLook, 1, seen("glance"))
	check := func(when string, marked, last float64) {
		t.Helper()
		at := func(day float64) *time.Time {
			if day < 0 {
				return nil
			}
			v := b.day(day)
			return &v
		}
		if diff := cmp.Diff([]*time.Time{at(marked), at(last)}, []*time.Time{b.status.MarkedAt, b.status.LastSeenAt}); diff != "" {
			t.Errorf("%s: marked and last seen (-want +got):\n%s", when, diff)
		}
	}
	check("a glance", -1, 1)
	b.add(grow.KindSign, 3)
	check("a sign", 3, 3)
	b.add(grow.KindNote, 4)
	check("a note", 3, 3)
	b.add(grow.KindMarked, 5)
	check("its label scanned after that", 3, 5)
	first := b.add(grow.KindShake, 2)
	check("shaken before, heard of late", 2, 5)
	b.add(grow.KindVoid, 6, of(first))
	check("which was a mistake", 3, 5)
}

func TestContamination(t *testing.T) {
	t.Parallel()
	b := newBook(t)
	what := func(what, where string) func(*grow.Draft) {
		return func(d *grow.Draft) { d.What, d.Where = what, where }
	}
	first := b.add(grow.KindContaminated, 5, what("unsure", "top"))
	b.add(grow.KindContaminated, 7, what("green_mould", ""))
	want := grow.Contamination{What: "green_mould", Where: new("top"), At: b.day(5), ReceivedAt: b.now}
	if diff := cmp.Diff(&want, b.status.Contaminated); diff != "" {
		t.Errorf("the first time, the latest word (-want +got):\n%s", diff)
	}
	b.add(grow.KindContaminated, 4, what("cobweb", "seal"))
	if c := b.status.Contaminated; !c.At.Equal(b.day(4)) || c.What != "green_mould" || *c.Where != "top" {
		t.Errorf("with an earlier one heard of late: %+v %s", c, *c.Where)
	}
	b.add(grow.KindVoid, 8, of(first))
	if c := b.status.Contaminated; *c.Where != "seal" {
		t.Errorf("with the one at the top taken back: where %s, want seal", *c.Where)
	}
}

// TestWatch: a bag contaminated and neither set apart nor out is watched
// without being told.
func TestWatch(t *testing.T) {
	t.Parallel()
	b := newBook(t)
	because := func(v string) func(*grow.Draft) { return func(d *grow.Draft) { d.Because = v } }
	steps := []struct {
		name string
		do   func()
		want string // "" for none
	}{
		{"nothing", func() {}, ""},
		{"told", func() { b.add(grow.KindWatch, 1, because("sister")) }, "sister"},
		{"told again", func() { b.add(grow.KindWatch, 2, because("two sisters")) }, "two sisters"},
		{"told no more", func() { b.add(grow.KindUnwatch, 3) }, ""},
		{"contaminated", func() { b.add(grow.KindContaminated, 4) }, "contaminated"},
		{"contaminated, told not to", func() { b.add(grow.KindUnwatch, 5) }, "contaminated"},
		{"set apart", func() { b.add(grow.KindIsolate, 6) }, ""},
		{"brought back", func() { b.add(grow.KindRelease, 7) }, "contaminated"},
		{"out", func() { b.add(grow.KindCull, 8) }, ""},
	}
	for _, s := range steps {
		s.do()
		got := ""
		if b.status.Watch != nil {
			got = b.status.Watch.Because
		}
		if got != s.want {
			t.Errorf("%s: watched because %q, want %q", s.name, got, s.want)
		}
	}
}

// TestFlushes: without a number a harvest is the next flush.
func TestFlushes(t *testing.T) {
	t.Parallel()
	b := newBook(t)
	flush := func(n int) func(*grow.Draft) { return func(d *grow.Draft) { d.Flush = &n } }
	b.add(grow.KindHarvest, 1)
	b.add(grow.KindHarvest, 2, flush(1))
	if b.status.Flush != 1 || b.status.Grams != 200 {
		t.Errorf("two pickings of one flush: flush %d, %v g", b.status.Flush, b.status.Grams)
	}
	b.add(grow.KindHarvest, 5)
	b.add(grow.KindHarvest, 9, flush(4))
	last := b.add(grow.KindHarvest, 9.5)
	if b.status.Flush != 5 || b.status.Grams != 500 {
		t.Errorf("flush %d, %v g; want 5 and 500", b.status.Flush, b.status.Grams)
	}
	b.add(grow.KindVoid, 10, of(last))
	if b.status.Flush != 4 || b.status.Grams != 400 {
		t.Errorf("with the last taken back: flush %d, %v g; want 4 and 400", b.status.Flush, b.status.Grams)
	}
}

// TestNeedsLabel: something that is printed was received after the label was
// last seen on the bag.
func TestNeedsLabel(t *testing.T) {
	t.Parallel()
	hoodOff := func(b *book, day float64) grow.Entry {
		b.now = b.now.Add(time.Minute)
		return b.add(grow.KindCondition, day)
	}
	marked := func(b *book, day float64) {
		b.now = b.now.Add(time.Minute)
		b.add(grow.KindMarked, day)
	}
	void := func(b *book, e grow.Entry) {
		b.now = b.now.Add(time.Minute)
		b.add(grow.KindVoid, 9, of(e))
	}
	tests := []struct {
		name string
		do   func(*book)
		want bool
	}{
		{"nothing known", func(b *book) {}, false},
		{"no label yet", func(b *book) { hoodOff(b, 1) }, false},
		{"set before the label", func(b *book) { hoodOff(b, 1); marked(b, 1) }, false},
		{"set after the label", func(b *book) { marked(b, 1); hoodOff(b, 2) }, true},
		{"and a new label", func(b *book) { marked(b, 1); hoodOff(b, 2); marked(b, 3) }, false},
		{"heard of after the label, seen before", func(b *book) { marked(b, 2); hoodOff(b, 1) }, true},
		{"label heard of after, scanned before", func(b *book) { hoodOff(b, 2); marked(b, 1) }, false},
		{"taken back", func(b *book) { marked(b, 1); void(b, hoodOff(b, 2)) }, false},
		{"taken back after it was printed", func(b *book) {
			e := hoodOff(b, 1)
			marked(b, 1)
			void(b, e)
		}, true},
		{"taken back after it was printed, and a new label", func(b *book) {
			e := hoodOff(b, 1)
			marked(b, 1)
			void(b, e)
			marked(b, 3)
		}, false},
		{"what prints nothing", func(b *book) {
			marked(b, 1)
			b.now = b.now.Add(1)
			b.add(grow.KindCondition, 2, condition("gloves", "yes", ""))
		}, false},
		{"unknown where nothing was printed", func(b *book) {
			marked(b, 1)
			b.now = b.now.Add(1)
			b.add(grow.KindCondition, 2, condition("gloves", "", ""))
		}, false},
		{"back to normal", func(b *book) {
			hoodOff(b, 1)
			marked(b, 1)
			b.now = b.now.Add(1)
			b.add(grow.KindCondition, 2, condition("flow_hood", "on", ""))
		}, true},
		{"made with it, set to normal", func(b *book) {
			b.start.Given = map[string]string{"flow_hood": "off"}
			marked(b, 1)
			b.now = b.now.Add(1)
			b.add(grow.KindCondition, 2, condition("flow_hood", "on", ""))
		}, true},
		{"a batch change before the label", func(b *book) { b.start.LabelChangedAt = new(b.now); marked(b, 1) }, false},
		{"a batch change after the label", func(b *book) {
			marked(b, 1)
			b.start.LabelChangedAt = new(b.now.Add(time.Hour))
			b.add(grow.KindNote, 3)
		}, true},
		{"first had without a scan", func(b *book) { b.add(grow.KindLook, 1); hoodOff(b, 2) }, true},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			b := newBook(t)
			test.do(b)
			if b.status.NeedsLabel != test.want {
				t.Errorf("needs a label: %t, want %t", b.status.NeedsLabel, test.want)
			}
		})
	}
}

// TestConditionsSet: the latest word on a condition by the time it was seen;
// what stood when the bag was found contaminated is kept apart.
func TestConditionsSet(t *testing.T) {
	t.Parallel()
	b := newBook(t)
	b.add(grow.KindCondition, 2, condition("flow_hood", "off", "remembered"))
	b.add(grow.KindCondition, 1, condition("flow_hood", "on", ""))
	b.add(grow.KindCondition, 2, condition("gloves", "unknown", "guess"))
	set := b.status.Set["flow_hood"]
	if *set.Value != "off" || set.Basis != "remembered" || !set.At.Equal(b.day(2)) {
		t.Errorf("flow hood is %+v, want off, remembered, of day 2", set)
	}
	if g := b.status.Set["gloves"]; g.Value != nil || g.Basis != "guess" {
		t.Errorf("gloves are %+v, want unknown, a guess", g)
	}
	b.add(grow.KindContaminated, 5)
	b.add(grow.KindCondition, 6, condition("flow_hood", "none", ""))
	b.add(grow.KindCondition, 4, condition("shaken", "no", ""))
	if v := *b.status.Set["flow_hood"].Value; v != "none" {
		t.Errorf("flow hood now %s, want none", v)
	}
	if v := *b.status.SetBefore["flow_hood"].Value; v != "off" {
		t.Errorf("flow hood when found contaminated %s, want off", v)
	}
	if v, ok := b.status.SetBefore["shaken"]; !ok || *v.Value != "no" {
		t.Error("what was so before the find but heard of after it does not count as before")
	}
}

// TestDaysSeen: what the forecast rests on.
func TestDaysSeen(t *testing.T) {
	t.Parallel()
	b := newBook(t)
	b.add(grow.KindColonised, 3, pct(20))
	b.add(grow.KindColonised, 7, pct(99))
	b.add(grow.KindColonised, 8, pct(100))
	if !b.status.NotYetAt.Equal(b.day(3)) || !b.status.GrownOverAt.Equal(b.day(7)) {
		t.Errorf("not yet on %v, grown over on %v; want days 3 and 7", b.status.NotYetAt, b.status.GrownOverAt)
	}
	b.add(grow.KindLook, 9)
	if !b.status.NotYetAt.Equal(b.day(3)) {
		t.Error("a plain look moves the day on which it was not yet grown over")
	}
	b.add(grow.KindColonised, 9.5, pct(95))
	if b.status.GrownOverAt != nil || !b.status.NotYetAt.Equal(b.day(9.5)) {
		t.Error("a lower estimate does not take grown over back")
	}
	for day, sign := range map[float64]string{4: "started", 5: "started", 8: "pins", 8.5: "pins"} {
		b.add(grow.KindSign, day, func(d *grow.Draft) { d.Sign = sign })
	}
	if !b.status.StartedAt.Equal(b.day(4)) || !b.status.PinsAt.Equal(b.day(8)) {
		t.Errorf("started %v, pins %v; want the first of each", b.status.StartedAt, b.status.PinsAt)
	}
}

// TestReplayNeverFails feeds logs that no farm would have kept.
func TestReplayNeverFails(t *testing.T) {
	t.Parallel()
	at := moment(t, "2026-03-01T12:00:00Z")
	var log []grow.Entry
	for i, kind := range allKinds {
		for _, d := range []grow.Details{needed(kind), needed(kind)} {
			log = append(log, grow.Entry{ID: grow.ID(fmt.Sprint(i, len(log))), Kind: kind, At: at, Seq: int64(len(log)), Details: d})
		}
	}
	s := grow.Replay(grow.Start{}, log, startingSet())
	if s.State != grow.Culled {
		t.Errorf("state %s, want culled: the first way out counts", s.State)
	}
	grow.Replay(grow.Start{}, log, nil) // a farm that has dropped all its conditions
}
