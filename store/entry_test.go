package store

import (
	gocmp "cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

func TestAddEntry(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(2))
	f.days(3)
	seen := f.clock.now().Add(-26 * time.Hour).In(time.FixedZone("", -5*3600))
	d := grow.Draft{ID: grow.ID(strings.ToUpper(string(f.id()))), Bag: grow.Code(strings.ToLower(bags[0].Code.Spaced())), Kind: grow.KindColonised, At: &seen, Details: grow.Details{Pct: new(40.0)}}
	e, b, created, err := f.AddEntry(t.Context(), f.by, d)
	if err != nil || !created {
		t.Fatal(created, err)
	}
	want := grow.Entry{ID: grow.ID(strings.ToLower(string(d.ID))), Bag: bags[0].Code, Kind: grow.KindColonised, At: seen, ReceivedAt: f.clock.now(), By: "Ana Invented", Device: "bench phone",
		Details: grow.Details{Pct: new(40.0)}, Seq: 1, Fits: true}
	if diff := cmp.Diff(want, e); diff != "" {
		t.Errorf("entry (-want +got):\n%s", diff)
	}
	if b.State != grow.Colonising || *b.ColonisedPct != 40 || !b.MarkedAt.Equal(seen) || b.Day != 3 || len(b.Entries) != 1 {
		t.Errorf("bag %+v", b)
	}
	if diff := cmp.Diff(b, f.bag(bags[0].Code), cmpopts.EquateEmpty(), cmpopts.IgnoreUnexported(Batch{}, DueItem{})); diff != "" {
		t.Errorf("the bag answered and the bag kept (-answered +kept):\n%s", diff)
	}
	f.add(bags[0].Code, grow.KindNote, grow.Details{Text: "later"})
	f.add(bags[0].Code, grow.KindLook)
	kinds := []grow.EntryKind{}
	for _, e := range f.bag(bags[0].Code).Entries {
		kinds = append(kinds, e.Kind)
	}
	if diff := cmp.Diff([]grow.EntryKind{"look", "note", "colonised"}, kinds); diff != "" {
		t.Errorf("newest first (-want +got):\n%s", diff)
	}
	f.sound()
}

// TestSameEntryAgain: one id space over all bags; the same body is the same
// entry, and the bag is answered as it now stands.
func TestSameEntryAgain(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(2))
	f.days(1)
	at := f.clock.now()
	d := grow.Draft{ID: f.id(), Bag: bags[0].Code, Kind: grow.KindIsolate, At: &at, SentAt: &at}
	first, _, _, err := f.AddEntry(t.Context(), f.by, d)
	if err != nil {
		t.Fatal(err)
	}
	f.clock.move(time.Hour)
	f.add(bags[0].Code, grow.KindRelease)
	before := f.everything()
	again := d
	again.ID, again.At, again.SentAt = grow.ID(strings.ToUpper(string(d.ID))), new(at.In(time.FixedZone("", 3600))), new(f.clock.now())
	e, b, created, err := f.AddEntry(t.Context(), Actor{Person: "somebody else", Device: "another"}, again)
	if err != nil || created || b.State != grow.Colonising {
		t.Errorf("again: created %t, bag %s, %v; want the bag as it now stands", created, b.State, err)
	}
	if diff := cmp.Diff(first, e); diff != "" {
		t.Errorf("entry (-first +again):\n%s", diff)
	}
	for name, other := range map[string]grow.Draft{
		"another bag":  {ID: d.ID, Bag: bags[1].Code, Kind: d.Kind, At: d.At},
		"another kind": {ID: d.ID, Bag: d.Bag, Kind: grow.KindShake, At: d.At},
		"another time": {ID: d.ID, Bag: d.Bag, Kind: d.Kind, At: new(at.Add(time.Second))},
		"no time":      {ID: d.ID, Bag: d.Bag, Kind: d.Kind},
	} {
		if _, _, _, err := f.AddEntry(t.Context(), f.by, other); err == nil || grow.KindOf(err) != grow.Conflict {
			t.Errorf("%s under the same id: %v, want a conflict", name, err)
		}
		results, err := f.AddEntries(t.Context(), f.by, []grow.Draft{other})
		if err != nil || grow.KindOf(results[0].Err) != grow.Conflict {
			t.Errorf("%s under the same id, in bulk: %+v, %v", name, results, err)
		}
	}
	if diff := cmp.Diff(before, f.everything()); diff != "" {
		t.Errorf("something was kept (-before +after):\n%s", diff)
	}
}

// TestNoTimeAgain: a missing time equals a missing time, whenever it comes.
func TestNoTimeAgain(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(1))
	d := grow.Draft{ID: f.id(), Bag: bags[0].Code, Kind: grow.KindLook}
	first, _, _, err := f.AddEntry(t.Context(), f.by, d)
	if err != nil {
		t.Fatal(err)
	}
	f.days(2)
	if e, _, created, err := f.AddEntry(t.Context(), f.by, d); err != nil || created || !e.At.Equal(first.At) {
		t.Errorf("again two days later: created %t, at %s, %v", created, e.At, err)
	}
}

func TestAddEntryRefuses(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(2))
	place, _, err := f.CreatePlace(t.Context(), f.by, "room 1")
	if err != nil {
		t.Fatal(err)
	}
	other := f.add(bags[1].Code, grow.KindLook).Entries[0].ID
	f.add(bags[1].Code, grow.KindCull)
	d := func(bag grow.Code, kind grow.EntryKind, details grow.Details) grow.Draft {
		return grow.Draft{ID: f.id(), Bag: bag, Kind: kind, Details: details}
	}
	ahead := d(bags[0].Code, grow.KindLook, grow.Details{})
	ahead.At = new(f.clock.now().Add(time.Hour))
	wrong := []byte(bags[0].Code)
	wrong[2] = otherSymbol(wrong[2])
	tests := []struct {
		name  string
		draft grow.Draft
		kind  grow.ErrorKind
		words string
	}{
		{"a wrong check character", d(grow.Code(wrong), grow.KindLook, grow.Details{}), grow.Invalid, "check character"},
		{"no code", d("", grow.KindLook, grow.Details{}), grow.Invalid, "bag"},
		{"a code nobody made", d("00000001", grow.KindLook, grow.Details{}), grow.NotFound, "no label"},
		{"a place's code", d(place.Code, grow.KindLook, grow.Details{}), grow.NotFound, "place"},
		{"a field missing", d(bags[0].Code, grow.KindHarvest, grow.Details{}), grow.Invalid, "grams"},
		{"ahead of the clock", ahead, grow.Invalid, "at"},
		{"out", d(bags[1].Code, grow.KindMove, grow.Details{Place: "brand new room"}), grow.Conflict, "culled"},
		{"another bag's entry", d(bags[0].Code, grow.KindVoid, grow.Details{Entry: other}), grow.Invalid, "entry"},
		{"a place that is a bag", d(bags[0].Code, grow.KindMove, grow.Details{Place: string(bags[1].Code)}), grow.Invalid, "place"},
		{"a photo nobody sent", d(bags[0].Code, grow.KindPhoto, grow.Details{Photo: "nothing"}), grow.Invalid, "photo"},
		{"because of a place", d(bags[0].Code, grow.KindWatch, grow.Details{Of: place.Code}), grow.Invalid, "of"},
	}
	if check, ok := grow.CheckCharacter("0000000"); ok {
		tests[2].draft.Bag = grow.Code("0000000" + string(check))
	}
	before := f.everything()
	for _, test := range tests {
		_, _, created, err := f.AddEntry(t.Context(), f.by, test.draft)
		if err == nil || created || grow.KindOf(err) != test.kind || !strings.Contains(err.Error(), test.words) {
			t.Errorf("%s: %v (%s), want %s with %q", test.name, err, grow.KindOf(err), test.kind, test.words)
		}
		results, err := f.AddEntries(t.Context(), f.by, []grow.Draft{test.draft})
		if err != nil || grow.KindOf(results[0].Err) != test.kind || results[0].Entry != nil {
			t.Errorf("%s, in bulk: %+v, %v", test.name, results, err)
		}
	}
	if diff := cmp.Diff(before, f.everything()); diff != "" {
		t.Errorf("a refusal left something behind (-before +after):\n%s", diff)
	}
}

// TestAddEntries: each has its own outcome, in the order sent; what is good is
// kept, and a later one sees what an earlier one did.
func TestAddEntries(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(3))
	f.days(1)
	note := func(bag int, text string) grow.Draft {
		return grow.Draft{ID: f.id(), Bag: bags[bag].Code, Kind: grow.KindNote, Details: grow.Details{Text: text}}
	}
	first := note(0, "one")
	upper := note(1, "two")
	upper.ID = grow.ID(strings.ToUpper("abcdef00-0000-4000-8000-000000000001"))
	apart := grow.Draft{ID: f.id(), Bag: bags[2].Code, Kind: grow.KindIsolate}
	drafts := []grow.Draft{first, upper, note(2, ""), apart, {ID: f.id(), Bag: bags[2].Code, Kind: grow.KindRelease}, first,
		{ID: f.id(), Bag: bags[2].Code, Kind: grow.KindRelease}, {ID: f.id(), Bag: bags[2].Code, Kind: grow.KindVoid, Details: grow.Details{Entry: apart.ID}},
		{ID: "nonsense", Bag: bags[0].Code, Kind: grow.KindLook}, {ID: f.id(), Bag: bags[0].Code, Kind: grow.KindVoid, Details: grow.Details{Entry: first.ID}}, first}
	results, err := f.AddEntries(t.Context(), f.by, drafts)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for i, r := range results {
		if !strings.EqualFold(string(r.ID), string(drafts[i].ID)) {
			t.Errorf("result %d is of %s, want %s", i, r.ID, drafts[i].ID)
		}
		switch {
		case r.Err != nil:
			got = append(got, string(grow.KindOf(r.Err)))
		case r.Created:
			got = append(got, "created")
		default:
			got = append(got, "again")
		}
	}
	want := []string{"created", "created", "invalid", "created", "created", "again", "conflict", "conflict", "invalid", "created", "again"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("outcomes (-want +got):\n%s", diff)
	}
	if results[1].ID != "abcdef00-0000-4000-8000-000000000001" || results[1].Entry.ID != results[1].ID {
		t.Errorf("ids are answered in lower case; got %s and %s", results[1].ID, results[1].Entry.ID)
	}
	if results[10].Entry.VoidedBy != drafts[9].ID {
		t.Errorf("sent again after it was voided: voided by %q, want %s", results[10].Entry.VoidedBy, drafts[9].ID)
	}
	if b := f.bag(bags[2].Code); b.State != grow.Colonising || len(b.Entries) != 2 {
		t.Errorf("bag 3 is %s with %d entries, want colonising with 2", b.State, len(b.Entries))
	}
	if none, err := f.AddEntries(t.Context(), f.by, nil); err != nil || len(none) != 0 {
		t.Errorf("nothing: %v, %v", none, err)
	}
	f.sound()
}

// TestPlacesOfEntries: a move names a place in any letter case or by its code;
// a refused move makes none.
func TestPlacesOfEntries(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(1))
	f.add(bags[0].Code, grow.KindMove, grow.Details{Place: "Room 2>Rack 3"})
	places, err := f.Places(t.Context())
	if err != nil || len(places) != 1 {
		t.Fatal(places, err)
	}
	for _, name := range []string{"ROOM 2 > rack 3", strings.ToLower(places[0].Code.Spaced())} {
		if b := f.add(bags[0].Code, grow.KindMove, grow.Details{Place: name}); *b.Place != "Room 2 > Rack 3" || b.Entries[0].Place != "Room 2 > Rack 3" {
			t.Errorf("moved to %q: stands in %q, the entry says %q", name, *b.Place, b.Entries[0].Place)
		}
	}
	if w, err := f.Place(t.Context(), places[0].Code); err != nil || len(w.Bags) != 1 || w.Bags[0].Code != bags[0].Code {
		t.Errorf("what stands there: %+v, %v", w, err)
	}
	f.add(bags[0].Code, grow.KindFruiting, grow.Details{Place: "tent"})
	if w, err := f.Place(t.Context(), places[0].Code); err != nil || len(w.Bags) != 0 {
		t.Errorf("what stands there after: %+v, %v", w, err)
	}
}

// TestWrongClock: both times are kept where a phone's clock was wrong.
func TestWrongClock(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(1))
	f.days(2)
	at, sent := f.clock.now().Add(50*time.Minute), f.clock.now().Add(time.Hour)
	e, _, _, err := f.AddEntry(t.Context(), f.by, grow.Draft{ID: f.id(), Bag: bags[0].Code, Kind: grow.KindLook, At: &at, SentAt: &sent})
	if err != nil || !e.At.Equal(f.clock.now().Add(-10*time.Minute)) || e.AtSent == nil || !e.AtSent.Equal(at) {
		t.Errorf("at %s, as sent %v, %v", e.At, e.AtSent, err)
	}
	kept := f.bag(bags[0].Code).Entries[0]
	if diff := cmp.Diff(e, kept); diff != "" {
		t.Errorf("(-answered +kept):\n%s", diff)
	}
}

// TestRandomFarm hands in random entries, one by one and in bulk, with repeats,
// conflicting bodies and new starts. After all: each id once, in the order kept, and every
// stored status is what replaying the log gives.
func TestRandomFarm(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	rapid.Check(t, func(r *rapid.T) {
		_, bags := f.make(f.king(3))
		f.days(10)
		var sent []grow.Draft
		kept := map[grow.ID]bool{}
		for range rapid.IntRange(1, 6).Draw(r, "posts") {
			var drafts []grow.Draft
			for range rapid.IntRange(1, 6).Draw(r, "entries") {
				d := drawDraft(r, f, bags, sent)
				drafts, sent = append(drafts, d), append(sent, d)
			}
			if rapid.IntRange(0, 5).Draw(r, "start anew") == 0 {
				f.reopen()
			}
			if rapid.Bool().Draw(r, "in bulk") {
				results, err := f.AddEntries(f.t.Context(), f.by, drafts)
				if err != nil {
					r.Fatal(err)
				}
				for i, res := range results {
					outcome(r, kept, drafts[i], res.Created, res.Err)
				}
				continue
			}
			for _, d := range drafts {
				before := f.entries()
				_, _, created, err := f.AddEntry(f.t.Context(), f.by, d)
				outcome(r, kept, d, created, err)
				if after := f.entries(); after != before && !created || after != before+1 && created {
					r.Fatalf("%s created %t: %d entries, then %d", d.Kind, created, before, after)
				}
			}
		}
		f.compareWithLogs(r, bags, kept)
	})
	f.sound()
}

func outcome(r *rapid.T, kept map[grow.ID]bool, d grow.Draft, created bool, err error) {
	switch k := grow.KindOf(err); {
	case err != nil && k != grow.Conflict && k != grow.Invalid:
		r.Fatalf("%s: %v", d.Kind, err)
	case created && (err != nil || kept[d.ID]):
		r.Fatalf("%s %s was kept twice, or in spite of %v", d.Kind, d.ID, err)
	case err == nil && !created && !kept[d.ID]:
		r.Fatalf("%s %s is known, but was never kept", d.Kind, d.ID)
	}
	kept[d.ID] = kept[d.ID] || created
}

// drawDraft is a new entry, one sent before, or another body under an old id.
func drawDraft(r *rapid.T, f *labFarm, bags []BagRef, sent []grow.Draft) grow.Draft {
	if len(sent) > 0 && rapid.IntRange(0, 4).Draw(r, "again") == 0 {
		d := sent[rapid.IntRange(0, len(sent)-1).Draw(r, "which")]
		if rapid.Bool().Draw(r, "another body") {
			d.Kind, d.Details = grow.KindNote, grow.Details{Text: "something else"}
		}
		return d
	}
	at := f.clock.now().Add(-time.Duration(rapid.IntRange(0, 240).Draw(r, "hours ago")) * time.Hour)
	kind := rapid.SampledFrom([]grow.EntryKind{"marked", "look", "colonised", "contaminated", "condition", "watch", "again", "move", "shake", "isolate", "release",
		"cull", "fruiting", "harvest", "finish", "void", "void"}).Draw(r, "kind")
	d := grow.Draft{ID: f.id(), Bag: bags[rapid.IntRange(0, len(bags)-1).Draw(r, "bag")].Code, Kind: kind, At: &at}
	switch kind {
	case grow.KindColonised:
		d.Pct = new(rapid.SampledFrom([]float64{10, 99, 100}).Draw(r, "pct"))
	case grow.KindContaminated:
		d.What = "yeast"
	case grow.KindCondition:
		d.Key, d.Value = "gloves", grow.KnownValue(rapid.SampledFrom([]string{"yes", "no", "unknown"}).Draw(r, "value"))
	case grow.KindAgain:
		d.On = new(grow.DateOn(2026, 12, 24))
	case grow.KindMove:
		d.Place = rapid.SampledFrom([]string{"rack 1", "rack 2"}).Draw(r, "place")
	case grow.KindHarvest:
		d.Grams = new(250.0)
	case grow.KindFinish:
		d.Why = "given"
	case grow.KindVoid:
		d.Entry = "99999999-0000-4000-8000-000000000000"
		if len(sent) > 0 {
			d.Entry = sent[rapid.IntRange(0, len(sent)-1).Draw(r, "of")].ID
		}
	}
	return d
}

// entries is how many the farm has.
func (f *labFarm) entries() (n int) {
	if err := f.read.QueryRow(`SELECT count(*) FROM entries`).Scan(&n); err != nil {
		f.t.Fatal(err)
	}
	return n
}

func (f *labFarm) compareWithLogs(r *rapid.T, bags []BagRef, kept map[grow.ID]bool) {
	farm, err := f.Farm(f.t.Context())
	if err != nil {
		r.Fatal(err)
	}
	seen := map[grow.ID]bool{}
	for _, g := range bags {
		b := f.bag(g.Code)
		log := slices.Clone(b.Entries)
		slices.Reverse(log)
		if !slices.IsSortedFunc(log, func(x, y grow.Entry) int { return gocmp.Or(x.At.Compare(y.At), gocmp.Compare(x.Seq, y.Seq)) }) {
			r.Fatalf("bag %d: the log is not in order", g.Number)
		}
		for _, e := range log {
			if seen[e.ID] || !kept[e.ID] {
				r.Fatalf("%s stands twice in logs, or was never kept", e.ID)
			}
			seen[e.ID] = true
		}
		status := grow.Replay(grow.Start{}, slices.Clone(log), farm.Conditions)
		if diff := cmp.Diff(status, b.Status, cmpopts.EquateEmpty()); diff != "" {
			r.Fatalf("bag %d: (-replayed +stored):\n%s", g.Number, diff)
		}
	}
	for id, yes := range kept {
		if yes && !seen[id] {
			r.Fatalf("%s was kept and is in no log", id)
		}
	}
}

// TestWritersAtOnce: the same entry from many at once is kept once, different
// ones all.
func TestWritersAtOnce(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(8))
	shared := grow.Draft{ID: f.id(), Bag: bags[0].Code, Kind: grow.KindShake}
	errs := make(chan error, 8)
	made := make(chan bool, 8)
	for i := range 8 {
		go func() {
			_, _, created, err := f.AddEntry(f.t.Context(), f.by, shared)
			made <- created
			for n := range 5 {
				_, _, _, e := f.AddEntry(f.t.Context(), f.by, grow.Draft{ID: grow.ID(fmt.Sprintf("20000000-0000-4000-8000-%06d%06d", i, n)), Bag: bags[i].Code, Kind: grow.KindLook})
				err = errors.Join(err, e)
			}
			errs <- err
		}()
	}
	once := 0
	for range 8 {
		if err := <-errs; err != nil {
			t.Error(err)
		}
		if <-made {
			once++
		}
	}
	if once != 1 || f.entries() != 41 {
		t.Errorf("the shared entry was kept %d times; %d entries in all, want 41", once, f.entries())
	}
	f.sound()
}
