package store

import (
	"strings"
	"testing"

	"bagmark/grow"
	"bagmark/grow/trace"

	"github.com/google/go-cmp/cmp"
)

// hoodTrial asks whether the flow hood matters, twelve bags of each, by day 28.
func (f *labFarm) hoodTrial(change ...func(*TrialDraft)) TrialDraft {
	d := TrialDraft{ID: f.id(), Question: "Does it matter whether the hood is on?", Key: "flow_hood", Value: "off", Against: "on", Each: 12, Event: trace.EventContaminated, Day: 28,
		BatchFields: grow.BatchFields{Species: "pleurotus-eryngii", InoculatedAt: f.clock.now()}}
	for _, c := range change {
		c(&d)
	}
	return d
}

func (f *labFarm) begin(d TrialDraft) Trial {
	f.t.Helper()
	v, created, err := f.CreateTrial(f.t.Context(), f.by, d)
	if err != nil || !created {
		f.t.Fatalf("trial not begun: %t, %v", created, err)
	}
	return v
}

// groupsOf are the codes of a trial's bags by their value.
func (f *labFarm) groupsOf(v Trial) map[string][]grow.Code {
	f.t.Helper()
	out := map[string][]grow.Code{}
	for _, b := range f.whole(v.Batch.Code).Bags {
		value := *conditionOf(f.bag(b.Code), v.Key).Value
		out[value] = append(out[value], b.Code)
	}
	return out
}

func TestTrialIsAssignedAtRandom(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	draft := f.hoodTrial()
	v := f.begin(draft)
	if groups := f.groupsOf(v); len(groups["off"]) != 12 || len(groups["on"]) != 12 || len(groups) != 2 {
		t.Fatalf("groups: %v", groups)
	}
	w := f.whole(v.Batch.Code)
	printed := 0
	for _, b := range w.Bags {
		if len(b.Departures) == 1 && b.Departures[0] == "HOOD OFF" {
			printed++
		}
	}
	if printed != 12 {
		t.Errorf("%d labels print what is tried, want 12", printed)
	}
	other := f.begin(f.hoodTrial())
	if bags := f.whole(other.Batch.Code).Batch.BagConditions; cmp.Equal(bags, w.Batch.BagConditions) {
		t.Error("two trials drew the same bags")
	}
	again, created, err := f.CreateTrial(t.Context(), f.by, draft)
	if err != nil || created || again.Batch.Code != v.Batch.Code {
		t.Errorf("sent twice: %t, %s, %v", created, again.Batch.Code, err)
	}
	list, err := f.Trials(t.Context())
	if err != nil || len(list) != 2 || list[0].Batch.Code != other.Batch.Code || list[1].On.String() != "2026-12-20" {
		t.Errorf("trials: %+v, %v", list, err)
	}
	f.sound()
}

// TestTrialIsAnsweredOnce: 8 of 12 against 1 of 12. Looks before the day are
// counted; the answer stays what it was when it was given.
func TestTrialIsAnsweredOnce(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	v := f.begin(f.hoodTrial())
	groups := f.groupsOf(v)
	f.days(9)
	for _, code := range append(append([]grow.Code{}, groups["off"][:8]...), groups["on"][0]) {
		f.add(code, grow.KindContaminated, grow.Details{What: "green_mould"})
	}
	for _, code := range append(append([]grow.Code{}, groups["off"][8:]...), groups["on"][1:]...) {
		f.add(code, grow.KindLook)
	}
	if _, err := f.AnswerTrial(t.Context(), v.Batch.Code); grow.KindOf(err) != grow.Conflict || !strings.Contains(err.Error(), "2026-12-20") {
		t.Errorf("answered before its day: %v", err)
	}
	looked, so, err := f.LookEarly(t.Context(), v.Batch.Code)
	if err != nil || looked.Looks != 1 || looked.Answer != nil || so.Row == nil || so.Row.With.Contaminated != 8 {
		t.Errorf("an early look: %+v, %+v, %v", looked, so, err)
	}
	f.days(19)
	if _, _, err := f.LookEarly(t.Context(), v.Batch.Code); grow.KindOf(err) != grow.Conflict {
		t.Errorf("looked early on its day: %v", err)
	}
	for _, code := range append(append([]grow.Code{}, groups["off"][8:]...), groups["on"][1:]...) {
		f.add(code, grow.KindLook)
	}
	answered, err := f.AnswerTrial(t.Context(), v.Batch.Code)
	if err != nil || answered.Answer == nil || answered.AnsweredAt == nil || answered.Looks != 1 {
		t.Fatalf("%+v, %v", answered, err)
	}
	row := answered.Answer.Row
	if row.Verdict != trace.PointsTo || row.With.Bags != 12 || row.Without.Contaminated != 1 || !strings.HasPrefix(answered.Answer.Words, "Points to flow hood off: 8 of 12 against 1 of 12") {
		t.Errorf("%s", answered.Answer.Words)
	}
	// Fisher's exact test of 8/12 against 1/12: hypergeometric tail, mid-p .00488
	// two-sided (by hand: P(8)+P(9) = 495·12/1307504 + 220·1/1307504, and half of
	// P(8) less, doubled).
	near(t, "p", row.P, 2*(495*12/2.+220)/1307504, 1e-9)
	f.add(groups["on"][1], grow.KindContaminated, grow.Details{What: "cobweb"})
	again, err := f.AnswerTrial(t.Context(), v.Batch.Code)
	if diff := cmp.Diff(answered.Answer, again.Answer, cmp.AllowUnexported()); err != nil || diff != "" {
		t.Errorf("the answer changed: %v\n%s", err, diff)
	}
	for _, change := range []string{`UPDATE trials SET question = 'another'`, `UPDATE trials SET answer = NULL, answered_at = NULL`, `DELETE FROM trials`} {
		if err := f.writing(t.Context(), func(t *tx) error { _, err := t.exec(change); return err }); err == nil {
			t.Errorf("%s was taken", change)
		}
	}
}

func TestTrialOfGrowth(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	v := f.begin(f.hoodTrial(func(d *TrialDraft) { d.Event, d.Day, d.Each = trace.EventColonised, 20, 4 }))
	groups := f.groupsOf(v)
	full := func(codes []grow.Code) {
		for _, code := range codes {
			f.add(code, grow.KindColonised, grow.Details{Pct: new(100.0)})
		}
	}
	f.days(12)
	full(groups["on"])
	for _, code := range groups["off"] {
		f.add(code, grow.KindColonised, grow.Details{Full: new(false)})
	}
	f.days(8)
	full(groups["off"])
	answered, err := f.AnswerTrial(t.Context(), v.Batch.Code)
	if err != nil || answered.Answer.Times == nil {
		t.Fatalf("%+v, %v", answered, err)
	}
	// All four before all four: 2 of the 70 ways to hand out four marks.
	near(t, "p", answered.Answer.Times.P, 2./70, 1e-9)
}

func TestTrialRefuses(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	if err := f.PutCondition(t.Context(), f.by, grow.Condition{Key: "bag_maker", Label: "bag maker", Level: grow.BagLevel, Values: []string{"a", "b"}, Shorts: map[string]string{}}); err != nil {
		t.Fatal(err)
	}
	for field, change := range map[string]func(*TrialDraft){
		"question": func(d *TrialDraft) { d.Question = "" },
		"each":     func(d *TrialDraft) { d.Each = 1 },
		"event":    func(d *TrialDraft) { d.Event = "started" },
		"day":      func(d *TrialDraft) { d.Day = 0 },
		"key":      func(d *TrialDraft) { d.Key, d.Value, d.Against = "bag_maker", "a", "b" }, // nothing would print
		"value":    func(d *TrialDraft) { d.Value = "sideways" },
		"against":  func(d *TrialDraft) { d.Against = "off" },
		"species":  func(d *TrialDraft) { d.Species = "x" },
	} {
		_, _, err := f.CreateTrial(t.Context(), f.by, f.hoodTrial(change))
		wantFields(t, field, err, field)
	}
	_, _, err := f.CreateTrial(t.Context(), f.by, f.hoodTrial(func(d *TrialDraft) { d.Key = "moon" }))
	wantFields(t, "no condition", err, "key")
	if _, err := f.Trial(t.Context(), "NO-SUCH"); grow.KindOf(err) != grow.NotFound {
		t.Errorf("a trial nobody began: %v", err)
	}
	if page, err := f.Batches(t.Context(), BatchFilter{}); err != nil || len(page.Batches) != 0 {
		t.Errorf("a refused trial left %d batches, %v", len(page.Batches), err)
	}
}
