package grow_test

import (
	"strings"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// outlookOn is a bag made on 1 March 2026 as it stands so many days later, at
// noon in Lisbon, after what do has logged.
func outlookOn(t *testing.T, day int, do func(*book)) grow.Outlook {
	b := newBook(t)
	b.now = b.day(float64(day))
	do(b)
	made := grow.DateOf(b.made, b.zone)
	return grow.Outlook{Status: b.status, Today: made + grow.Date(day), Zone: b.zone, InoculatedOn: made, FirstLookDay: 7}
}

// TestDue is one bag each, and the first reason that holds.
func TestDue(t *testing.T) {
	t.Parallel()
	made := grow.DateOn(2026, time.March, 1)
	on := func(day grow.Date) *grow.Date { d := made + day; return &d }
	again := func(day grow.Date) func(*grow.Draft) { return func(d *grow.Draft) { d.On = on(day) } }
	pins := func(d *grow.Draft) { d.Sign = "pins" }
	hold := func(until grow.Date) func(*grow.Draft) {
		return func(d *grow.Draft) { d.On, d.For, d.Because = on(until), "fruiting", "no room" }
	}
	tests := []struct {
		name  string
		day   int
		do    func(*book)
		set   func(*grow.Outlook)
		want  grow.Why // "" for nothing
		since grow.Date
	}{
		{"fresh, no label scanned", 0, func(b *book) {}, nil, grow.DueUnmarked, 0},
		{"marked today", 0, func(b *book) { b.add("marked", 0) }, nil, "", 0},
		{"labels come later", 3, func(b *book) {}, func(o *grow.Outlook) { o.LabelsLater = on(5) }, "", 0},
		{"labels have come", 5, func(b *book) {}, func(o *grow.Outlook) { o.LabelsLater = on(5) }, grow.DueUnmarked, 5},
		{"labels come later, late by its species", 40, func(b *book) {}, func(o *grow.Outlook) { o.LabelsLater, o.OverdueSince = on(50), on(30) }, grow.DueOverdue, 30},
		{"labels come later, maybe ready", 40, func(b *book) {}, func(o *grow.Outlook) { o.LabelsLater, o.ReadyFrom = on(50), on(20) }, grow.DueReady, 20},
		{"contaminated", 9, func(b *book) { b.add("contaminated", 6); b.add("again", 6, again(8)); b.add("watch", 7) }, nil, grow.DueRemove, 6},
		{"contaminated, set apart", 9, func(b *book) { b.add("contaminated", 6); b.add("isolate", 8) }, nil, "", 0},
		{"contaminated, set apart long ago", 19, func(b *book) { b.add("contaminated", 6); b.add("isolate", 8) }, nil, grow.DueCheck, 12},
		{"contaminated, out", 9, func(b *book) { b.add("contaminated", 6); b.add("cull", 8) }, nil, "", 0},
		{"its date has come", 8, func(b *book) { b.add("marked", 0); b.add("again", 5, again(8)); b.add("watch", 5) }, nil, grow.DueAgain, 8},
		{"its date is gone by", 9, func(b *book) { b.add("marked", 0); b.add("again", 5, again(8)) }, nil, grow.DueAgain, 8},
		{"its date is to come", 7, func(b *book) { b.add("look", 6); b.add("again", 6, again(8)) }, nil, "", 0},
		{"its date came and so did somebody", 9, func(b *book) { b.add("again", 5, again(8)); b.add("look", 8) }, nil, "", 0},
		{"somebody came before its date", 8, func(b *book) { b.add("again", 5, again(8)); b.add("look", 7) }, nil, grow.DueAgain, 8},
		{"watched, in the hand yesterday", 8, func(b *book) { b.add("look", 7); b.add("watch", 7) }, nil, grow.DueWatch, 8},
		{"watched, in the hand today", 8, func(b *book) { b.add("watch", 7); b.add("look", 7.9) }, nil, "", 0},
		{"watched, glanced at today", 8, func(b *book) { b.add("look", 5); b.add("watch", 5); b.add("look", 8, seen("glance")) }, nil, grow.DueWatch, 6},
		{"watched since today, last in the hand long ago", 8, func(b *book) { b.add("look", 2); b.add("watch", 8) }, nil, grow.DueWatch, 8},
		{"watched, no label", 8, func(b *book) { b.add("watch", 6) }, nil, grow.DueWatch, 6},
		{"late by its species", 9, func(b *book) { b.add("colonised", 8) }, func(o *grow.Outlook) { o.OverdueSince, o.ReadyFrom = on(9), on(5) }, grow.DueOverdue, 9},
		{"not late yet", 9, func(b *book) { b.add("colonised", 8) }, func(o *grow.Outlook) { o.OverdueSince = on(10) }, "", 0},
		{"grown over is not late", 9, func(b *book) { b.add("colonised", 8, pct(100)) }, func(o *grow.Outlook) { o.OverdueSince = on(9) }, "", 0},
		{"ready", 12, func(b *book) { b.add("colonised", 11, pct(100)) }, func(o *grow.Outlook) { o.ReadyFrom = on(10) }, grow.DueReady, 10},
		{"ready today", 12, func(b *book) { b.add("colonised", 11, pct(100)) }, func(o *grow.Outlook) { o.ReadyFrom = on(12) }, grow.DueReady, 12},
		{"ready tomorrow", 12, func(b *book) { b.add("colonised", 11, pct(100)) }, func(o *grow.Outlook) { o.ReadyFrom = on(13) }, "", 0},
		{"pins", 9, func(b *book) { b.add("sign", 8, pins) }, func(o *grow.Outlook) { o.ReadyFrom = on(13) }, grow.DueReady, 8},
		{"pins in fruiting", 9, func(b *book) { b.add("fruiting", 7); b.add("sign", 8, pins) }, nil, "", 0},
		{"ready, on hold", 12, func(b *book) { b.add("colonised", 6, pct(100)); b.add("again", 7, hold(13)) }, func(o *grow.Outlook) { o.ReadyFrom = on(5) }, "", 0},
		{"ready, its hold is over", 13, func(b *book) { b.add("colonised", 6, pct(100)); b.add("again", 7, hold(13)) }, func(o *grow.Outlook) { o.ReadyFrom = on(5) }, grow.DueAgain, 13},
		{"pins seen before it was put on hold", 9, func(b *book) { b.add("sign", 7, pins); b.add("again", 8, hold(13)) }, nil, "", 0},
		{"pins seen on hold", 9, func(b *book) { b.add("again", 7, hold(13)); b.add("sign", 8, pins) }, nil, grow.DueReady, 8},
		{"mouldy on hold", 9, func(b *book) { b.add("again", 7, hold(13)); b.add("contaminated", 8) }, nil, grow.DueRemove, 8},
		{"on hold, then moved after all", 13, func(b *book) { b.add("again", 7, hold(13)); b.add("fruiting", 12) }, nil, "", 0},
		{"a date to look again holds nothing", 12, func(b *book) { b.add("colonised", 11, pct(100)); b.add("again", 11, again(20)) }, func(o *grow.Outlook) { o.ReadyFrom = on(10) }, grow.DueReady, 10},
		{"first look", 7, func(b *book) { b.add("marked", 0) }, nil, grow.DueFirstLook, 7},
		{"first look, glanced at", 9, func(b *book) { b.add("marked", 0); b.add("look", 8, seen("glance")) }, nil, grow.DueFirstLook, 7},
		{"before the first look", 6, func(b *book) { b.add("marked", 5) }, nil, "", 0},
		{"before the first look, marked long ago", 6, func(b *book) { b.add("marked", 0) }, nil, grow.DueCheck, 4},
		{"first look done", 9, func(b *book) { b.add("marked", 0); b.add("look", 8) }, nil, "", 0},
		{"first look of a farm that looks later", 9, func(b *book) { b.add("marked", 8) }, func(o *grow.Outlook) { o.FirstLookDay = 10 }, "", 0},
		{"not seen for three days", 9, func(b *book) { b.add("look", 6) }, nil, "", 0},
		{"not seen for four days", 10, func(b *book) { b.add("look", 6) }, nil, grow.DueCheck, 10},
		{"in fruiting, not seen", 20, func(b *book) { b.add("fruiting", 6) }, nil, grow.DueCheck, 10},
		{"finished", 60, func(b *book) { b.add("finish", 6); b.add("watch", 7); b.add("again", 7, again(8)) }, nil, "", 0},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			o := outlookOn(t, test.day, test.do)
			if test.set != nil {
				test.set(&o)
			}
			why, since, ok := o.Due()
			if why != test.want || ok != (test.want != "") {
				t.Fatalf("due for %q (%t), want %q", why, ok, test.want)
			}
			if ok && since != made+test.since {
				t.Errorf("since %s, want %s", since, made+test.since)
			}
			if words := o.Words(why, since); ok && !strings.HasSuffix(words, ".") && !strings.HasSuffix(words, "?") {
				t.Errorf("in words %q", words)
			}
		})
	}
}

// TestDueWords: what a page says of some bags due.
func TestDueWords(t *testing.T) {
	t.Parallel()
	o := outlookOn(t, 12, func(b *book) { b.add("colonised", 11, pct(100)) })
	o.ReadyFrom = new(o.InoculatedOn + 6)
	why, since, _ := o.Due()
	if got, want := o.Words(why, since), "Ready for 6 days: move it."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	o = outlookOn(t, 12, func(b *book) { b.add("look", 7) })
	why, since, _ = o.Due()
	if got, want := o.Words(why, since), "Not seen for 5 days."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	o = outlookOn(t, 12, func(b *book) {
		b.add("again", 7, func(d *grow.Draft) {
			d.On, d.For, d.Because = new(grow.DateOf(b.made, b.zone)+12), "fruiting", "no room"
		})
	})
	why, since, _ = o.Due()
	if got, want := o.Words(why, since), "You said: to fruiting on Fri 13 Mar (no room)."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// TestWhysInOrder: the order in which the reasons are looked at, which decides.
func TestWhysInOrder(t *testing.T) {
	t.Parallel()
	want := []grow.Why{"remove", "again", "watch", "unmarked", "overdue", "ready", "first_look", "check"}
	if diff := cmp.Diff(want, grow.Whys); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}
