package grow_test

import (
	"cmp"
	"fmt"
	"slices"
	"testing"
	"time"

	"bagmark/grow"

	"pgregory.net/rapid"
)

// The model of a bag's life, as plain as it can be: it goes through all that
// was handed in, in order, and knows nothing of how replay does it.

type told struct {
	grow.Draft
	at     time.Time
	seq    int
	voided bool
	fits   bool
}

type life struct {
	state                     grow.State
	out                       grow.State
	had, grown, apart, fruits bool
	pct                       *float64
	bad                       *time.Time
	watched                   bool
	grams                     float64
	flush                     int
	marked, seen              time.Time
	place                     string
}

func (l *life) now() grow.State {
	switch {
	case l.out != "":
		return l.out
	case l.apart:
		return grow.Isolated
	case l.fruits:
		return grow.Fruiting
	case !l.had:
		return grow.Unmarked
	case l.grown:
		return grow.Colonised
	}
	return grow.Colonising
}

func mayHappen(s grow.State, k grow.EntryKind) bool {
	switch k {
	case "harvest", "fruiting", "isolate", "shake", "move", "cull", "finish":
		return s != grow.Culled && s != grow.Finished
	case "release":
		return s == grow.Isolated
	}
	return true
}

// live goes through a history and marks what fits.
func live(history []*told) life {
	var l life
	slices.SortFunc(history, func(a, b *told) int { return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.seq, b.seq)) })
	for _, e := range history {
		e.fits = e.voided || e.Kind == "void" || mayHappen(l.now(), e.Kind)
		if !e.voided && e.Kind != "void" && e.fits {
			l.happen(e)
		}
	}
	l.state = l.now()
	if l.out != "" {
		l.watched = false
	} else if l.bad != nil && !l.apart {
		l.watched = true
	}
	return l
}

func (l *life) happen(e *told) {
	glance := e.Kind == "look" && e.Seen == "glance"
	words := slices.Contains([]grow.EntryKind{"condition", "note", "watch", "unwatch", "again"}, e.Kind)
	if !words {
		l.seen = e.at
		if !glance && !l.had {
			l.had, l.marked = true, e.at
		}
	}
	switch e.Kind {
	case "colonised":
		l.pct, l.grown = e.Pct, e.Pct != nil && *e.Pct >= 99
	case "contaminated":
		if l.bad == nil {
			l.bad = &e.at
		}
	case "watch":
		l.watched = true
	case "unwatch":
		l.watched = false
	case "move":
		l.place = e.Place
	case "isolate":
		l.apart = true
	case "release":
		l.apart = false
	case "fruiting":
		l.fruits, l.apart = true, false
	case "harvest":
		l.fruits, l.apart = true, false
		l.grams += *e.Grams
		l.flush++
		if e.Flush != nil {
			l.flush = *e.Flush
		}
	case "cull":
		l.out = grow.Culled
	case "finish":
		l.out = grow.Finished
	}
}

// accepts tells whether the model takes an entry, and adds it if so.
func accepts(history []*told, e *told) ([]*told, bool) {
	after := append(slices.Clone(history), e)
	if e.Kind != "void" {
		live(after)
		return after, e.fits
	}
	i := slices.IndexFunc(history, func(x *told) bool { return x.ID == e.Entry })
	if i < 0 || history[i].voided || history[i].Kind == "void" {
		return history, false
	}
	live(history)
	did := map[grow.ID]bool{}
	for _, x := range history {
		did[x.ID] = x.fits
	}
	history[i].voided = true
	live(after)
	if slices.ContainsFunc(after, func(x *told) bool { return x != e && did[x.ID] && !x.fits }) {
		history[i].voided = false
		return history, false
	}
	return after, true
}

// TestHistories hands in random histories, late entries and voids among them,
// and holds the farm's word against the model's after each.
func TestHistories(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		start := time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)
		conditions := startingSet()
		var log []grow.Entry
		var history []*told
		for i := range rapid.IntRange(1, 30).Draw(t, "entries") {
			d := drawEntry(t, i, start, history)
			h := grow.Hearing{Now: start.AddDate(0, 0, 30).Add(time.Duration(i) * time.Minute), Zone: time.UTC, InoculatedOn: grow.DateOf(start, time.UTC), Seq: int64(i + 1)}
			e, status, after, err := grow.Judge(grow.Start{}, log, d, h, conditions)
			want, taken := accepts(history, &told{Draft: d, at: *d.At, seq: i})
			if (err == nil) != taken {
				t.Fatalf("%s at %s: %v; the model takes it: %t", d.Kind, d.At.Format("2 Jan 15:04"), err, taken)
			}
			if err != nil {
				continue
			}
			if !e.Fits {
				t.Fatalf("%s was taken and does not fit", d.Kind)
			}
			log, history = after, want
			compareLives(t, live(history), status)
			compareLogs(t, history, log)
		}
	})
}

func drawEntry(t *rapid.T, i int, start time.Time, history []*told) grow.Draft {
	at := start.Add(time.Duration(rapid.IntRange(0, 20).Draw(t, "half day")) * 12 * time.Hour)
	kind := rapid.SampledFrom(allKinds).Draw(t, "kind")
	d := grow.Draft{ID: grow.ID(fmt.Sprintf("00000000-0000-4000-8000-%012d", i)), Kind: kind, At: &at, Details: needed(kind)}
	switch kind {
	case grow.KindLook:
		d.Seen = rapid.SampledFrom([]string{"", "glance", "turned"}).Draw(t, "seen")
	case grow.KindColonised:
		d.Pct = new(rapid.SampledFrom([]float64{0, 50, 98.9, 99, 100}).Draw(t, "pct"))
		if rapid.Bool().Draw(t, "nobody estimated") {
			d.Pct, d.Full = nil, new(false)
		}
	case grow.KindHarvest:
		if rapid.Bool().Draw(t, "numbered") {
			d.Flush = new(rapid.IntRange(1, 20).Draw(t, "flush"))
		}
	case grow.KindVoid:
		d.Entry = "00000000-0000-4000-8000-999999999999"
		if len(history) > 0 {
			d.Entry = history[rapid.IntRange(0, len(history)-1).Draw(t, "which")].ID
		}
	}
	return d
}

func compareLives(t *rapid.T, want life, got grow.Status) {
	same := got.State == want.state && got.Grams == want.grams && got.Flush == want.flush && got.Place == want.place &&
		(got.Contaminated != nil) == (want.bad != nil) && (got.Watch != nil) == want.watched && (got.ColonisedPct == nil) == (want.pct == nil) &&
		(got.ColonisedPct == nil || *got.ColonisedPct == *want.pct) && sameTime(got.MarkedAt, want.marked) && sameTime(got.LastSeenAt, want.seen) &&
		(want.bad == nil || got.Contaminated.At.Equal(*want.bad))
	if !same {
		t.Fatalf("the farm says\n%+v\nthe model\n%+v", got, want)
	}
}

func sameTime(got *time.Time, want time.Time) bool {
	return got == nil && want.IsZero() || got != nil && got.Equal(want)
}

func compareLogs(t *rapid.T, want []*told, got []grow.Entry) {
	if len(want) != len(got) {
		t.Fatalf("the log has %d entries, want %d", len(got), len(want))
	}
	for i, e := range got {
		if e.ID != want[i].ID || e.Fits != want[i].fits || (e.VoidedBy != "") != want[i].voided {
			t.Fatalf("entry %d of the log is %+v, the model has %+v", i, e, want[i])
		}
	}
}
