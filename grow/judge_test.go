package grow_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
)

// book is one bag's log under test: made at noon on 1 March 2026 in Lisbon,
// heard of ten days later.
type book struct {
	t          testing.TB
	start      grow.Start
	log        []grow.Entry
	status     grow.Status
	conditions grow.Conditions
	zone       *time.Location
	made, now  time.Time
	seq        int64
}

func newBook(t testing.TB) *book {
	t.Helper()
	z := zone(t, "Europe/Lisbon")
	b := &book{t: t, conditions: startingSet(), zone: z, made: time.Date(2026, 3, 1, 12, 0, 0, 0, z), now: time.Date(2026, 3, 11, 12, 0, 0, 0, z)}
	b.status = grow.Replay(b.start, nil, b.conditions)
	return b
}

// day is noon so many days after making.
func (b *book) day(n float64) time.Time {
	return b.made.Add(time.Duration(n * 24 * float64(time.Hour)))
}

// try hands in an entry without keeping a refused one; a nil at means now.
func (b *book) try(d grow.Draft) (grow.Entry, error) {
	b.t.Helper()
	if d.ID == "" {
		d.ID = grow.ID(fmt.Sprintf("00000000-0000-4000-8000-%012d", b.seq+1))
	}
	if err := d.Validate(b.conditions); err != nil {
		b.t.Fatalf("the test's own draft %+v: %v", d, err)
	}
	h := grow.Hearing{Now: b.now, Zone: b.zone, InoculatedOn: grow.DateOf(b.made, b.zone), By: "Ana", Device: "phone", Seq: b.seq + 1}
	before := slices.Clone(b.log)
	e, status, log, err := grow.Judge(b.start, b.log, d, h, b.conditions)
	if err != nil {
		return e, err
	}
	for i := range before {
		if before[i].ID != b.log[i].ID {
			b.t.Fatalf("judging changed the order of the log it was given")
		}
	}
	b.seq++
	b.log, b.status = log, status
	return e, nil
}

// add hands in an entry that must be taken; its kind's needed fields are filled
// in, change sets others.
func (b *book) add(kind grow.EntryKind, day float64, change ...func(*grow.Draft)) grow.Entry {
	b.t.Helper()
	e, err := b.try(b.draft(kind, day, change...))
	if err != nil {
		b.t.Fatalf("%s on day %v: %v", kind, day, err)
	}
	return e
}

func (b *book) draft(kind grow.EntryKind, day float64, change ...func(*grow.Draft)) grow.Draft {
	at := b.day(day)
	d := grow.Draft{Kind: kind, At: &at, Details: needed(kind)}
	for _, c := range change {
		c(&d)
	}
	return d
}

// needed are the fields that a kind cannot do without.
func needed(kind grow.EntryKind) (d grow.Details) {
	switch kind {
	case grow.KindColonised:
		d.Pct = new(40.0)
	case grow.KindContaminated:
		d.What = "green_mould"
	case grow.KindSign:
		d.Sign = "tint"
	case grow.KindCondition:
		d.Key, d.Value = "flow_hood", grow.KnownValue("off")
	case grow.KindAgain:
		d.On = new(grow.DateOn(2026, 4, 1))
	case grow.KindMove:
		d.Place = "rack 1"
	case grow.KindHarvest:
		d.Grams = new(100.0)
	case grow.KindFinish:
		d.Why = "spent"
	case grow.KindPhoto:
		d.Photo = "a photo"
	case grow.KindNote:
		d.Text = "a note"
	}
	return d
}

func pct(v float64) func(*grow.Draft)   { return func(d *grow.Draft) { d.Pct = &v } }
func seen(how string) func(*grow.Draft) { return func(d *grow.Draft) { d.Seen = how } }
func of(e grow.Entry) func(*grow.Draft) { return func(d *grow.Draft) { d.Entry = e.ID } }
func id(v string) func(*grow.Draft)     { return func(d *grow.Draft) { d.ID = grow.ID(v) } }
func condition(key, value, basis string) func(*grow.Draft) {
	return func(d *grow.Draft) { d.Key, d.Value, d.Basis = key, grow.KnownValue(value), basis }
}

// fits tells of an entry of the log whether it fits.
func (b *book) fits(e grow.Entry) bool {
	b.t.Helper()
	i := slices.IndexFunc(b.log, func(x grow.Entry) bool { return x.ID == e.ID })
	if i < 0 {
		b.t.Fatalf("%s is not in the log", e.ID)
	}
	return b.log[i].Fits
}

// ways lead to each state.
var ways = map[grow.State]func(*book){
	grow.Unmarked:   func(b *book) {},
	grow.Colonising: func(b *book) { b.add(grow.KindMarked, 1) },
	grow.Colonised:  func(b *book) { b.add(grow.KindColonised, 1, pct(99)) },
	grow.Isolated:   func(b *book) { b.add(grow.KindIsolate, 1) },
	grow.Fruiting:   func(b *book) { b.add(grow.KindFruiting, 1) },
	grow.Finished:   func(b *book) { b.add(grow.KindFinish, 1) },
	grow.Culled:     func(b *book) { b.add(grow.KindCull, 1) },
}

var allKinds = []grow.EntryKind{grow.KindMarked, grow.KindLook, grow.KindColonised, grow.KindContaminated, grow.KindSign, grow.KindCondition, grow.KindWatch,
	grow.KindUnwatch, grow.KindAgain, grow.KindMove, grow.KindShake, grow.KindIsolate, grow.KindRelease, grow.KindCull, grow.KindFruiting, grow.KindHarvest,
	grow.KindFinish, grow.KindPhoto, grow.KindNote, grow.KindVoid}

// TestAllowedByState is every kind in every state. A bag that is out refuses
// eight kinds; bringing back needs a bag that is set apart; the rest is always
// taken, so that nothing seen is lost.
func TestAllowedByState(t *testing.T) {
	t.Parallel()
	closed := []grow.EntryKind{grow.KindHarvest, grow.KindFruiting, grow.KindIsolate, grow.KindRelease, grow.KindShake, grow.KindMove, grow.KindCull, grow.KindFinish}
	for _, state := range grow.States {
		for _, kind := range allKinds {
			t.Run(string(state)+" "+string(kind), func(t *testing.T) {
				t.Parallel()
				b := newBook(t)
				note := b.add(grow.KindNote, 0)
				ways[state](b)
				if b.status.State != state {
					t.Fatalf("the way to %s leads to %s", state, b.status.State)
				}
				d := b.draft(kind, 2)
				if kind == grow.KindVoid {
					d.Entry = note.ID
				}
				want := true
				if state == grow.Culled || state == grow.Finished {
					want = !slices.Contains(closed, kind)
				} else if kind == grow.KindRelease {
					want = state == grow.Isolated
				}
				e, err := b.try(d)
				if (err == nil) != want {
					t.Fatalf("taken: %t, want %t (%v)", err == nil, want, err)
				}
				if err == nil && !e.Fits {
					t.Error("a taken entry does not fit")
				}
				if err != nil && (grow.KindOf(err) != grow.Conflict || !strings.Contains(err.Error(), string(state))) {
					t.Errorf("refused with %q (%s); want a conflict that names the state %s", err, grow.KindOf(err), state)
				}
			})
		}
	}
}

// TestJudgedAtItsPlace: a late entry is judged by the state at its place in the
// order, not by today's.
func TestJudgedAtItsPlace(t *testing.T) {
	t.Parallel()
	b := newBook(t)
	b.add(grow.KindCull, 5)
	b.add(grow.KindMove, 4)
	if b.status.Place != "rack 1" || b.status.State != grow.Culled {
		t.Errorf("moved before it was culled: state %s at %q", b.status.State, b.status.Place)
	}
	if _, err := b.try(b.draft(grow.KindMove, 6)); grow.KindOf(err) != grow.Conflict {
		t.Errorf("moved after it was culled: %v", err)
	}
}

// TestLateEntryLeavesNoPlace: an accepted entry that no longer fits changes
// nothing and says so; it fits again when the late one is taken back.
func TestLateEntryLeavesNoPlace(t *testing.T) {
	t.Parallel()
	b := newBook(t)
	b.add(grow.KindMarked, 1)
	harvest := b.add(grow.KindHarvest, 6)
	cull := b.add(grow.KindCull, 4)
	if b.fits(harvest) || b.status.State != grow.Culled || b.status.Grams != 0 || b.status.Flush != 0 {
		t.Errorf("after a late cull: fits %t, state %s, %v g", b.fits(harvest), b.status.State, b.status.Grams)
	}
	if b.status.LastSeenAt == nil || !b.status.LastSeenAt.Equal(b.day(4)) {
		t.Errorf("last seen %v, want day 4: an entry that does not fit changes nothing", b.status.LastSeenAt)
	}
	b.add(grow.KindVoid, 7, of(cull))
	if !b.fits(harvest) || b.status.State != grow.Fruiting || b.status.Grams != 100 {
		t.Errorf("with the cull taken back: fits %t, state %s, %v g", b.fits(harvest), b.status.State, b.status.Grams)
	}
}

// TestEqualTimes: at equal times the order received decides.
func TestEqualTimes(t *testing.T) {
	t.Parallel()
	b := newBook(t)
	b.add(grow.KindMarked, 1)
	b.add(grow.KindColonised, 3, pct(100), id("ffffffff-0000-4000-8000-000000000000"))
	b.add(grow.KindColonised, 3, pct(60), id("00000000-0000-4000-8000-000000000000"))
	if b.status.State != grow.Colonising || *b.status.ColonisedPct != 60 {
		t.Errorf("state %s at %v %%, want the one received later", b.status.State, *b.status.ColonisedPct)
	}
	if b.log[1].ID[0] != 'f' {
		t.Error("the log is not in the order received")
	}
}

// TestTimes: what time an entry gets.
func TestTimes(t *testing.T) {
	t.Parallel()
	b := newBook(t)
	made := time.Date(2026, 3, 1, 0, 0, 0, 0, b.zone)
	tests := []struct {
		name       string
		at, sentAt *time.Time
		want       time.Time // zero: refused
		shifted    bool
	}{
		{"missing", nil, nil, b.now, false},
		{"missing, with a wrong clock", nil, new(b.now.Add(-time.Hour)), b.now, false},
		{"given", new(b.day(3)), nil, b.day(3), false},
		{"clock right", new(b.day(3)), new(b.now), b.day(3), false},
		{"clock off by two seconds", new(b.day(3)), new(b.now.Add(2 * time.Second)), b.day(3), false},
		{"clock slow by more", new(b.day(3)), new(b.now.Add(-2001 * time.Millisecond)), b.day(3).Add(2001 * time.Millisecond), true},
		{"clock an hour fast", new(b.day(3)), new(b.now.Add(time.Hour)), b.day(3).Add(-time.Hour), true},
		{"clock a year fast, seen a minute ago", new(b.now.AddDate(1, 0, 0).Add(-time.Minute)), new(b.now.AddDate(1, 0, 0)), b.now.Add(-time.Minute), true},
		{"five minutes ahead", new(b.now.Add(5 * time.Minute)), nil, b.now.Add(5 * time.Minute), false},
		{"a bit more ahead", new(b.now.Add(5*time.Minute + time.Microsecond)), nil, time.Time{}, false},
		{"ahead after the shift", new(b.now.Add(time.Minute)), new(b.now.Add(-time.Hour)), time.Time{}, false},
		{"first moment of the day it was made", &made, nil, made, false},
		{"the evening before", new(made.Add(-time.Microsecond)), nil, time.Time{}, false},
		{"before it was made, after the shift", new(made.Add(time.Minute)), new(b.now.Add(time.Hour)), time.Time{}, false},
		{"long before", new(time.Date(1, 1, 2, 0, 0, 0, 0, time.UTC)), nil, time.Time{}, false},
		{"a clock out of its mind", new(b.now), new(time.Date(2, 1, 1, 0, 0, 0, 0, time.UTC)), time.Time{}, false},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			b := newBook(t)
			e, err := b.try(grow.Draft{Kind: grow.KindShake, At: test.at, SentAt: test.sentAt})
			if test.want.IsZero() {
				if got := faulty(err); !slices.Equal(got, []string{"at"}) {
					t.Errorf("%v, %v; want at named", e.At, err)
				}
				return
			}
			if err != nil || !e.At.Equal(test.want) || !e.ReceivedAt.Equal(b.now) {
				t.Fatalf("at %v, received %v, %v; want %v", e.At, e.ReceivedAt, err, test.want)
			}
			if shifted := e.AtSent != nil; shifted != test.shifted || shifted && !e.AtSent.Equal(*test.at) {
				t.Errorf("the phone's own time kept: %v, want it only where it was wrong", e.AtSent)
			}
			if e.By != "Ana" || e.Device != "phone" {
				t.Errorf("by %q with %q", e.By, e.Device)
			}
		})
	}
}

// TestInoculationDayIsTheFarms: the limit is midnight in the farm's zone.
func TestInoculationDayIsTheFarms(t *testing.T) {
	t.Parallel()
	b := newBook(t)
	b.zone = zone(t, "Pacific/Auckland") // 13 hours ahead: made on 2 March there
	midnight := time.Date(2026, 3, 2, 0, 0, 0, 0, b.zone)
	if _, err := b.try(grow.Draft{Kind: grow.KindShake, At: new(midnight.Add(-time.Second))}); err == nil {
		t.Error("an entry of 1 March in Auckland is taken for a bag made on the 2nd")
	}
	if _, err := b.try(grow.Draft{Kind: grow.KindShake, At: &midnight}); err != nil {
		t.Error(err)
	}
}

func TestVoid(t *testing.T) {
	t.Parallel()
	t.Run("takes back", func(t *testing.T) {
		t.Parallel()
		b := newBook(t)
		b.add(grow.KindMarked, 1)
		bad := b.add(grow.KindContaminated, 2)
		v := b.add(grow.KindVoid, 3, of(bad))
		if b.status.Contaminated != nil || b.log[1].VoidedBy != v.ID {
			t.Errorf("contaminated %v, voided by %q", b.status.Contaminated, b.log[1].VoidedBy)
		}
		if !b.status.LastSeenAt.Equal(b.day(1)) {
			t.Errorf("last seen %v, want day 1: neither a void nor a voided entry counts", b.status.LastSeenAt)
		}
	})
	t.Run("with a time before the entry", func(t *testing.T) {
		t.Parallel()
		b := newBook(t)
		bad := b.add(grow.KindContaminated, 2)
		b.add(grow.KindVoid, 1, of(bad))
		if b.status.Contaminated != nil {
			t.Error("a void by a slow clock does not take back")
		}
	})
	refused := []struct {
		name  string
		kind  grow.ErrorKind
		words string // in the message or a field
		make  func(*book) grow.Draft
	}{
		{"a void", grow.Conflict, "taking back", func(b *book) grow.Draft {
			v := b.add(grow.KindVoid, 3, of(b.add(grow.KindNote, 2)))
			return b.draft(grow.KindVoid, 4, of(v))
		}},
		{"twice", grow.Conflict, "already", func(b *book) grow.Draft {
			note := b.add(grow.KindNote, 2)
			b.add(grow.KindVoid, 3, of(note))
			return b.draft(grow.KindVoid, 4, of(note))
		}},
		{"what is not there", grow.Invalid, "entry", func(b *book) grow.Draft {
			return b.draft(grow.KindVoid, 4, of(grow.Entry{ID: someID}))
		}},
		{"itself", grow.Invalid, "entry", func(b *book) grow.Draft {
			return b.draft(grow.KindVoid, 4, of(grow.Entry{ID: someID}), id(someID))
		}},
		{"what a later entry rests on", grow.Conflict, "00000000-0000-4000-8000-000000000002", func(b *book) grow.Draft {
			apart := b.add(grow.KindIsolate, 2)
			b.add(grow.KindRelease, 3)
			return b.draft(grow.KindVoid, 4, of(apart))
		}},
	}
	for _, test := range refused {
		t.Run("not "+test.name, func(t *testing.T) {
			t.Parallel()
			b := newBook(t)
			_, err := b.try(test.make(b))
			var e *grow.Error
			if !errors.As(err, &e) || e.Kind != test.kind || !strings.Contains(e.Error(), test.words) {
				t.Errorf("%v (%s), want %s with %q", err, grow.KindOf(err), test.kind, test.words)
			}
		})
	}
}

// TestVoidNamesTheLaterEntry in the words of a grower, in the farm's time.
func TestVoidNamesTheLaterEntry(t *testing.T) {
	t.Parallel()
	b := newBook(t)
	b.zone = zone(t, "America/New_York")
	apart := b.add(grow.KindIsolate, 2)
	b.add(grow.KindRelease, 3) // noon in Lisbon
	_, err := b.try(b.draft(grow.KindVoid, 4, of(apart)))
	if err == nil || !strings.Contains(err.Error(), "4 Mar 07:00") || !strings.Contains(err.Error(), "bringing it back") {
		t.Errorf("%v; want bringing it back of 4 Mar 07:00, New York time", err)
	}
}

// TestVoidFreesTheWay: what a voided entry stood in the way of is taken after.
func TestVoidFreesTheWay(t *testing.T) {
	t.Parallel()
	b := newBook(t)
	cull := b.add(grow.KindCull, 2)
	b.add(grow.KindVoid, 3, of(cull))
	if b.status.State != grow.Unmarked {
		t.Errorf("state %s, want unmarked: nobody else had it", b.status.State)
	}
	b.add(grow.KindMove, 3)
	if b.status.State != grow.Colonising {
		t.Errorf("state %s after a move", b.status.State)
	}
}
