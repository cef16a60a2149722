package store

import (
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func TestCreateBatch(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	at := f.clock.now().Add(-time.Hour).In(time.FixedZone("", 7200))
	d := grow.BatchDraft{Bags: 12, ID: new(grow.ID("3F2B8C1E-0D4A-4C6B-9E55-7A1D2C3B4E5F")),
		BatchFields: grow.BatchFields{Species: "pleurotus-eryngii", InoculatedAt: at, LabDay: new("Sunday"), Strain: new("K7"), BagWetG: new(2500.0), MoisturePct: new(62.0),
			SpawnLot: new("S-31"), SpawnRatePct: new(5.0), SteriliserRun: new("run 9"), Recipe: new("oak"), Operator: new("Ana"), Place: new("room 2>rack 3"),
			Conditions: map[string]*string{"flow_hood": new("on"), "gloves": nil, "shaken": new("unknown")}, LabelsLater: new(grow.DateOn(2026, 12, 1)), Note: new("first")},
		BagConditions: []grow.BagConditions{{Bags: "7-11", Conditions: map[string]*string{"flow_hood": new("off")}}}}
	b, bags := f.make(d)
	if !regexp.MustCompile(`^[A-Z0-9-]{3,16}$`).MatchString(string(b.Code)) || *b.ID != "3f2b8c1e-0d4a-4c6b-9e55-7a1d2c3b4e5f" {
		t.Errorf("code %s, id %s", b.Code, *b.ID)
	}
	want := Batch{ID: b.ID, Code: b.Code, Species: "pleurotus-eryngii", SpeciesName: b.SpeciesName, Short: b.Short, Strain: new("K7"), InoculatedAt: at, Bags: 12, LabDay: new("Sunday"),
		BagWetG: new(2500.0), MoisturePct: new(62.0), SpawnLot: new("S-31"), SpawnRatePct: new(5.0), SteriliserRun: new("run 9"), Recipe: new("oak"), Operator: new("Ana"),
		Place: new("room 2 > rack 3"), Conditions: map[string]string{"flow_hood": "on"}, BagConditions: d.BagConditions, LabelsLater: d.LabelsLater, Note: new("first"),
		MadeAt: f.clock.now(), MadeBy: "Ana Invented"}
	if diff := cmp.Diff(want, b, cmp.FilterPath(func(p cmp.Path) bool { return p.Last().String() == ".row" || p.Last().String() == ".labelChangedAt" }, cmp.Ignore())); diff != "" {
		t.Errorf("batch (-want +got):\n%s", diff)
	}
	if b.SpeciesName == "" || len(b.Short) > 6 || b.Short == "" {
		t.Errorf("species name %q, short %q", b.SpeciesName, b.Short)
	}
	if diff := cmp.Diff([]int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}, numbersOf(bags)); diff != "" {
		t.Errorf("numbers (-want +got):\n%s", diff)
	}
	for _, g := range bags {
		if c, err := grow.ParseCode(string(g.Code)); err != nil || c != g.Code {
			t.Errorf("bag %d has the code %s: %v", g.Number, g.Code, err)
		}
		hood, shaken := conditionOf(f.bag(g.Code), "flow_hood"), conditionOf(f.bag(g.Code), "shaken")
		off := g.Number >= 7 && g.Number <= 11
		if hood.Departure != off || (hood.From == grow.BagLevel) != off || shaken.Value != nil {
			t.Errorf("bag %d: %+v, shaken %v", g.Number, hood, shaken.Value)
		}
	}
	f.sound()
}

func conditionOf(b Bag, key string) grow.BagCondition {
	i := slices.IndexFunc(b.Conditions, func(c grow.BagCondition) bool { return c.Key == key })
	if i < 0 {
		return grow.BagCondition{}
	}
	return b.Conditions[i]
}

// TestLeastBatch: what was not given is null.
func TestLeastBatch(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	b, bags := f.make(f.king(1))
	if b.ID != nil || b.Strain != nil || b.LabDay != nil || b.BagWetG != nil || b.MoisturePct != nil || b.SpawnLot != nil || b.SpawnRatePct != nil || b.SteriliserRun != nil ||
		b.Recipe != nil || b.Operator != nil || b.Place != nil || b.LabelsLater != nil || b.Note != nil {
		t.Errorf("something not given is not null: %+v", b)
	}
	g := f.bag(bags[0].Code)
	if g.State != grow.Unmarked || g.Day != 0 || g.ColonisedPct != nil || g.Contaminated != nil || g.Watch != nil || g.Place != nil || g.MarkedAt != nil || g.LastSeenAt != nil || g.NeedsLabel || len(g.Entries) != 0 {
		t.Errorf("a fresh bag is %+v", g)
	}
}

// TestSameBatchAgain: one id, one batch.
func TestSameBatchAgain(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	d := f.king(3, func(d *grow.BatchDraft) {
		d.ID, d.Conditions = new(grow.ID("3f2b8c1e-0d4a-4c6b-9e55-7a1d2c3b4e5f")), map[string]*string{"flow_hood": new("on")}
	})
	first, bags := f.make(d)
	f.days(3)
	again := d
	again.ID = new(grow.ID(strings.ToUpper(string(*d.ID))))
	again.InoculatedAt = d.InoculatedAt.In(time.FixedZone("", 9*3600))
	b, refs, created, err := f.CreateBatch(t.Context(), f.by, again)
	if err != nil || created || b.Code != first.Code || !slices.Equal(refs, bags) {
		t.Errorf("the same again: created %t, %s, %v, %v", created, b.Code, refs, err)
	}
	before := f.everything()
	for name, change := range map[string]func(*grow.BatchDraft){
		"bags":        func(d *grow.BatchDraft) { d.Bags = 4 },
		"strain":      func(d *grow.BatchDraft) { d.Strain = new("K7") },
		"time":        func(d *grow.BatchDraft) { d.InoculatedAt = d.InoculatedAt.Add(time.Second) },
		"a condition": func(d *grow.BatchDraft) { d.Conditions = map[string]*string{"flow_hood": new("off")} },
	} {
		other := d
		change(&other)
		if _, _, _, err := f.CreateBatch(t.Context(), f.by, other); grow.KindOf(err) != grow.Conflict || err == nil {
			t.Errorf("another body (%s) under the same id: %v, want a conflict", name, err)
		}
	}
	if diff := cmp.Diff(before, f.everything()); diff != "" {
		t.Errorf("something was kept (-before +after):\n%s", diff)
	}
	if _, more := f.make(f.king(3)); slices.Equal(more, bags) {
		t.Error("without an id the same body is the same batch")
	}
}

func TestCreateBatchRefuses(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	blanks, _, err := f.CreateBlanks(t.Context(), f.by, LabelsDraft{Count: 2})
	if err != nil {
		t.Fatal(err)
	}
	_, used := f.make(f.king(1, func(d *grow.BatchDraft) { d.Blanks = []grow.Code{blanks[0].Code} }))
	if used[0].Code != blanks[0].Code {
		t.Fatalf("the batch took %s, want the blank %s", used[0].Code, blanks[0].Code)
	}
	place, _, err := f.CreatePlace(t.Context(), f.by, "room 1")
	if err != nil {
		t.Fatal(err)
	}
	never, err := grow.NewCode(&testRandom{ChaCha8: rand.NewChaCha8([32]byte{99})})
	if err != nil {
		t.Fatal(err)
	}
	wrong := []byte(blanks[1].Code)
	wrong[7] = otherSymbol(wrong[7])
	blank := func(c grow.Code) func(*grow.BatchDraft) {
		return func(d *grow.BatchDraft) { d.Blanks = []grow.Code{blanks[1].Code, c} }
	}
	tests := []struct {
		name   string
		change func(*grow.BatchDraft)
		fields []string
	}{
		{"a blank that is used", blank(used[0].Code), []string{"blanks[1]"}},
		{"a blank that is a place", blank(place.Code), []string{"blanks[1]"}},
		{"a blank nobody made", blank(never), []string{"blanks[1]"}},
		{"a blank with a wrong check character", blank(grow.Code(wrong)), []string{"blanks[1]"}},
		{"a blank twice", blank(blanks[1].Code), []string{"blanks[1]"}},
		{"a place that is a bag", func(d *grow.BatchDraft) { d.Place = new(string(used[0].Code)) }, []string{"place"}},
		{"a lot that is a place", func(d *grow.BatchDraft) { d.SpawnLot = new(place.Code.Spaced()) }, []string{"spawn_lot"}},
		{"a run that is a place", func(d *grow.BatchDraft) { d.SteriliserRun = new(string(place.Code)) }, []string{"steriliser_run"}},
		{"a range of bags there are not", func(d *grow.BatchDraft) {
			d.BagConditions = []grow.BagConditions{{Bags: "7-13", Conditions: map[string]*string{"flow_hood": new("off")}}}
		}, []string{"bag_conditions[0].bags"}},
	}
	before := f.everything()
	for _, test := range tests {
		_, _, _, err := f.CreateBatch(t.Context(), f.by, f.king(12, test.change))
		wantFields(t, test.name, err, test.fields...)
	}
	if diff := cmp.Diff(before, f.everything()); diff != "" {
		t.Errorf("a refused batch left something behind (-before +after):\n%s", diff)
	}
}

// TestAboutSoMany: about six of them, not known which, makes the condition
// unknown for every bag that is not named; never silently normal.
func TestAboutSoMany(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(8, func(d *grow.BatchDraft) {
		d.Conditions = map[string]*string{"flow_hood": new("on")}
		d.BagConditions = []grow.BagConditions{{About: 3, Conditions: map[string]*string{"flow_hood": new("off")}}, {Bags: "2", Conditions: map[string]*string{"flow_hood": new("off")}},
			{Bags: "3-4", Conditions: map[string]*string{"flow_hood": nil}}}
	}))
	for _, g := range bags {
		c := conditionOf(f.bag(g.Code), "flow_hood")
		if known := c.Value != nil; known != (g.Number == 2) || c.Departure != (g.Number == 2) {
			t.Errorf("bag %d: flow hood %+v", g.Number, c)
		}
	}
}

func TestAddBlanks(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	b, _ := f.make(f.king(2))
	blanks, _, err := f.CreateBlanks(t.Context(), f.by, LabelsDraft{Count: 3})
	if err != nil || len(blanks) != 3 {
		t.Fatal(err, blanks)
	}
	if _, err := f.Bag(t.Context(), blanks[0].Code); grow.KindOf(err) != grow.NotFound || !strings.Contains(err.Error(), "blank") {
		t.Errorf("a blank opened: %v, want not found, saying so", err)
	}
	_, _, _, err = f.AddEntry(t.Context(), f.by, grow.Draft{ID: f.id(), Bag: blanks[0].Code, Kind: grow.KindLook})
	if grow.KindOf(err) != grow.Conflict || !strings.Contains(err.Error(), "blank") {
		t.Errorf("an entry for a blank: %v, want a conflict, saying so", err)
	}
	before := f.everything()
	_, _, _, err = f.AddBlanks(t.Context(), f.by, b.Code, BlanksDraft{Blanks: []grow.Code{blanks[0].Code, "7K3M9QX1"}})
	wantFields(t, "one good blank and one wrong", err, "blanks[1]")
	_, _, _, err = f.AddBlanks(t.Context(), f.by, b.Code, BlanksDraft{Blanks: nil})
	wantFields(t, "no blanks", err, "blanks")
	if _, _, _, err = f.AddBlanks(t.Context(), f.by, "NO-SUCH", BlanksDraft{Blanks: []grow.Code{blanks[0].Code}}); grow.KindOf(err) != grow.NotFound {
		t.Errorf("a batch that is not there: %v", err)
	}
	if diff := cmp.Diff(before, f.everything()); diff != "" {
		t.Errorf("a refusal left something behind (-before +after):\n%s", diff)
	}
	after, bags, _, err := f.AddBlanks(t.Context(), f.by, b.Code, BlanksDraft{Blanks: []grow.Code{blanks[2].Code, grow.Code(strings.ToLower(blanks[0].Code.Spaced()))}})
	want := []BagRef{{Code: blanks[2].Code, Number: 3}, {Code: blanks[0].Code, Number: 4}}
	if diff := cmp.Diff(want, bags); err != nil || after.Bags != 4 || diff != "" {
		t.Errorf("%v, %d bags (-want +got):\n%s", err, after.Bags, diff)
	}
	if w := f.whole(b.Code); len(w.Bags) != 4 || w.Counts["unmarked"] != 4 {
		t.Errorf("the batch has %d bags, counts %v", len(w.Bags), w.Counts)
	}
	f.add(blanks[0].Code, grow.KindLook)
	_, _, _, err = f.AddBlanks(t.Context(), f.by, b.Code, BlanksDraft{Blanks: []grow.Code{blanks[0].Code}})
	wantFields(t, "a blank used before", err, "blanks[0]")
	for _, count := range []int{0, -1, 2001} {
		_, _, err := f.CreateBlanks(t.Context(), f.by, LabelsDraft{Count: count})
		wantFields(t, fmt.Sprint(count, " blanks"), err, "count")
	}
	f.sound()
}

// TestNamesAndCodes: a place, a lot and a run are named in any letter case, or
// by their code; a new name makes them; answers give the name as it was first
// written.
func TestNamesAndCodes(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	named := func(place, lot, run string) Batch {
		b, _ := f.make(f.king(1, func(d *grow.BatchDraft) { d.Place, d.SpawnLot, d.SteriliserRun = &place, &lot, &run }))
		return b
	}
	first := named("Room 2 > Rack 3", "S-31", "Run 9")
	places, err := f.Places(t.Context())
	if err != nil || len(places) != 1 || places[0].Name != "Room 2 > Rack 3" {
		t.Fatalf("places %v, %v", places, err)
	}
	page, err := f.Lots(t.Context(), LotFilter{})
	lots := page.Lots
	if err != nil || len(lots) != 1 {
		t.Fatalf("lots %v, %v", lots, err)
	}
	for _, b := range []Batch{named("ROOM 2>rack  3", "s-31", " run 9"), named(string(places[0].Code), lots[0].Code.Spaced(), "RUN 9"), named(strings.ToLower(places[0].Code.Spaced()), "S-31 ", "Run 9")} {
		if *b.Place != *first.Place || *b.SpawnLot != *first.SpawnLot || *b.SteriliserRun != *first.SteriliserRun {
			t.Errorf("%q, %q, %q; want the names as first written", *b.Place, *b.SpawnLot, *b.SteriliserRun)
		}
	}
	used, err := f.Used(t.Context())
	if err != nil || len(used.Places) != 1 || len(used.SpawnLots) != 1 || len(used.Runs) != 1 {
		t.Errorf("names on record %+v, %v; want one each", used, err)
	}
	if w, err := f.Lot(t.Context(), string(lots[0].Code)); err != nil || len(w.Batches) != 4 {
		t.Errorf("made from the lot: %d batches, %v", len(w.Batches), err)
	}
}

// TestLargestBatch has 2,000 bags, each with a code of its own.
func TestLargestBatch(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	b, bags := f.make(f.king(2000))
	seen := map[grow.Code]bool{}
	for i, g := range bags {
		if seen[g.Code] || g.Number != i+1 {
			t.Fatalf("bag %d is numbered %d, code %s", i+1, g.Number, g.Code)
		}
		seen[g.Code] = true
	}
	if w := f.whole(b.Code); len(bags) != 2000 || len(w.Bags) != 2000 || w.Counts["unmarked"] != 2000 {
		t.Errorf("%d bags", len(bags))
	}
	if _, _, _, err := f.AddBlanks(t.Context(), f.by, b.Code, BlanksDraft{Blanks: []grow.Code{bags[0].Code}}); grow.KindOf(err) != grow.Invalid {
		t.Errorf("bag 2,001: %v", err)
	}
}

// TestManyBatchesADay: codes stay legal and unique.
func TestManyBatchesADay(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	seen := map[grow.BatchCode]bool{}
	drafts := make([]grow.BatchDraft, 120)
	for i := range drafts {
		drafts[i] = f.king(1)
		drafts[i].Species = "lentinula-edodes"
	}
	batches, err := f.CreateLabDay(t.Context(), f.by, drafts, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range batches {
		if !b.Code.Legal() || seen[b.Code] {
			t.Errorf("code %s is not legal or not unique", b.Code)
		}
		seen[b.Code] = true
	}
}

func TestCreateLabDay(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	day := func(d *grow.BatchDraft) { d.LabDay = new("Sunday") }
	before := f.everything()
	_, err := f.CreateLabDay(t.Context(), f.by, []grow.BatchDraft{f.king(2, day), f.king(0, day), f.king(2, func(d *grow.BatchDraft) { d.Species = "x" })}, nil)
	wantFields(t, "one good of three", err, "batches[1].bags", "batches[2].species")
	_, err = f.CreateLabDay(t.Context(), f.by, []grow.BatchDraft{f.king(2, day), f.king(2, func(d *grow.BatchDraft) { d.Blanks = []grow.Code{"7K3M9QXR"} })}, nil)
	if err == nil || grow.KindOf(err) == grow.Internal {
		t.Errorf("a blank nobody made: %v", err)
	}
	_, err = f.CreateLabDay(t.Context(), f.by, nil, nil)
	wantFields(t, "no batch", err, "batches")
	if diff := cmp.Diff(before, f.everything()); diff != "" {
		t.Errorf("all or none (-before +after):\n%s", diff)
	}
	batches, err := f.CreateLabDay(t.Context(), f.by, []grow.BatchDraft{f.king(2, day), f.king(3, day)}, nil)
	if err != nil || len(batches) != 2 || batches[1].Bags != 3 {
		t.Fatalf("%v, %v", batches, err)
	}
	days, err := f.LabDays(t.Context(), 0)
	if err != nil || len(days) != 1 || days[0].Name != "Sunday" || len(days[0].Batches) != 2 || days[0].Date != grow.DateOn(2026, 11, 22) {
		t.Errorf("lab days %+v, %v", days, err)
	}
	f.make(f.king(1)) // from the racks: of no lab day
	head, err := f.LastHead(t.Context())
	if err != nil || *head.LabDay != "Sunday" {
		t.Errorf("like the last one: %+v, %v", head, err)
	}
}

// TestCounts: all seven states, which add up to the bags, and contaminated over
// all of them.
func TestCounts(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	b, bags := f.make(f.king(9))
	f.days(9)
	for i, kind := range []grow.EntryKind{grow.KindLook, grow.KindColonised, grow.KindIsolate, grow.KindFruiting, grow.KindFinish, grow.KindCull} {
		f.add(bags[i].Code, kind, grow.Details{Pct: map[grow.EntryKind]*float64{grow.KindColonised: new(100.0)}[kind], Why: map[grow.EntryKind]string{grow.KindFinish: "sold"}[kind]})
	}
	for _, i := range []int{0, 5, 6} {
		f.add(bags[i].Code, grow.KindContaminated, grow.Details{What: "cobweb"})
	}
	want := map[string]int{"unmarked": 2, "colonising": 2, "colonised": 1, "isolated": 1, "fruiting": 1, "finished": 1, "culled": 1, "contaminated": 3}
	w := f.whole(b.Code)
	if diff := cmp.Diff(want, w.Counts); diff != "" {
		t.Errorf("counts (-want +got):\n%s", diff)
	}
	for i, g := range w.Bags {
		if g.Number != i+1 || g.Code != bags[i].Code || g.Day != 9 {
			t.Errorf("bag %d of the list is %+v", i+1, g)
		}
	}
	f.sound()
}

// otherSymbol is another symbol of codes.
func otherSymbol(b byte) byte {
	if b == '7' {
		return '8'
	}
	return '7'
}
