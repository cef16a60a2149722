package store

import (
	"bytes"
	"encoding/csv"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

const racks = `batch,species,inoculated_on,bag,strain,spawn_lot,place,not_colonised_on,colonised_on,clean_on,contaminated_on,what,culled_on,finished_on,condition:flow_hood,condition:bag_maker
A1K,king oyster,2026-03-01,1,K7,rye 12,room 2 > rack 3,2026-03-12,2026-03-15,,,,,,on,old box
A1K,pleurotus-eryngii,2026-03-01,2,,rye 12,room 2 > rack 3,,,2026-03-06,2026-03-08,green_mould,2026-03-08,,off,old box
A1K,King Oyster,2026-03-01,3,K7,,room 2 > rack 3,,,,,,,2026-03-14,,new box
lion spring,lion's mane,2026-03-02,,,,room 1,,,,,,2026-03-09,,,
lion spring,lion's mane,2026-03-02,,,,room 2,,,2026-03-09,,,,,,
`

func importFarm(t *testing.T) *Store {
	t.Helper()
	at := time.Date(2026, 3, 15, 9, 30, 0, 0, time.UTC)
	s, err := Open(t.Context(), t.TempDir(), Options{Now: func() time.Time { return at }, TimeZone: "Europe/Lisbon"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func TestImport(t *testing.T) {
	t.Parallel()
	s := importFarm(t)
	got, err := s.Import(t.Context(), Actor{Person: "Ines"}, []byte(racks))
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Batches) != 2 || got.Bags != 5 || got.Entries != 8 || len(got.Conditions) != 1 || got.Conditions[0].Key != "bag_maker" {
		t.Fatalf("took in %d batches, %d bags, %d entries, conditions %v", len(got.Batches), got.Bags, got.Entries, got.Conditions)
	}
	king, err := s.Batch(t.Context(), "A1K")
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]int{"unmarked": 0, "colonising": 0, "colonised": 1, "isolated": 0, "fruiting": 0, "finished": 1, "culled": 1, "contaminated": 1}
	if diff := cmp.Diff(want, king.Counts); diff != "" {
		t.Error(diff)
	}
	if *king.Batch.Place != "room 2 > rack 3" || *king.Batch.Strain != "K7" || *king.Batch.SpawnLot != "rye 12" {
		t.Errorf("the batch is %+v", king.Batch)
	}
	bag, err := s.Bag(t.Context(), king.Bags[0].Code)
	if err != nil {
		t.Fatal(err)
	}
	var log []string
	for _, e := range slices.Backward(bag.Entries) {
		log = append(log, string(e.Kind)+" "+e.At.Format("01-02 15:04"))
	}
	// Noon of the day, or the moment of the import where that is earlier.
	if diff := cmp.Diff([]string{"colonised 03-12 12:00", "colonised 03-15 09:30"}, log); diff != "" {
		t.Error(diff)
	}
	if bag.MarkedAt == nil {
		t.Error("a bag taken in counts as marked")
	}
	bad, err := s.Bag(t.Context(), king.Bags[1].Code)
	if err != nil {
		t.Fatal(err)
	}
	if bad.Contaminated == nil || bad.Contaminated.What != "green_mould" || bad.Status.EndedWhy != "contaminated" {
		t.Errorf("the mouldy bag is %+v", bad.Status)
	}
	lion, err := s.Batch(t.Context(), got.Batches[1].Code)
	if err != nil {
		t.Fatal(err)
	}
	if lion.Batch.Place != nil || *lion.Bags[0].Place != "room 1" || *lion.Bags[1].Place != "room 2" || lion.Bags[0].Number != 1 || lion.Bags[1].Number != 2 {
		t.Errorf("the bags stand at %v and %v", *lion.Bags[0].Place, *lion.Bags[1].Place)
	}
	if _, err := s.Import(t.Context(), Actor{}, []byte(racks)); grow.KindOf(err) != grow.Invalid {
		t.Errorf("taken in twice: %v", err)
	}
}

func TestImportRefuses(t *testing.T) {
	t.Parallel()
	head := "batch,species,inoculated_on,bag,colonised_on,culled_on,finished_on,what,contaminated_on,condition:flow_hood\n"
	for _, c := range []struct{ name, file, line, says string }{
		{"day first", head + "A,enoki,01/03/2026,,,,,,,\n", "line 2", "the year comes first"},
		{"unknown column", "batch,species,inoculated_on,colour\nA,enoki,2026-03-01,red\n", "line 1", `"colour"`},
		{"missing column", "batch,species\nA,enoki\n", "line 1", "inoculated_on"},
		{"unknown species", head + "A,truffle,2026-03-01,,,,,,,\n", "line 2", "truffle"},
		{"before it was made", head + "A,enoki,2026-03-01,,2026-02-28,,,,,\n", "line 2", "before the bag was made"},
		{"in the future", head + "A,enoki,2026-03-01,,2026-03-16,,,,,\n", "line 2", "future"},
		{"two days", head + "A,enoki,2026-03-01,,,,,,,\nA,enoki,2026-03-02,,,,,,,\n", "line 3", "one day"},
		{"two species", head + "A,enoki,2026-03-01,,,,,,,\nA,beech,2026-03-01,,,,,,,\n", "line 3", "one species"},
		{"number twice", head + "A,enoki,2026-03-01,4,,,,,,\nA,enoki,2026-03-01,4,,,,,,\n", "line 3", "already"},
		{"both ends", head + "A,enoki,2026-03-01,,,2026-03-05,2026-03-06,,,\n", "line 2", "cannot also be finished"},
		{"what without a day", head + "A,enoki,2026-03-01,,,,,cobweb,,\n", "line 2", "contaminated_on is empty"},
		{"value of a condition", head + "A,enoki,2026-03-01,,,,,,,sideways\n", "line 2", "must be one of"},
		{"too many cells", head + "A,enoki,2026-03-01,,,,,,,on,more\n", "line 2", "more cells"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := importFarm(t)
			// A good row beside the faulty one must not get in either.
			_, err := s.Import(t.Context(), Actor{}, []byte(c.file+"Z,enoki,2026-03-01,,,,,,,\n"))
			var e *grow.Error
			if !errors.As(err, &e) || !strings.Contains(e.Fields[c.line], c.says) {
				t.Fatalf("got %v", err)
			}
			page, err := s.Batches(t.Context(), BatchFilter{})
			if err != nil || len(page.Batches) != 0 {
				t.Errorf("left %d batches behind, %v", len(page.Batches), err)
			}
		})
	}
}

// Spreadsheet programs write byte order marks, semicolons, CR LF and empty
// rows (common practice).
func TestImportHabits(t *testing.T) {
	t.Parallel()
	s := importFarm(t)
	file := "\ufeffbatch;species;inoculated_on;colonised_on\r\n\"B;1\";enoki;2026-03-01;\r\n\"B;1\";Enoki ;2026-03-01;2026-03-14\r\n;;;\r\n"
	got, err := s.Import(t.Context(), Actor{}, []byte(file))
	if err != nil || got.Bags != 2 || got.Entries != 1 || got.Batches[0].Species != "flammulina-filiformis" {
		t.Fatalf("%+v, %v", got, err)
	}
}

// Out of one farm, into an empty one, and out again gives the same facts.
func TestExportImportExport(t *testing.T) {
	t.Parallel()
	a, b := importFarm(t), importFarm(t)
	if _, err := a.Import(t.Context(), Actor{}, []byte(racks)); err != nil {
		t.Fatal(err)
	}
	first := exportFacts(t, a)
	var whole bytes.Buffer
	if err := a.ExportBags(t.Context(), &whole); err != nil {
		t.Fatal(err)
	}
	if _, err := a.Import(t.Context(), Actor{}, whole.Bytes()); grow.KindOf(err) != grow.Invalid {
		t.Errorf("a farm took its own bags in once more: %v", err)
	}
	if _, err := b.Import(t.Context(), Actor{}, whole.Bytes()); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(first, exportFacts(t, b)); diff != "" {
		t.Error(diff)
	}
}

// exportFacts are the exported bags without the columns that an import skips,
// and without the names that each farm gives its batches.
func exportFacts(t *testing.T, s *Store) [][]string {
	t.Helper()
	var out bytes.Buffer
	if err := s.ExportBags(t.Context(), &out); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	keep := slices.IndexFunc(rows[0], func(name string) bool { return strings.HasPrefix(name, "more:") })
	for i := range rows {
		rows[i] = rows[i][1:keep]
	}
	slices.SortFunc(rows, slices.Compare)
	return rows
}
