package store

import (
	"bytes"
	"encoding/hex"
	"slices"
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// filled says which lot of substrate a batch's bags were filled with.
func filled(with string) func(*grow.BatchDraft) {
	return func(d *grow.BatchDraft) { d.SubstrateLot = &with }
}

// TestSubstrateLot: a batch names the lot of substrate that its bags were filled
// with, by name or code; a new name makes one, of substrate; a lot of another kind
// is refused, and a correction is on record.
func TestSubstrateLot(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	a, _ := f.make(f.king(1, filled("oak 12")))
	lot := f.lotWhole("OAK 12").Lot
	if lot.Kind != grow.SubstrateLot || *a.SubstrateLot != "oak 12" {
		t.Fatalf("%+v, %q", lot, *a.SubstrateLot)
	}
	b, _ := f.make(f.king(1, filled(lot.Code.Spaced())))
	if *b.SubstrateLot != "oak 12" {
		t.Errorf("by its code: %q", *b.SubstrateLot)
	}
	f.lot(grow.SpawnLot, "S-31", 0)
	_, _, _, err := f.CreateBatch(t.Context(), f.by, f.king(1, filled("S-31")))
	if wantKind(t, "a lot of spawn", err, grow.Invalid); !strings.Contains(err.Error(), "S-31 is a lot of grain spawn, not of substrate") {
		t.Error(err)
	}
	is, err := f.PatchBatch(t.Context(), f.by, a.Code, func(b *grow.BatchFields) error { b.SubstrateLot = nil; return nil })
	if err != nil || is.SubstrateLot != nil {
		t.Fatal(is.SubstrateLot, err)
	}
	if c := f.whole(a.Code).Changes[0]; c.Field != "substrate_lot" || c.Old != "oak 12" || c.New != "" {
		t.Errorf("on record: %+v", c)
	}
	if u := must(f.Used(t.Context()))(t); !slices.Equal(u.Mixes, []string{"oak 12"}) || slices.Contains(u.SpawnLots, "oak 12") {
		t.Errorf("offered: %+v", u)
	}
	_, rows, _ := exported(t, func(out *bytes.Buffer) error { return f.ExportBatches(t.Context(), out) })
	_, bags, _ := exported(t, func(out *bytes.Buffer) error { return f.ExportBags(t.Context(), out) })
	for i, want := range []string{"", "oak 12"} {
		if rows[i]["substrate_lot"] != want || bags[i]["more:substrate_lot"] != want {
			t.Errorf("exports of batch %d: %q, %q; want %q", i+1, rows[i]["substrate_lot"], bags[i]["more:substrate_lot"], want)
		}
	}
	f.sound()
}

// TestWhatWasFilledWithALot: its own batches, and of its steriliser run those
// that name no lot; contamination is set against it.
func TestWhatWasFilledWithALot(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	for _, name := range []string{"oak 12", "beech 3"} {
		if _, _, _, err := f.CreateLot(t.Context(), f.by, grow.LotDraft{LotFields: grow.LotFields{Kind: grow.SubstrateLot, Name: name, SteriliserRun: new("R-31")}}); err != nil {
			t.Fatal(err)
		}
	}
	ofRun := func(d *grow.BatchDraft) { d.SteriliserRun = new("R-31") }
	oak, bags := f.make(f.king(2, ofRun, filled("oak 12")))
	beech, _ := f.make(f.king(1, ofRun, filled("beech 3")))
	unsaid, _ := f.make(f.king(1, ofRun))
	elsewhere, _ := f.make(f.king(1, filled("oak 12")))
	f.make(f.king(1))
	for lot, want := range map[string][]grow.BatchCode{"oak 12": {oak.Code, unsaid.Code, elsewhere.Code}, "beech 3": {beech.Code, unsaid.Code}} {
		var got []grow.BatchCode
		for _, b := range f.lotWhole(lot).Batches {
			got = append(got, b.Code)
		}
		slices.Sort(got)
		slices.Sort(want)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", lot, diff)
		}
	}
	if r := must(f.Recall(t.Context(), "oak 12"))(t); len(r.Bags) != 4 {
		t.Errorf("%d bags to recall, want 4", len(r.Bags))
	}
	if r := must(f.Recall(t.Context(), "R-31"))(t); len(r.Bags) != 5 { // with what its lots filled outside of it
		t.Errorf("%d bags of the run, want 5", len(r.Bags))
	}
	for _, b := range bags {
		f.add(b.Code, grow.KindMarked, grow.Details{Bench: true})
	}
	f.days(10)
	f.add(bags[0].Code, grow.KindContaminated, grow.Details{What: "green_mould"})
	c, err := f.Contamination(t.Context(), ContaminationQuery{By: "substrate_lot"})
	if err != nil || len(c.Groups) == 0 || c.Groups[0].Value != "oak 12" && c.Groups[len(c.Groups)-1].Value != "oak 12" {
		t.Errorf("%+v, %v", c.Groups, err)
	}
	tr := f.trace(bags[0].Code)
	if !slices.ContainsFunc(tr.AtRisk, func(r AtRisk) bool { return slices.Contains(r.Shares, "substrate_lot") }) {
		t.Errorf("the bag made next does not share the lot: %+v", tr.AtRisk)
	}
}

// TestBodiesFromBeforeSubstrateLots: what a phone sent before batches had the
// field has the same sum, so that a repeat is told.
func TestBodiesFromBeforeSubstrateLots(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	const before = "e2a5dbb8215178b776d1bd09e3f4c1f09a1c86643aa54e7c920a39745e210f9d"
	sum := must(sentSum(f.king(2)))(t)
	if got := hex.EncodeToString(sum); got != before {
		t.Errorf("sum %s, want %s", got, before)
	}
}
