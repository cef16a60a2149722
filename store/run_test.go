package store

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/grow/climate"

	"github.com/google/go-cmp/cmp"
)

// steamed puts a run on record that must be taken.
func (f *labFarm) steamed(name string, change ...func(*grow.RunDraft)) RunWhole {
	f.t.Helper()
	method, started := grow.PressureSteam, f.clock.now()
	d := grow.RunDraft{RunFields: grow.RunFields{Name: name, Method: &method, StartedAt: &started}}
	for _, c := range change {
		c(&d)
	}
	w, created, err := f.CreateRun(f.t.Context(), f.by, d)
	if err != nil || !created {
		f.t.Fatalf("run %s: created %t, %v", name, created, err)
	}
	return w
}

// readings hands in readings, in pairs of minute and °C, that must be taken.
func (f *labFarm) readings(run, spot string, pairs ...float64) RunWhole {
	f.t.Helper()
	start := f.clock.now().Add(-4 * time.Hour)
	d := SeriesDraft{Probe: "typed", Spot: spot}
	for i := 0; i < len(pairs); i += 2 {
		d.Points = append(d.Points, climate.Point{At: start.Add(time.Duration(pairs[i] * float64(time.Minute))), C: pairs[i+1]})
	}
	w, _, err := f.AddRunReadings(f.t.Context(), f.by, run, []SeriesDraft{d})
	if err != nil {
		f.t.Fatal(err)
	}
	return w
}

func runComplete(b Batch) string { return b.Conditions[runCondition] }

// TestShortRunIsADeparture: a run short of its target is a departure of every
// batch it made, before and after the readings came, until the readings no longer
// say so; what a person says afterwards stands.
func TestShortRunIsADeparture(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.steamed("R-31")
	ofRun := func(d *grow.BatchDraft) { d.SteriliserRun = new("r-31") }
	before, bags := f.make(f.king(2, ofRun))
	if runComplete(before) != "" {
		t.Fatalf("without readings: %q", runComplete(before))
	}
	f.add(bags[0].Code, grow.KindMarked)
	f.days(0.1)
	w := f.readings("R-31", "core", 0, 118, 10, 118, 20, 100) // F0 6.1 of 15
	if w.Run.Short == nil || !*w.Run.Short {
		t.Fatalf("10 min at 118 °C: %+v", w.Verdict)
	}
	got := f.whole(before.Code)
	if runComplete(got.Batch) != shortValue || got.Bags[0].Departures[0] != "SHORT RUN" || !got.Bags[0].NeedsLabel {
		t.Errorf("%q %+v", runComplete(got.Batch), got.Bags[0])
	}
	if got.Changes[0].Device != judgedBy || got.Changes[0].Field != "conditions.run_complete" {
		t.Errorf("the change on record: %+v", got.Changes[0])
	}
	after, _ := f.make(f.king(1, ofRun))
	if runComplete(after) != shortValue {
		t.Errorf("made after the readings: %q", runComplete(after))
	}
	said, err := f.PatchBatch(t.Context(), f.by, after.Code, func(b *grow.BatchFields) error { b.Conditions[runCondition] = new("yes"); return nil })
	if err != nil || runComplete(said) != "yes" {
		t.Fatal(runComplete(said), err)
	}
	w, err = f.VoidSeries(t.Context(), f.by, "R-31", w.Series[0].ID)
	if err != nil || w.Run.Short != nil {
		t.Fatal(w.Verdict, err)
	}
	if got := f.whole(before.Code).Batch; runComplete(got) != "" {
		t.Errorf("readings taken back: %q", runComplete(got))
	}
	if got := f.whole(after.Code).Batch; runComplete(got) != "yes" {
		t.Errorf("what a person said: %q", runComplete(got))
	}
	f.sound()
}

// TestAPersonsWordStands: what was said of a batch after its run's readings is not
// overruled by a correction of the run that changes no verdict, nor by more readings
// that say the same.
func TestAPersonsWordStands(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.steamed("R-31")
	b, _ := f.make(f.king(1, func(d *grow.BatchDraft) { d.SteriliserRun = new("R-31") }))
	f.readings("R-31", "core", 0, 118, 10, 118, 20, 100)
	if _, err := f.PatchBatch(t.Context(), f.by, b.Code, func(b *grow.BatchFields) error { b.Conditions[runCondition] = new("yes"); return nil }); err != nil {
		t.Fatal(err)
	}
	if _, err := f.PatchRun(t.Context(), f.by, "R-31", func(r *grow.RunFields) error { r.Note = new("the gauge stuck"); return nil }); err != nil {
		t.Fatal(err)
	}
	f.readings("R-31", "core", 30, 80)
	if got := f.whole(b.Code).Batch; runComplete(got) != "yes" {
		t.Errorf("what a person said: %q", runComplete(got))
	}
	f.sound()
}

// TestRunsFollowTheTarget: another target judges the runs anew; a batch that is
// given another run, or none, no longer says what the old one's readings said; and
// blanks that come later do not overrule a person.
func TestRunsFollowTheTarget(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.steamed("R-31")
	f.readings("R-31", "core", 0, 121, 20, 121, 40, 100) // F0 23.6 of 15
	a, _ := f.make(f.king(1, func(d *grow.BatchDraft) { d.SteriliserRun = new("R-31") }))
	b, _ := f.make(f.king(1, func(d *grow.BatchDraft) { d.SteriliserRun = new("R-31") }))
	target := func(f0 float64) {
		t.Helper()
		if err := f.PutSettings(t.Context(), f.by, func(s *Settings) error { s.F0Target = f0; return nil }); err != nil {
			t.Fatal(err)
		}
		f.sound()
	}
	target(25)
	if got := f.whole(a.Code).Batch; runComplete(got) != shortValue {
		t.Errorf("F0 23.6 of 25: %q", runComplete(got))
	}
	none, err := f.PatchBatch(t.Context(), f.by, a.Code, func(b *grow.BatchFields) error { b.SteriliserRun = nil; return nil })
	if err != nil || runComplete(none) != "" {
		t.Errorf("of no run: %q, %v", runComplete(none), err)
	}
	if _, err := f.PatchBatch(t.Context(), f.by, b.Code, func(b *grow.BatchFields) error { b.Conditions[runCondition] = new("yes"); return nil }); err != nil {
		t.Fatal(err)
	}
	blanks := made(f.CreateBlanks(t.Context(), f.by, LabelsDraft{Count: 1}))(t)
	if got, _, _, err := f.AddBlanks(t.Context(), f.by, b.Code, BlanksDraft{Blanks: []grow.Code{blanks[0].Code}}); err != nil || runComplete(got) != "yes" {
		t.Errorf("with one bag more: %q, %v", runComplete(got), err)
	}
	target(15)
	if got := f.whole(b.Code).Batch; runComplete(got) != "yes" {
		t.Errorf("the old target again: %q", runComplete(got))
	}
}

// TestShortComesBack: while the farm has no word for a short run no batch can say
// so; once it has, they do.
func TestShortComesBack(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	c := must(f.Farm(t.Context()))(t).Conditions[runCondition]
	without := c
	without.Values = slices.DeleteFunc(slices.Clone(c.Values), func(v string) bool { return v == shortValue })
	without.Shorts = map[string]string{}
	if err := f.PutCondition(t.Context(), f.by, without); err != nil {
		t.Fatal(err)
	}
	f.steamed("R-31")
	f.readings("R-31", "core", 0, 118, 10, 118, 20, 100)
	b, _ := f.make(f.king(1, func(d *grow.BatchDraft) { d.SteriliserRun = new("R-31") }))
	f.sound()
	if err := f.PutCondition(t.Context(), f.by, c); err != nil {
		t.Fatal(err)
	}
	if got := f.whole(b.Code).Batch; runComplete(got) != shortValue {
		t.Errorf("%q", runComplete(got))
	}
	f.sound()
}

// hourly is a temperature held for hours, read every hour.
func hourly(hours int, c float64) (pairs []float64) {
	for h := range hours + 1 {
		pairs = append(pairs, 60*float64(h), c)
	}
	return pairs
}

// TestRunVerdict: core before chamber, the coldest of several, gaps that leave it
// open, methods without lethality, the farm's and the run's own target.
func TestRunVerdict(t *testing.T) {
	t.Parallel()
	hot := []float64{0, 121, 20, 121} // F0 19.5
	for _, c := range []struct {
		name   string
		change func(*grow.RunDraft)
		read   func(*labFarm) RunWhole
		short  *bool
		words  string
	}{
		{"only the chamber", nil, func(f *labFarm) RunWhole { return f.readings("R", "chamber", hot...) }, nil, "Only the chamber was measured"},
		{"a core", nil, func(f *labFarm) RunWhole { return f.readings("R", "core", hot...) }, new(false), "F0 19.5 minutes in the core"},
		{"the colder of two cores", nil, func(f *labFarm) RunWhole {
			f.readings("R", "core", hot...)
			return f.readings("R", "core", 0, 115, 20, 115)
		}, new(true), "F0 4.9 minutes in the core at typed, the coldest of 2 cores"},
		{"a probe that died while it was hot", nil, func(f *labFarm) RunWhole {
			return f.readings("R", "core", 0, 20, 30, 100, 60, 121, 65, 121)
		}, nil, "cannot be told: the readings end while it was hot"},
		{"a probe that died, beside one that fell short", nil, func(f *labFarm) RunWhole {
			f.readings("R", "core", 60, 121, 62, 121)
			return f.readings("R", "core", 0, 20, 30, 100, 60, 121, 70, 100)
		}, new(true), "The core at typed was read to the end and is short of the target of 15 by"},
		{"5 °C under the hold, and more than that", nil, func(f *labFarm) RunWhole {
			f.readings("R", "core", 0, 116, 5, 116)
			return f.readings("R", "core", 0, 115.9, 5, 115.9)
		}, new(true), "Short of the target of 15"},
		{"a gap that leaves it open", nil, func(f *labFarm) RunWhole {
			return f.readings("R", "core", 0, 121, 1, 121, 2, 121, 3, 121, 4, 121, 30, 121, 31, 121, 32, 121)
		}, nil, "cannot be told: 26 min without readings"},
		{"hot water", func(d *grow.RunDraft) { d.Method = new(grow.HotWater) }, func(f *labFarm) RunWhole { return f.readings("R", "core", 0, 80, 60, 80) }, nil, "have no F0"},
		{"open steam", func(d *grow.RunDraft) { d.Method = new(grow.OpenSteam) }, func(f *labFarm) RunWhole { return f.readings("R", "core", hourly(12, 98)...) }, new(false), "F0 3.5 minutes"},
		{"read twice in ten hours", nil, func(f *labFarm) RunWhole { return f.readings("R", "core", 0, 121, 600, 121) }, nil, "cannot be told: 10 h without readings"},
		{"one reading", nil, func(f *labFarm) RunWhole { return f.readings("R", "core", 100, 121) }, nil, "lasts no time"},
		{"typed in two pieces", nil, func(f *labFarm) RunWhole {
			f.readings("R", "core", 0, 20, 30, 80, 60, 100)
			return f.readings("R", "core", 75, 115, 90, 121, 120, 121)
		}, new(false), "the coldest of 1 core measured"},
		{"read out early, then whole", nil, func(f *labFarm) RunWhole {
			f.readings("R", "core", 0, 20, 30, 80, 60, 100)
			return f.readings("R", "core", 0, 20, 30, 80, 60, 100, 75, 115, 90, 121, 120, 121)
		}, new(false), "the coldest of 1 core measured"},
		{"a colder core at the same times", nil, func(f *labFarm) RunWhole {
			f.readings("R", "core", 0, 121, 10, 121, 20, 121)
			return f.readings("R", "core", 5, 100, 15, 100)
		}, new(true), "the coldest of 2 cores measured"},
		{"a target of its own", func(d *grow.RunDraft) { d.TargetF0 = new(25.0) }, func(f *labFarm) RunWhole { return f.readings("R", "core", 0, 121, 20, 121, 40, 100) }, new(true), "Short of the target of 25 by 1.4."},
		{"no target", func(d *grow.RunDraft) { d.TargetF0 = new(0.0) }, func(f *labFarm) RunWhole { return f.readings("R", "core", hot...) }, nil, "No target was set."},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f := newLabFarm(t)
			if c.change == nil {
				c.change = func(*grow.RunDraft) {}
			}
			f.steamed("R", c.change)
			w := c.read(f)
			if diff := cmp.Diff(c.short, w.Run.Short); diff != "" || !strings.Contains(strings.Join(w.Verdict, " "), c.words) {
				t.Errorf("%q; short (-want +got):\n%s", w.Verdict, diff)
			}
			if hotWater := w.Run.Method != nil && *w.Run.Method == grow.HotWater; hotWater != (w.Series[0].Lethality == nil) {
				t.Errorf("a lethality is shown: %+v", w.Series[0].Lethality)
			}
		})
	}
}

// TestOpenSteamUpTheHill: water boils at 93.3 °C at 2,000 m (standard atmosphere of
// ISO 2533, saturation line of IAPWS-IF97), so no load there is ever at 95 °C.
func TestOpenSteamUpTheHill(t *testing.T) {
	t.Parallel()
	for height, reached := range map[float64]bool{0: false, 2000: true} {
		f := newLabFarm(t)
		if err := f.PutSettings(t.Context(), f.by, func(s *Settings) error { s.AltitudeM = height; return nil }); err != nil {
			t.Fatal(err)
		}
		f.steamed("R", func(d *grow.RunDraft) { d.Method = new(grow.OpenSteam) })
		w := f.readings("R", "core", hourly(12, 92.8)...)
		if got := !strings.Contains(strings.Join(w.Verdict, " "), "was never reached"); got != reached {
			t.Errorf("at %g m a core of 92.8 °C is held: %t, want %t (%q)", height, got, reached, w.Verdict)
		}
	}
}

// TestRunReadingsAreKeptOnce and as they were read.
func TestRunReadingsAreKeptOnce(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.steamed("R")
	points := []climate.Point{{At: f.clock.now().Add(-time.Hour).Add(123 * time.Microsecond), C: 20.125}, {At: f.clock.now(), C: -3.5}}
	if diff := cmp.Diff(points, unpackReadings(packReadings(points))); diff != "" {
		t.Errorf("kept and read (-want +got):\n%s", diff)
	}
	d := []SeriesDraft{{Probe: "1", Spot: "core", Points: points}}
	for i, want := range []bool{true, false} {
		w, created, err := f.AddRunReadings(t.Context(), f.by, "R", d)
		if err != nil || created != want || len(w.Series) != 1 {
			t.Errorf("time %d: created %t, %d series, %v", i+1, created, len(w.Series), err)
		}
	}
	for i, position := range []string{"door", "door", "back"} { // the same figures at two places are two
		w, created, err := f.AddRunReadings(t.Context(), f.by, "R", []SeriesDraft{{Probe: "1", Spot: "core", Position: &position, Points: points}})
		if err != nil || created != (i != 1) || len(w.Series) != []int{2, 2, 3}[i] {
			t.Errorf("at the %s: created %t, %d series, %v", position, created, len(w.Series), err)
		}
	}
	for name, bad := range map[string]SeriesDraft{"spot": {Probe: "1", Spot: "lid", Points: points}, "readings": {Probe: "1", Spot: "core"}, "readings[0].temp_c": {Probe: "1", Spot: "core", Points: []climate.Point{{At: f.clock.now(), C: 212}}}} {
		_, _, err := f.AddRunReadings(t.Context(), f.by, "R", []SeriesDraft{bad})
		if wantKind(t, name, err, grow.Invalid); !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestRunByNameOrCode: a run that was only a name takes a draft's fields; its code
// names it as well, and the label of a lot does not.
func TestRunByNameOrCode(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.make(f.king(1, func(d *grow.BatchDraft) { d.SteriliserRun = new("R-1") }))
	w := f.steamed("r-1")
	if len(w.Batches) != 1 {
		t.Errorf("batches %+v", w.Batches)
	}
	b, _ := f.make(f.king(1, func(d *grow.BatchDraft) { d.SteriliserRun = new(w.Run.Code.Spaced()) }))
	if *b.SteriliserRun != "r-1" {
		t.Errorf("by its code: %q", *b.SteriliserRun)
	}
	l, _ := f.lot(grow.SpawnLot, "S-1", 0)
	for what, d := range map[string]grow.BatchDraft{
		"a lot's label for a run": f.king(1, func(d *grow.BatchDraft) { d.SteriliserRun = new(string(l.Code)) }),
		"a run's label for a lot": f.king(1, func(d *grow.BatchDraft) { d.SpawnLot = new(string(w.Run.Code)) }),
	} {
		_, _, _, err := f.CreateBatch(t.Context(), f.by, d)
		wantKind(t, what, err, grow.Invalid)
	}
	_, _, err := f.CreateRun(t.Context(), f.by, grow.RunDraft{RunFields: grow.RunFields{Name: "R-1"}})
	wantKind(t, "the name again", err, grow.Conflict)
	f.make(f.king(1, func(d *grow.BatchDraft) { d.SteriliserRun = new("R-2") }))
	if _, err := f.PatchRun(t.Context(), f.by, "R-2", func(r *grow.RunFields) error { r.Vessel = new("the tall one"); return nil }); err != nil {
		t.Fatal(err)
	}
	_, _, err = f.CreateRun(t.Context(), f.by, grow.RunDraft{RunFields: grow.RunFields{Name: "R-2"}})
	wantKind(t, "a name of which somebody has said more", err, grow.Conflict)
	f.sound()
}

// TestSterileBags: filled before the steam, thrown out if burst, taken at
// inoculation with run, recipe and place in the load; the control never is.
func TestSterileBags(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.steamed("R-31")
	day := grow.DateOf(f.clock.now(), time.UTC)
	bags := made(f.CreateSterile(t.Context(), f.by, "R-31", SterileDraft{Count: 4, Recipe: new("oak"), Position: new("door"), FilledOn: &day}))(t)
	control := made(f.CreateSterile(t.Context(), f.by, "R-31", SterileDraft{Count: 1, Control: true}))(t)[0]
	_, _, err := f.CreateSterile(t.Context(), f.by, "R-31", SterileDraft{Count: 1, Control: true})
	wantKind(t, "a second control", err, grow.Conflict)
	f.days(3)
	f.saw(bags[0].Code, grow.KindCull, grow.Details{Why: "burst"})
	left := must(f.SterileLeft(t.Context()))(t)
	if len(left) != 1 || left[0].Words() != "3 sterile bags left from run R-31, 3 days old" {
		t.Errorf("left: %+v", left)
	}
	for what, code := range map[string]grow.Code{"burst": bags[0].Code, "the control": control.Code} {
		_, _, _, err := f.CreateBatch(t.Context(), f.by, f.king(1, func(d *grow.BatchDraft) { d.Blanks = []grow.Code{code} }))
		wantKind(t, what, err, grow.Invalid)
	}
	_, _, _, err = f.CreateBatch(t.Context(), f.by, f.king(1, func(d *grow.BatchDraft) { d.Blanks, d.SteriliserRun = []grow.Code{bags[1].Code}, new("R-1") }))
	wantKind(t, "in a batch of another run", err, grow.Invalid)
	if r := must(f.Recall(t.Context(), "R-31"))(t); len(r.Sterile) != 4 || !r.Sterile[3].Control { // three that wait, and the control
		t.Errorf("recall: %+v", r.Sterile)
	}
	b, made := f.make(f.king(2, func(d *grow.BatchDraft) { d.Blanks = []grow.Code{bags[1].Code, bags[2].Code} }))
	if b.SteriliserRun == nil || *b.SteriliserRun != "R-31" || b.Recipe == nil || *b.Recipe != "oak" {
		t.Errorf("the batch has run %v and recipe %v", b.SteriliserRun, b.Recipe)
	}
	if g := f.bag(made[0].Code); !strings.Contains(fmt.Sprint(f.whole(b.Code).Bags[0].Departures), "LOAD: DOOR") || g.Code != bags[1].Code {
		t.Errorf("place in the load: %+v", f.whole(b.Code).Bags[0].Departures)
	}
	_, err = f.NewLabel(t.Context(), f.by, made[0].Code, &bags[3].Code)
	wantKind(t, "a sterile bag's label as a spare", err, grow.Conflict)
	_, _, err = f.AddStockEntry(t.Context(), f.by, grow.Draft{ID: f.id(), Bag: bags[1].Code, Kind: grow.KindLook})
	wantKind(t, "logged as a sterile bag after it was inoculated", err, grow.Conflict)
	if s, _, err := f.Sterile(t.Context(), bags[1].Code); err != nil || s.State != "inoculated" || *s.Batch != b.Code {
		t.Errorf("%+v, %v", s, err)
	}
	f.saw(control.Code, grow.KindContaminated, grow.Details{What: "green_mould"})
	f.add(made[0].Code, grow.KindContaminated, grow.Details{What: "green_mould"})
	tr := must(f.Trace(t.Context(), made[0].Code))(t)
	if tr.Control == nil || tr.Control.Run != "R-31" || !strings.Contains(tr.Control.Words(), "never opened") {
		t.Errorf("the control: %+v", tr.Control)
	}
	if c := must(f.Today(t.Context()))(t).Controls; len(c) != 1 {
		t.Errorf("on Today: %+v", c)
	}
	f.sound()
}

// TestSterileBagsOfAnotherRun: a bag that got its label for a run before the steam is
// recalled with that run, whatever its batch says; a bag in which something grows waits for nothing.
func TestSterileBagsOfAnotherRun(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.steamed("R-1")
	f.steamed("R-2")
	ones := made(f.CreateSterile(t.Context(), f.by, "R-1", SterileDraft{Count: 1}))(t)
	twos := made(f.CreateSterile(t.Context(), f.by, "R-2", SterileDraft{Count: 2}))(t)
	b, _ := f.make(f.king(3, func(d *grow.BatchDraft) { d.SteriliserRun = new("R-1") }))
	if _, _, _, err := f.AddBlanks(t.Context(), f.by, b.Code, BlanksDraft{Blanks: []grow.Code{ones[0].Code}}); err != nil {
		t.Fatal(err)
	}
	_, _, _, err := f.AddBlanks(t.Context(), f.by, b.Code, BlanksDraft{Blanks: []grow.Code{twos[0].Code}})
	wantKind(t, "a bag of another run", err, grow.Invalid)
	if _, err := f.PatchBatch(t.Context(), f.by, b.Code, func(d *grow.BatchFields) error { d.SteriliserRun = new("R-2"); return nil }); err != nil {
		t.Fatal(err)
	}
	for run, want := range map[string]int{"R-1": 1, "R-2": 4} {
		if r, err := f.Recall(t.Context(), run); err != nil || len(r.Bags) != want {
			t.Errorf("recall of %s: %d bags, %v; want %d", run, len(r.Bags), err, want)
		}
	}
	mould := f.saw(twos[1].Code, grow.KindContaminated, grow.Details{What: "green_mould"})
	if left := must(f.SterileLeft(t.Context()))(t); len(left) != 1 || left[0].Left != 1 {
		t.Errorf("a mouldy bag waits: %+v", left)
	}
	_, _, _, err = f.AddBlanks(t.Context(), f.by, b.Code, BlanksDraft{Blanks: []grow.Code{twos[1].Code}})
	if wantKind(t, "a mouldy bag", err, grow.Invalid); !strings.Contains(fmt.Sprint(err.(*grow.Error).Fields), "take another bag") {
		t.Errorf("%v", err)
	}
	f.saw(twos[1].Code, grow.KindVoid, grow.Details{Entry: mould.ID})
	if _, _, _, err := f.AddBlanks(t.Context(), f.by, b.Code, BlanksDraft{Blanks: []grow.Code{twos[1].Code}}); err != nil {
		t.Errorf("taken back: %v", err)
	}
	f.sound()
}

// TestARunIsOfEveryBag: a batch takes the run and the recipe of its sterile bags only
// where every bag of it is one of them and of the same; what they bring stands among
// its corrections.
func TestARunIsOfEveryBag(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name     string
		plain    int      // bags with labels drawn at the bench
		runs     []string // of the sterile bags that the batch is made with
		later    []string // of those that are added to it
		run      string
		recipe   string
		correct  int // corrections on record
		recalled int // bags that the recall of R-1 names
	}{
		{"all of one run", 0, []string{"R-1", "R-1"}, nil, "R-1", "oak", 0, 2},
		{"five plain and one of a run", 5, []string{"R-1"}, nil, "", "", 0, 1},
		{"one of a run added to three plain", 3, nil, []string{"R-1"}, "", "", 0, 1},
		{"of two runs, one recipe", 0, []string{"R-1", "R-2"}, nil, "", "oak", 0, 1},
		{"one more of the same run", 0, []string{"R-1"}, []string{"R-1"}, "R-1", "oak", 0, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f := newLabFarm(t)
			sterile := func(runs []string) (codes []grow.Code) {
				for _, run := range runs {
					codes = append(codes, made(f.CreateSterile(t.Context(), f.by, run, SterileDraft{Count: 1, Recipe: new("oak")}))(t)[0].Code)
				}
				return codes
			}
			f.steamed("R-1")
			f.steamed("R-2")
			b, _ := f.make(f.king(c.plain+len(c.runs), func(d *grow.BatchDraft) { d.Blanks = sterile(c.runs) }))
			if len(c.later) > 0 {
				if _, _, _, err := f.AddBlanks(t.Context(), f.by, b.Code, BlanksDraft{Blanks: sterile(c.later)}); err != nil {
					t.Fatal(err)
				}
			}
			got := f.whole(b.Code)
			if run, recipe := textOf(got.Batch.SteriliserRun), textOf(got.Batch.Recipe); run != c.run || recipe != c.recipe || len(got.Changes) != c.correct {
				t.Errorf("of run %q, recipe %q, corrections %+v; want %q, %q, %d", run, recipe, got.Changes, c.run, c.recipe, c.correct)
			}
			if r := must(f.Recall(t.Context(), "R-1"))(t); len(r.Bags) != c.recalled {
				t.Errorf("recall of R-1: %d bags, want %d", len(r.Bags), c.recalled)
			}
			f.sound()
		})
	}
}

// TestRunsOfOlderFarmsGetLabels: a run that was a name has a code of its own after
// the migration, see also TestFarmsOfReleasedSchemas.
func TestRunsOfOlderFarmsGetLabels(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.make(f.king(1, func(d *grow.BatchDraft) { d.SteriliserRun = new("R-1") }))
	if _, err := f.write.Exec(`UPDATE steriliser_runs SET code = NULL; DELETE FROM codes WHERE code NOT IN (SELECT code FROM bags UNION SELECT code FROM cards)`); err != nil {
		t.Fatal(err)
	}
	if err := f.writing(t.Context(), func(t *tx) error { return t.codeRuns() }); err != nil {
		t.Fatal(err)
	}
	if w := must(f.Run(t.Context(), "R-1"))(t); len(w.Run.Code) != 8 || len(w.Batches) != 1 {
		t.Errorf("%+v", w.Run)
	}
	f.sound()
}
