package store

import (
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// TestLabDayTakesSterileBags: the first numbers carry the labels of the bags that
// wait, all of them unless a count is said; sent again it is the same batch;
// another run in the head is refused at the row.
func TestLabDayTakesSterileBags(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	f.steamed("R-31")
	run := must(f.Run(t.Context(), "R-31"))(t).Run.Code
	bags := made(f.CreateSterile(t.Context(), f.by, "R-31", SterileDraft{Count: 5, Recipe: new("oak")}))(t)
	made(f.CreateSterile(t.Context(), f.by, "R-31", SterileDraft{Count: 1, Control: true}))(t)
	f.days(1)
	own := map[grow.Code]bool{}
	for _, b := range bags {
		own[b.Code] = true
	}
	day := func(n int, id grow.ID, head *string) grow.BatchDraft {
		return f.king(n, func(d *grow.BatchDraft) { d.ID, d.SteriliserRun = &id, head })
	}
	first, second := grow.ID("00000000-0000-4000-8000-000000000001"), grow.ID("00000000-0000-4000-8000-000000000002")
	_, err := f.CreateLabDay(t.Context(), f.by, []grow.BatchDraft{f.king(1), day(0, first, new("R-7"))}, map[int]grow.Code{1: run})
	wantFields(t, "another run above", err, "batches[1].sterile")
	drafts := []grow.BatchDraft{day(2, first, nil), day(0, second, new("r-31"))}
	for again := range 2 {
		got := must(f.CreateLabDay(t.Context(), f.by, drafts, map[int]grow.Code{0: run, 1: run}))(t)
		if got[0].Bags != 2 || got[1].Bags != 3 || *got[0].SteriliserRun != "R-31" || *got[0].Recipe != "oak" {
			t.Errorf("sent %d times: %d bags of %v and %d", again+1, got[0].Bags, got[0].SteriliserRun, got[1].Bags)
		}
		for _, b := range got {
			for _, g := range must(f.Batch(t.Context(), b.Code))(t).Bags {
				if !own[g.Code] {
					t.Errorf("bag %d of %s carries %s, no label of a sterile bag", g.Number, b.Code, g.Code)
				}
			}
		}
	}
	if left := must(f.SterileLeft(t.Context()))(t); len(left) != 0 {
		t.Errorf("left: %s", cmp.Diff([]SterileLeft(nil), left))
	}
	_, err = f.CreateLabDay(t.Context(), f.by, []grow.BatchDraft{f.king(0)}, map[int]grow.Code{0: run})
	wantFields(t, "none left", err, "batches[0].sterile")

	made(f.CreateSterile(t.Context(), f.by, "R-31", SterileDraft{Count: 2}))(t)
	got := must(f.CreateLabDay(t.Context(), f.by, []grow.BatchDraft{f.king(3, func(d *grow.BatchDraft) { d.SteriliserRun = nil })}, map[int]grow.Code{0: run}))(t)
	if got[0].Bags != 3 {
		t.Errorf("more bags than wait: %d, want 3", got[0].Bags)
	}
}
