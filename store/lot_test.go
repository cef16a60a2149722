package store

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// lot makes a lot that must be taken.
func (f *labFarm) lot(kind grow.LotKind, name string, jars int, from ...string) (Lot, []Jar) {
	f.t.Helper()
	l, made, created, err := f.CreateLot(f.t.Context(), f.by, grow.LotDraft{LotFields: grow.LotFields{Kind: kind, Name: name, MadeFrom: from}, Jars: jars})
	if err != nil || !created {
		f.t.Fatalf("lot %s: created %t, %v", name, created, err)
	}
	return l, made
}

// saw logs an entry of a lot or a jar that must be taken.
func (f *labFarm) saw(code grow.Code, kind grow.EntryKind, d grow.Details) StockEntry {
	f.t.Helper()
	e, created, err := f.AddStockEntry(f.t.Context(), f.by, grow.Draft{ID: f.id(), Bag: code, Kind: kind, Details: d})
	if err != nil || !created {
		f.t.Fatalf("%s of %s: created %t, %v", kind, code, created, err)
	}
	return e
}

func (f *labFarm) lotWhole(text string) LotWhole {
	f.t.Helper()
	w, err := f.Lot(f.t.Context(), text)
	if err != nil {
		f.t.Fatal(err)
	}
	return w
}

// spawned gives bags their jar, as the bench does.
func (f *labFarm) spawned(jar grow.Code, bags ...BagRef) {
	f.t.Helper()
	for _, b := range bags {
		f.add(b.Code, grow.KindCondition, grow.Details{Key: grow.SpawnJarKey, Value: grow.KnownValue(string(jar))})
	}
}

func names(nodes []LotNode) []string {
	out := []string{}
	for _, n := range nodes {
		out = append(out, fmt.Sprintf("%d %s", n.Depth, n.Name))
	}
	return out
}

// TestLotTree follows a culture through two lots of spawn to bags, and from a
// bag's jar back up: three steps from one mouldy bag to all that came from the
// jar.
func TestLotTree(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.lot(grow.CultureLot, "C-7", 0)
	s1, jars := f.lot(grow.SpawnLot, "S-1", 4, "c-7")
	f.lot(grow.SpawnLot, "S-2", 2, string(jars[3].Code))
	f.lot(grow.SpawnLot, "S-3", 0, "S-1", "S-2")
	lot := "S-1"
	b, bags := f.make(f.king(6, func(d *grow.BatchDraft) { d.SpawnLot = &lot }))
	other := "S-3"
	f.make(f.king(2, func(d *grow.BatchDraft) { d.SpawnLot = &other }))
	f.spawned(jars[0].Code, bags[:3]...)
	f.spawned(jars[3].Code, bags[3:5]...)

	w := f.lotWhole("s-1")
	if diff := cmp.Diff([]string{"1 C-7"}, names(w.Above)); diff != "" {
		t.Errorf("above S-1 (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]string{"1 S-2", "2 S-3"}, names(w.Below)); diff != "" {
		t.Errorf("below S-1 (-want +got):\n%s", diff)
	}
	if len(w.Batches) != 2 || w.Batches[0].Bags+w.Batches[1].Bags != 8 {
		t.Errorf("batches of S-1: %+v", w.Batches)
	}
	jar := f.lotWhole(string(jars[3].Code))
	if jar.Jar == nil || jar.Jar.Number != 4 || jar.Jar.Bags != 2 {
		t.Fatalf("jar 4: %+v", jar.Jar)
	}
	if diff := cmp.Diff([]string{"1 S-2", "2 S-3"}, names(jar.Below)); diff != "" {
		t.Errorf("below jar 4 (-want +got):\n%s", diff)
	}
	if got := jar.Batches; len(got) != 2 || got[0].Bags+got[1].Bags != 4 {
		t.Errorf("batches of jar 4: %+v", got)
	}
	if g := f.bag(bags[4].Code); g.SpawnJar == nil || g.SpawnJar.Name != "S-1 jar 4" {
		t.Errorf("bag 5 has its spawn from %+v", g.SpawnJar)
	}
	if up := f.lotWhole("C-7"); len(up.Batches) != 2 || up.Batches[0].Code == up.Batches[1].Code {
		t.Errorf("batches of the culture: %+v", up.Batches)
	}
	if w.Lot.Code != s1.Code || f.whole(b.Code).Batch.Bags != 6 {
		t.Error("the lot found by name is another")
	}
	f.sound()
}

// TestJarCountsBeforeItsBatch: what was scanned for a bag stands before what was
// written down for its batch.
func TestJarCountsBeforeItsBatch(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, ones := f.lot(grow.SpawnLot, "S-1", 1)
	_, twos := f.lot(grow.SpawnLot, "S-2", 1)
	lot := "S-1"
	_, bags := f.make(f.king(4, func(d *grow.BatchDraft) { d.SpawnLot = &lot }))
	f.spawned(twos[0].Code, bags[0])
	f.spawned(ones[0].Code, bags[1])
	for name, want := range map[string]int{"S-1": 3, "S-2": 1, string(ones[0].Code): 1, string(twos[0].Code): 1} {
		r, err := f.Recall(t.Context(), name)
		if err != nil || len(r.Bags) != want {
			t.Errorf("%s: %d bags, %v; want %d", name, len(r.Bags), err, want)
		}
	}
	f.add(bags[0].Code, grow.KindCondition, grow.Details{Key: grow.SpawnJarKey, Value: grow.Value{Given: true}})
	if r, err := f.Recall(t.Context(), "S-1"); err != nil || len(r.Bags) != 4 {
		t.Errorf("with the jar taken back: %d bags, %v", len(r.Bags), err)
	}
	f.sound()
}

// TestRecall lists what is alive by place first, then what left with whom, then
// what was thrown out.
func TestRecall(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.lot(grow.SpawnLot, "S-1", 0)
	lot := "S-1"
	_, bags := f.make(f.king(4, func(d *grow.BatchDraft) { d.SpawnLot = &lot }))
	f.days(3)
	f.add(bags[0].Code, grow.KindCull, grow.Details{Why: "contaminated"})
	f.add(bags[1].Code, grow.KindFinish, grow.Details{Why: "sold", To: "an invented kitchen"})
	f.add(bags[2].Code, grow.KindMove, grow.Details{Place: "room 2"})
	f.pick(bags[2].Code, 0)
	f.days(1)
	f.pick(bags[2].Code, 300)
	f.days(4)
	f.pick(bags[2].Code, 120)
	r, err := f.Recall(t.Context(), "S-1")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, b := range r.Bags {
		line := fmt.Sprint(b.Number, " ", b.State)
		for _, s := range []*string{b.Place, b.EndedWhy, b.To} {
			if s != nil {
				line += ", " + *s
			}
		}
		got = append(got, line)
	}
	want := []string{"4 unmarked", "3 fruiting, room 2", "2 finished, sold, an invented kitchen", "1 culled, contaminated"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	eaten := Picked{420, new(grow.DateOn(2026, time.November, 26)), new(grow.DateOn(2026, time.November, 30))}
	if diff := cmp.Diff([]Picked{eaten, eaten, {}, {}}, []Picked{r.Picked, r.Bags[1].Picked, r.Bags[0].Picked, r.MaybePicked}); diff != "" {
		t.Errorf("picked (-want +got):\n%s", diff)
	}
}

// TestRecallOfAJar names apart the bags of which nobody scanned the jar: it may have
// been this one. So may lots made from the lot as a whole.
func TestRecallOfAJar(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, jars := f.lot(grow.SpawnLot, "S-1", 2)
	f.lot(grow.SpawnLot, "S-2", 0, "S-1")
	_, bags := f.make(f.king(4, func(d *grow.BatchDraft) { d.SpawnLot = new("S-1") }))
	f.make(f.king(3, func(d *grow.BatchDraft) { d.SpawnLot = new("S-2") }))
	f.make(f.king(5))
	f.spawned(jars[0].Code, bags[0])
	f.spawned(jars[1].Code, bags[1])
	for text, want := range map[string][2]int{string(jars[0].Code): {1, 5}, string(jars[1].Code): {1, 5}, "S-1": {7, 0}, "S-2": {3, 0}} {
		r, err := f.Recall(t.Context(), text)
		if got := [2]int{len(r.Bags), len(r.Maybe)}; err != nil || got != want {
			t.Errorf("%s: sure and maybe %v, %v; want %v", r.Of, got, err, want)
		}
	}
}

// TestALotIsHeldAgainstOthers by the bags that came from it: those of its batches
// with a jar of another lot are on neither side.
func TestALotIsHeldAgainstOthers(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.lot(grow.SpawnLot, "S-1", 1)
	_, others := f.lot(grow.SpawnLot, "S-2", 1)
	_, bags := f.make(f.king(6, func(d *grow.BatchDraft) { d.SpawnLot = new("S-1") }))
	_, rest := f.make(f.king(3))
	f.spawned(others[0].Code, bags[0], bags[1])
	f.days(10)
	for _, b := range bags[:2] {
		f.add(b.Code, grow.KindContaminated, grow.Details{What: "green_mould"})
	}
	f.days(20)
	for _, b := range append(bags[2:], rest...) {
		f.add(b.Code, grow.KindColonised, grow.Details{Pct: new(100.0)})
	}
	for lot, want := range map[string]string{"S-1": "0 of 4 against 0 of 3", "S-2": "2 of 2 against 0 of 3"} {
		got := "nothing"
		if a := f.lotWhole(lot).Against; a != nil {
			got = fmt.Sprintf("%d of %d against %d of %d", a.With.Contaminated, a.With.Bags, a.Without.Contaminated, a.Without.Bags)
		}
		if got != want {
			t.Errorf("%s: %s, want %s", lot, got, want)
		}
	}
}

// TestRefusalsNameWhatTheyAreAbout: a jar is no bag, and neither is a lot.
func TestRefusalsNameWhatTheyAreAbout(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	lot, jars := f.lot(grow.SpawnLot, "S-1", 1)
	for code, want := range map[grow.Code]string{lot.Code: "this lot is finished", jars[0].Code: "this jar is finished"} {
		f.saw(code, grow.KindFinish, grow.Details{Why: "used_as_spawn"})
		_, _, err := f.AddStockEntry(t.Context(), f.by, grow.Draft{ID: f.id(), Bag: code, Kind: grow.KindShake})
		if wantKind(t, want, err, grow.Conflict); !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%v, want %s", err, want)
		}
	}
}

// TestNothingIsMadeFromItself keeps what was made from what free of circles.
func TestNothingIsMadeFromItself(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.lot(grow.CultureLot, "A", 0)
	f.lot(grow.SpawnLot, "B", 2, "A")
	f.lot(grow.SpawnLot, "C", 0, "B")
	jar := string(f.lotWhole("B").Jars[0].Code)
	for name, from := range map[string]string{"A": "C", "B": "B", "C": "C"} {
		_, err := f.PatchLot(t.Context(), f.by, name, func(l *grow.LotFields) error { l.MadeFrom = []string{from}; return nil })
		wantKind(t, name+" from "+from, err, grow.Invalid)
	}
	_, err := f.PatchLot(t.Context(), f.by, "A", func(l *grow.LotFields) error { l.MadeFrom = []string{jar}; return nil })
	wantKind(t, "A from a jar of B", err, grow.Invalid)
	if got := names(f.lotWhole("A").Below); !slices.Equal(got, []string{"1 B", "2 C"}) {
		t.Errorf("below A after the refusals: %v", got)
	}
}

// TestLotIsMadeOnce: the same id and body again makes nothing; a lot that is
// only a name takes a draft's fields.
func TestLotIsMadeOnce(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	id := f.id()
	d := grow.LotDraft{ID: &id, LotFields: grow.LotFields{Kind: grow.SpawnLot, Name: "S-1"}, Jars: 3}
	first, jars, created, err := f.CreateLot(t.Context(), f.by, d)
	if err != nil || !created || len(jars) != 3 {
		t.Fatal(created, jars, err)
	}
	again, same, created, err := f.CreateLot(t.Context(), f.by, d)
	if err != nil || created || again.Code != first.Code || len(same) != 3 {
		t.Errorf("again: created %t, %v", created, err)
	}
	d.Jars = 4
	_, _, _, err = f.CreateLot(t.Context(), f.by, d)
	wantKind(t, "another body under the id", err, grow.Conflict)
	d.ID = nil
	_, _, _, err = f.CreateLot(t.Context(), f.by, d)
	wantKind(t, "the same name", err, grow.Conflict)

	named := "S-2"
	f.make(f.king(1, func(d *grow.BatchDraft) { d.SpawnLot = &named }))
	l, jars := f.lot(grow.SpawnLot, "s-2", 2)
	f.make(f.king(1, func(d *grow.BatchDraft) { d.SpawnLot = new("S-3") }))
	if _, err := f.PatchLot(t.Context(), f.by, "S-3", func(l *grow.LotFields) error { l.Note = new("rye"); return nil }); err != nil {
		t.Fatal(err)
	}
	_, _, _, err = f.CreateLot(t.Context(), f.by, grow.LotDraft{LotFields: grow.LotFields{Kind: grow.SpawnLot, Name: "S-3"}})
	wantKind(t, "a name of which somebody has said more", err, grow.Conflict)
	if len(jars) != 2 || len(f.lotWhole("S-2").Batches) != 1 || l.MadeBy != f.by.Person {
		t.Errorf("a lot that was a name: %+v", l)
	}
}

// TestJarLog keeps the rules of a bag's log: order by the time seen, taking back,
// one id space with the bags, and what is out takes nothing that would need it.
func TestJarLog(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, jars := f.lot(grow.SpawnLot, "S-1", 2)
	jar := jars[0].Code
	f.days(5)
	bad := f.saw(jar, grow.KindContaminated, grow.Details{What: "green_mould"})
	f.saw(jar, grow.KindCull, grow.Details{Why: "contaminated"})
	_, _, err := f.AddStockEntry(t.Context(), f.by, grow.Draft{ID: f.id(), Bag: jar, Kind: grow.KindShake})
	wantKind(t, "a shake of what is out", err, grow.Conflict)
	earlier := f.clock.now().Add(-48 * time.Hour)
	late := grow.Draft{ID: f.id(), Bag: jar, Kind: grow.KindShake, At: &earlier}
	if _, created, err := f.AddStockEntry(t.Context(), f.by, late); err != nil || !created {
		t.Errorf("a late shake of before: %t, %v", created, err)
	}
	if _, created, err := f.AddStockEntry(t.Context(), f.by, late); err != nil || created {
		t.Errorf("the same again: %t, %v", created, err)
	}
	late.Kind = grow.KindLook
	_, _, err = f.AddStockEntry(t.Context(), f.by, late)
	wantKind(t, "another body under the id", err, grow.Conflict)
	if j := f.lotWhole(string(jar)).Jar; j.State != grow.Culled || j.Contaminated == nil || j.ShakenAt == nil || !j.ShakenAt.Equal(earlier) {
		t.Errorf("the jar: %+v", j)
	}
	f.saw(jar, grow.KindVoid, grow.Details{Entry: bad.ID})
	if j := f.lotWhole(string(jar)).Jar; j.Contaminated != nil {
		t.Errorf("taken back: %+v", j)
	}
	_, bags := f.make(f.king(1))
	_, _, _, err = f.AddEntry(t.Context(), f.by, grow.Draft{ID: bad.ID, Bag: bags[0].Code, Kind: grow.KindLook})
	wantKind(t, "a bag's entry under a jar's id", err, grow.Conflict)
	kept := f.add(bags[0].Code, grow.KindLook)
	_, _, err = f.AddStockEntry(t.Context(), f.by, grow.Draft{ID: kept.Entries[0].ID, Bag: jar, Kind: grow.KindLook})
	wantKind(t, "a jar's entry under a bag's id", err, grow.Conflict)
	_, _, err = f.AddStockEntry(t.Context(), f.by, grow.Draft{ID: f.id(), Bag: bags[0].Code, Kind: grow.KindLook})
	wantKind(t, "a bag is no jar", err, grow.NotFound)
	f.sound()
}

// TestCheckSeesAChangedJarLog: what was changed on the disk is found.
func TestCheckSeesAChangedJarLog(t *testing.T) {
	t.Parallel()
	for name, sql := range map[string]string{
		"an entry changed":  `DROP TRIGGER stock_entries_never_change; UPDATE stock_entries SET detail = '{"text":"clean"}' WHERE kind = 'note'`,
		"an entry taken":    `DROP TRIGGER stock_entries_never_go; DELETE FROM stock_entries WHERE seq = 1`,
		"a state changed":   `UPDATE stock_status SET state = 'culled'`,
		"a status lost":     `DELETE FROM stock_status`,
		"a jar of no lot":   `UPDATE codes SET kind = 'place' WHERE code IN (SELECT code FROM jars)`,
		"a bag's jar moved": `UPDATE bags SET spawn_jar = NULL`,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f := newLabFarm(t)
			_, jars := f.lot(grow.SpawnLot, "S-1", 1)
			f.saw(jars[0].Code, grow.KindNote, grow.Details{Text: "smells of nothing"})
			f.saw(jars[0].Code, grow.KindColonised, grow.Details{Pct: new(100.0)})
			_, bags := f.make(f.king(1))
			f.spawned(jars[0].Code, bags...)
			f.sound()
			if _, err := f.write.Exec(sql); err != nil {
				t.Fatal(err)
			}
			if r := must(Check(t.Context(), f.dir))(t); len(r.Problems) == 0 {
				t.Error("nothing was found")
			}
		})
	}
}

// TestSilentJars finds the jar whose bags do not start, not its sister whose do.
func TestSilentJars(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, jars := f.lot(grow.SpawnLot, "S-1", 4)
	_, bags := f.make(f.king(12))
	f.spawned(jars[2].Code, bags[:6]...)
	f.spawned(jars[3].Code, bags[6:]...)
	f.days(8)
	for _, b := range bags { // marked so late, as the bags of a backdated batch are
		f.add(b.Code, grow.KindMarked)
	}
	if s := must(f.Today(t.Context()))(t).Silent; len(s) != 0 {
		t.Errorf("nobody has looked: %+v", s)
	}
	for _, b := range bags[:6] {
		f.add(b.Code, grow.KindSign, grow.Details{Sign: "started"})
	}
	for _, b := range bags[6:10] {
		f.add(b.Code, grow.KindLook)
	}
	s := must(f.Today(t.Context()))(t).Silent
	if len(s) != 1 || s[0].Words != "None of 6 bags from S-1 jar 4 has started by day 8." || s[0].Jar != jars[3].Code {
		t.Errorf("got %+v", s)
	}
	if w := f.lotWhole(string(jars[2].Code)); len(w.Silent) != 0 {
		t.Errorf("jar 3: %+v", w.Silent)
	}
}

// TestLooksAloneAreNoSilence: in a farm that only says clean, no jar is said to be
// dead; one whose bags are said to be bare is.
func TestLooksAloneAreNoSilence(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, jars := f.lot(grow.SpawnLot, "S-1", 2)
	_, bags := f.make(f.king(8))
	f.spawned(jars[0].Code, bags[:4]...)
	f.spawned(jars[1].Code, bags[4:]...)
	f.days(7)
	for _, b := range bags {
		f.add(b.Code, grow.KindLook, grow.Details{Seen: "turned"})
	}
	if s := must(f.Today(t.Context()))(t).Silent; len(s) != 0 {
		t.Errorf("all turned and clean: %+v", s)
	}
	f.add(bags[4].Code, grow.KindSign, grow.Details{Sign: "no_growth"})
	f.add(bags[5].Code, grow.KindSign, grow.Details{Sign: "no_growth"})
	if s := must(f.Today(t.Context()))(t).Silent; len(s) != 1 || s[0].Jar != jars[1].Code {
		t.Errorf("two of four said to be bare: %+v", s)
	}
}

// TestJarInTrace: the jar is compared between bags of the same batch, and only
// where somebody scanned one.
func TestJarInTrace(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, jars := f.lot(grow.SpawnLot, "S-1", 2)
	_, bags := f.make(f.king(20))
	rows := func() []string {
		tr := must(f.Trace(t.Context(), bags[0].Code))(t)
		var out []string
		for _, r := range tr.Conditions {
			if r.Key == grow.SpawnJarKey {
				out = append(out, fmt.Sprintf("%s %s %d/%d against %d/%d %s", r.Level, r.Value, r.With.Contaminated, r.With.Bags, r.Without.Contaminated, r.Without.Bags, r.Method))
			}
		}
		return out
	}
	if got := rows(); got != nil {
		t.Errorf("no jar was scanned: %v", got)
	}
	f.spawned(jars[0].Code, bags[:10]...)
	f.spawned(jars[1].Code, bags[10:]...)
	f.days(20)
	for i, b := range bags {
		if i < 8 {
			f.add(b.Code, grow.KindContaminated, grow.Details{What: "green_mould"})
		} else {
			f.add(b.Code, grow.KindColonised, grow.Details{Pct: new(100.0)})
		}
	}
	f.days(10)
	for _, b := range bags[8:] {
		f.add(b.Code, grow.KindLook)
	}
	if diff := cmp.Diff([]string{"bag S-1 jar 1 8/10 against 0/10 stratified_exact_midp"}, rows()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	c := must(f.Contamination(t.Context(), ContaminationQuery{By: grow.SpawnJarKey}))(t)
	if len(c.Groups) != 2 || c.Groups[0].Value != "S-1 jar 1" || c.Groups[0].Contaminated != 8 {
		t.Errorf("groups %+v", c.Groups)
	}
}

// TestLotsAreExported: every lot, jar and entry is in the tables.
func TestLotsAreExported(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.lot(grow.CultureLot, "C-7", 0)
	_, jars := f.lot(grow.SpawnLot, "S-1", 2, "C-7")
	f.saw(jars[1].Code, grow.KindNote, grow.Details{Text: "=1+1"})
	var lots, entries bytes.Buffer
	if err := f.ExportLots(t.Context(), &lots); err != nil {
		t.Fatal(err)
	}
	if err := f.ExportStockEntries(t.Context(), &entries); err != nil {
		t.Fatal(err)
	}
	if got := strings.Count(lots.String(), "\r\n"); got != 5 {
		t.Errorf("%d lines of lots:\n%s", got, lots.String())
	}
	if !strings.Contains(entries.String(), "S-1 jar 2,"+string(jars[1].Code)+",") || !strings.Contains(entries.String(), ",'=1+1,") {
		t.Errorf("entries:\n%s", entries.String())
	}
}
