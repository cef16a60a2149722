package demo

import (
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/grow/trace"
	"bagmark/store"
)

// made is a demo farm open at the moment it was made for.
type made struct {
	*store.Store
	t   *testing.T
	now time.Time
	in  SignIn
	dir string
}

func makeAt(t *testing.T, now time.Time) made {
	t.Helper()
	m := made{t: t, now: now, dir: filepath.Join(t.TempDir(), "farm")}
	var err error
	if m.in, err = Make(t.Context(), m.dir, now); err != nil {
		t.Fatalf("the farm could not be made: %v (%v)", err, errors.Unwrap(err))
	}
	m.Store, err = store.Open(t.Context(), m.dir, store.Options{Now: func() time.Time { return now }, MustExist: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { m.Close() })
	return m
}

// madeAgo finds the batch of a kind made so many days ago.
func (m made) madeAgo(kind string, ago int) store.BatchWhole {
	m.t.Helper()
	zone, err := time.LoadLocation(Zone)
	if err != nil {
		m.t.Fatal(err)
	}
	on := grow.DateOf(m.now, zone) - grow.Date(ago)
	page, err := m.Batches(m.t.Context(), store.BatchFilter{Species: kinds[kind].slug, From: &on, To: &on})
	if err != nil || len(page.Batches) != 1 {
		m.t.Fatalf("batches of %s made %d days ago: %d, %v; want one", kind, ago, len(page.Batches), err)
	}
	w, err := m.Batch(m.t.Context(), page.Batches[0].Code)
	if err != nil {
		m.t.Fatal(err)
	}
	return w
}

func (m made) row(code grow.Code, key, value string) trace.Row {
	m.t.Helper()
	tr, err := m.Trace(m.t.Context(), code)
	if err != nil {
		m.t.Fatal(err)
	}
	i := slices.IndexFunc(tr.Conditions, func(r trace.Row) bool { return r.Key == key && r.Value == value })
	if i < 0 {
		m.t.Fatalf("the trace of %s has no row for %s %s", code, key, value)
	}
	return tr.Conditions[i]
}

// stories are what the farm has to show, whatever today is.
var stories = map[string]func(made){
	"size": testSize, "today": testToday, "hood off": testHoodOff, "about six": testAboutSix, "spawn and recipe": testSpawnAndRecipe,
	"short run": testShortRun, "trial": testTrial, "slow and late": testSlowAndLate, "ready": testReady, "thin": testThin,
	"labels later": testLabelsLater, "blanks": testBlanks, "upstream": testUpstream, "taken back": testTakenBack, "crops": testCrops, "photos": testPhotos, "sign in": testSignIn, "air": testAir, "places": testPlaces, "ahead": testAhead,
}

// The farm is the same on an ordinary morning, on the evening of that day, and
// in the night after the clocks went forward.
func TestStories(t *testing.T) {
	t.Parallel()
	var first made
	for _, day := range []struct {
		name string
		now  time.Time
	}{
		{"autumn morning", time.Date(2026, 11, 25, 9, 12, 0, 0, time.UTC)},
		{"autumn evening", time.Date(2026, 11, 25, 21, 45, 0, 0, time.UTC)},
		{"clocks went forward", time.Date(2027, 3, 28, 23, 20, 0, 0, time.UTC)}, // 00:20 on the 29th there
	} {
		m := makeAt(t, day.now)
		for name, test := range stories {
			t.Run(day.name+"/"+name, func(t *testing.T) {
				with := m
				with.t = t
				test(with)
			})
		}
		if first.Store == nil {
			first = m
			continue
		}
		sameFarm(t, first, m)
	}
}

// sameFarm holds two farms to the same labels and states, and to secrets of
// their own.
func sameFarm(t *testing.T, a, b made) {
	t.Helper()
	x, y := a.madeAgo("king", 14), b.madeAgo("king", 14)
	for i := range x.Bags {
		if x.Bags[i].Code != y.Bags[i].Code || x.Bags[i].State != y.Bags[i].State {
			t.Fatalf("bag %d is %s and %s, %s and %s", i+1, x.Bags[i].Code, y.Bags[i].Code, x.Bags[i].State, y.Bags[i].State)
		}
	}
	if a.in.Passphrase == b.in.Passphrase {
		t.Error("two farms have the same passphrase")
	}
}

func testSize(m made) {
	bags, batches := 0, 0
	for after := ""; ; {
		page, err := m.Batches(m.t.Context(), store.BatchFilter{After: after, Limit: 200})
		if err != nil {
			m.t.Fatal(err)
		}
		for _, b := range page.Batches {
			bags += b.Bags
			batches++
			if b.InoculatedAt.After(m.now) {
				m.t.Errorf("%s is made in the future", b.Code)
			}
		}
		if page.Next == nil {
			break
		}
		after = *page.Next
	}
	if batches < 40 || batches > 60 || bags < 850 || bags > 1000 {
		m.t.Errorf("%d batches with %d bags", batches, bags)
	}
	report, err := store.Check(m.t.Context(), m.dir)
	if err != nil {
		m.t.Fatal(err)
	}
	if len(report.Problems) > 0 {
		m.t.Errorf("check finds %v", report.Problems)
	}
}

func testToday(m made) {
	today, err := m.Today(m.t.Context())
	if err != nil {
		m.t.Fatal(err)
	}
	var got []grow.Task
	for _, s := range today.Sentences {
		got = append(got, s.Task)
	}
	if !slices.Equal(got, grow.Tasks) {
		m.t.Errorf("today's tasks are %v, want each of %v", got, grow.Tasks)
	}
	for _, s := range today.Sentences {
		if s.Task == grow.TaskHunt && s.Words != "18 enoki, day 7" {
			m.t.Errorf("hunt: %q", s.Words)
		}
		if s.Task == grow.TaskAgain && len(s.Bags) != 2 {
			m.t.Errorf("%d bags to come back to", len(s.Bags))
		}
	}
	list, err := m.ToFruiting(m.t.Context())
	if err != nil || len(list.OnHold) != 1 || list.OnHold[0].Because != "no room" {
		m.t.Errorf("on hold: %+v, %v", list.OnHold, err)
	}
	sold, err := m.Sold(m.t.Context(), store.SoldFilter{})
	named := slices.DeleteFunc(sold.Partings, func(p store.Parting) bool { return p.To == nil })
	if err != nil || len(named) != 1 || *named[0].To != "Saturday market" || len(named[0].Bags) != 4 {
		m.t.Errorf("sold to somebody named: %+v, %v, want four bags to the Saturday market", named, err)
	}
	if len(today.Unmarked) != 1 || today.Unmarked[0].Unmarked != 6 || today.Unmarked[0].Bags != 20 {
		m.t.Errorf("batches that nag: %+v, want one with 6 of 20 bags unmarked", today.Unmarked)
	}
}

func testHoodOff(m made) {
	w := m.madeAgo("king", 14)
	var last time.Time
	for _, g := range w.Bags {
		b, err := m.Bag(m.t.Context(), g.Code)
		if err != nil {
			m.t.Fatal(err)
		}
		if b.Status.BenchAt == nil || !b.Status.BenchAt.After(last) {
			m.t.Fatalf("bag %d was not scanned at the bench after the one before it", g.Number)
		}
		last = *b.Status.BenchAt
		if off := g.Number >= 7 && g.Number <= 11; slices.Contains(g.Departures, "HOOD OFF") != off {
			m.t.Errorf("bag %d has departures %v", g.Number, g.Departures)
		}
	}
	row := m.row(w.Bags[9].Code, "flow_hood", "off")
	if row.Verdict != trace.PointsTo || !strings.HasPrefix(row.Words, "Points to flow hood off: 4 of 5 against 1 of 19 in the same batch") {
		m.t.Errorf("verdict %s: %s", row.Verdict, row.Words)
	}
	tr, err := m.Trace(m.t.Context(), w.Bags[9].Code)
	if err != nil {
		m.t.Fatal(err)
	}
	if tr.BatchNow != (store.BatchNow{Bags: 24, Contaminated: 5, Alive: 19}) {
		m.t.Errorf("the batch stands at %+v", tr.BatchNow)
	}
	if len(tr.AtRisk) == 0 || tr.AtRisk[0].Number != 7 || !slices.Contains(tr.AtRisk[0].Shares, "flow_hood") || !slices.Contains(tr.AtRisk[0].Shares, "made_near") {
		m.t.Errorf("most at risk: %+v", tr.AtRisk[:min(1, len(tr.AtRisk))])
	}
}

func testAboutSix(m made) {
	w := m.madeAgo("oyster", 10)
	for _, g := range w.Bags {
		b, err := m.Bag(m.t.Context(), g.Code)
		if err != nil {
			m.t.Fatal(err)
		}
		i := slices.IndexFunc(b.Conditions, func(c grow.BagCondition) bool { return c.Key == "flow_hood" })
		if c := b.Conditions[i]; c.Value != nil || c.Departure {
			m.t.Errorf("bag %d: the hood is %v, want unknown", g.Number, *c.Value)
		}
	}
	if w.Counts["contaminated"] != 1 || w.Counts["isolated"] != 1 {
		m.t.Errorf("counts %v", w.Counts)
	}
}

func testSpawnAndRecipe(m made) {
	w := m.madeAgo("oyster", 112)
	for key, other := range map[string]string{"spawn_lot": "recipe", "recipe": "spawn_lot"} {
		value := map[string]string{"spawn_lot": badLot, "recipe": newRecipe}[key]
		row := m.row(w.Bags[0].Code, key, value)
		if row.Verdict != trace.PointsTo || !slices.Equal(row.ConfoundedWith, []string{other}) || !strings.Contains(row.Words, "cannot tell them apart") {
			m.t.Errorf("%s: %s, confounded with %v: %s", key, row.Verdict, row.ConfoundedWith, row.Words)
		}
	}
}

func testShortRun(m made) {
	for _, kind := range []string{"enoki", "king", "lion"} {
		w := m.madeAgo(kind, 63)
		if w.Counts["culled"] != w.Batch.Bags || w.Counts["contaminated"] < w.Batch.Bags-1 {
			m.t.Errorf("%s: %v", w.Batch.Code, w.Counts)
		}
		if w.Batch.Conditions["run_complete"] != "short" || len(w.Changes) != 1 {
			m.t.Errorf("%s: run_complete %q, changes %+v", w.Batch.Code, w.Batch.Conditions["run_complete"], w.Changes)
		}
	}
	row := m.row(m.madeAgo("king", 63).Bags[0].Code, "run_complete", "short")
	if row.Verdict != trace.PointsTo || !slices.Contains(row.ConfoundedWith, "steriliser_run") {
		m.t.Errorf("%s, confounded with %v: %s", row.Verdict, row.ConfoundedWith, row.Words)
	}
}

// Ten bags shaken, ten not: one to two weeks later (common practice).
func testTrial(m made) {
	w := m.madeAgo("oyster", 49)
	var days [2][]int
	for _, g := range w.Bags {
		b, err := m.Bag(m.t.Context(), g.Code)
		if err != nil {
			m.t.Fatal(err)
		}
		if b.Status.GrownOverAt == nil {
			m.t.Fatalf("bag %d is not grown over", g.Number)
		}
		side := 0
		if slices.Contains(g.Departures, "NOT SHAKEN") {
			side = 1
		}
		days[side] = append(days[side], grow.Day(w.Batch.InoculatedAt, *b.Status.GrownOverAt, w.Batch.InoculatedAt.Location()))
	}
	for i := range days {
		slices.Sort(days[i])
	}
	if len(days[0]) != 10 || len(days[1]) != 10 {
		m.t.Fatalf("%d shaken, %d not", len(days[0]), len(days[1]))
	}
	v, err := m.Trial(m.t.Context(), w.Batch.Code)
	if err != nil || v.Answer == nil || v.Answer.Times.Verdict != trace.PointsTo {
		m.t.Errorf("the trial ends in %+v, %v", v.Answer, err)
	}
	if later := days[1][5] - days[0][5]; later < 7 || later > 14 {
		m.t.Errorf("not shaken: %d days later in the middle (%v against %v)", later, days[1], days[0])
	}
}

func testSlowAndLate(m made) {
	for _, g := range m.madeAgo("oyster", 12).Bags {
		if slow := slices.Contains([]int{4, 11, 16}, g.Number); g.Slow != slow || g.Overdue {
			m.t.Errorf("oyster %d: slow %v, overdue %v", g.Number, g.Slow, g.Overdue)
		}
	}
	for _, g := range m.madeAgo("king", 30).Bags {
		if late := g.Number == 3 || g.Number == 14; late && !g.Overdue || late && g.State != grow.Colonising {
			m.t.Errorf("king %d: %s, overdue %v", g.Number, g.State, g.Overdue)
		}
	}
}

func testReady(m made) {
	pins, ready := 0, 0
	for _, g := range m.madeAgo("oyster", 17).Bags {
		b, err := m.Bag(m.t.Context(), g.Code)
		if err != nil {
			m.t.Fatal(err)
		}
		if g.Ready {
			ready++
		}
		if b.Status.PinsAt != nil {
			pins++
		}
	}
	if pins != 2 || ready < 10 {
		m.t.Errorf("%d ready, %d with pins", ready, pins)
	}
}

func testThin(m made) {
	for _, g := range m.madeAgo("lion", 14).Bags {
		if g.State != grow.Colonising || g.Slow || g.Overdue {
			m.t.Errorf("lion's mane %d: %s, slow %v, overdue %v", g.Number, g.State, g.Slow, g.Overdue)
		}
	}
}

func testLabelsLater(m made) {
	w := m.madeAgo("shiitake", 5)
	if w.Counts["unmarked"] != 12 || w.Batch.LabelsLater == nil || w.Batch.MadeAt.Sub(w.Batch.InoculatedAt) < 48*time.Hour {
		m.t.Errorf("%v, labels later %v, recorded %v", w.Counts, w.Batch.LabelsLater, w.Batch.MadeAt)
	}
	due, err := m.Due(m.t.Context(), "", 200)
	if err != nil {
		m.t.Fatal(err)
	}
	for _, i := range due.Items {
		if i.Batch == w.Batch.Code {
			m.t.Fatalf("bag %d nags already: %s", i.Number, i.Words)
		}
	}
}

func testBlanks(m made) {
	known, err := m.KnownCodes(m.t.Context())
	if err != nil {
		m.t.Fatal(err)
	}
	blanks := 0
	for _, k := range known {
		if _, _, err := m.Sterile(m.t.Context(), k.Code); k.Kind == grow.BlankCode && err != nil { // a sterile bag's label is on something
			blanks++
		}
	}
	if blanks != 16 {
		m.t.Errorf("%d blank labels are left of 24, want 16", blanks)
	}
}
