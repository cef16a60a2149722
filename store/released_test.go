package store

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/csv"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow/yield"

	"github.com/google/go-cmp/cmp"
)

var remake = flag.Bool("remake-released", false, "make the farm of the newest schema in testdata anew; never once that schema is released")

// TestFarmsOfReleasedSchemas opens a small farm of every schema that was
// released, as bytes that are never made again: it is brought up to
// date, is in order, and exports the same records.
func TestFarmsOfReleasedSchemas(t *testing.T) {
	t.Parallel()
	newest := must(SchemaVersion())(t)
	if *remake {
		remakeReleased(t, newest)
	}
	files := must(filepath.Glob(filepath.Join("testdata", "farm-version-*.zip.gz")))(t)
	if len(files) == 0 {
		t.Fatal("there is no farm of any released schema")
	}
	for _, file := range files {
		var version int
		if _, err := fmt.Sscanf(filepath.Base(file), "farm-version-%d.", &version); err != nil {
			t.Fatal(err)
		}
		t.Run(fmt.Sprintf("version %d", version), func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join(t.TempDir(), "farm")
			if err := Restore(t.Context(), dir, unpacked(t, released(version))); err != nil {
				t.Fatal(err)
			}
			if r := must(Check(t.Context(), dir))(t); len(r.Problems) > 0 || there(filepath.Join(dir, fmt.Sprintf("farm-version-%d.db", version))) {
				t.Errorf("check of what was just restored: %v, or a copy of what is in the backup anyway", r.Problems)
			}
			madeThen := func() time.Time { return time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC) } // ages stand in the exports
			s := must(Open(t.Context(), dir, Options{MustExist: true, Now: madeThen}))(t)
			var got string
			for _, export := range []func(context.Context, io.Writer) error{s.ExportBatches, s.ExportBags, s.ExportEntries} {
				text, _, _ := exported(t, func(b *bytes.Buffer) error { return export(t.Context(), b) })
				got += text
			}
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			if r := must(Check(t.Context(), dir))(t); len(r.Problems) > 0 {
				t.Errorf("check: %v", r.Problems)
			}
			golden := filepath.Join("testdata", fmt.Sprintf("farm-version-%d.csv", version))
			if *remake && version == newest {
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			kept, now := exportedRows(t, string(must(os.ReadFile(golden))(t))), exportedRows(t, got)
			for i := range now { // columns that came later have nothing to be held against
				maps.DeleteFunc(now[i], func(column, _ string) bool { return i < len(kept) && !has(kept[i], column) })
			}
			if diff := cmp.Diff(kept, now); diff != "" {
				t.Errorf("exports (-kept +now):\n%s", diff)
			}
		})
	}
}

// TestHarvestsOfAFirstFarm: what was picked in a farm of the first schema, whose
// bytes are never made again, has the same flushes and grams in this one. Four
// bags of 2,500 g at 62 %: one picked twice, with a slip of the hand taken back;
// one whose first flush took two days and whose second nobody wrote down; one
// whose first picking was heard of after its second; one thrown out before.
func TestHarvestsOfAFirstFarm(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "farm")
	if err := Restore(t.Context(), dir, unpacked(t, filepath.Join("testdata", "picked-version-1.zip.gz"))); err != nil {
		t.Fatal(err)
	}
	s := must(Open(t.Context(), dir, Options{MustExist: true}))(t)
	defer s.Close()
	if r := must(Check(t.Context(), dir))(t); len(r.Problems) > 0 {
		t.Errorf("check: %v", r.Problems)
	}
	_, rows, _ := exported(t, func(b *bytes.Buffer) error { return s.ExportBags(t.Context(), b) })
	var bags []string
	for _, r := range rows {
		bags = append(bags, r["bag"]+": "+r["more:grams"]+" g, flush "+r["more:flush"]+", "+r["more:state"])
	}
	if diff := cmp.Diff([]string{"1: 570 g, flush 2, finished", "2: 490 g, flush 3, finished", "3: 380 g, flush 2, finished", "4: 0 g, flush 0, culled"}, bags); diff != "" {
		t.Errorf("bags (-want +got):\n%s", diff)
	}
	_, rows, _ = exported(t, func(b *bytes.Buffer) error { return s.ExportEntries(t.Context(), b) })
	if n := len(slices.DeleteFunc(rows, func(r map[string]string) bool { return r["kind"] != "harvest" })); n != 8 {
		t.Errorf("%d pickings on record, one of them taken back; want 8", n)
	}
	y := must(s.Yield(t.Context(), YieldQuery{Measure: yield.Efficiency}))(t)
	var flushes []float64
	for _, f := range y.All.Flushes {
		flushes = append(flushes, f.Grams)
	}
	if diff := cmp.Diff([]float64{1100, 250, 90}, flushes); diff != "" {
		t.Errorf("grams by flush (-want +got):\n%s", diff)
	}
	if want := 100 * 1440 / (4 * 950.); y.All.Bags != 4 || math.Abs(*y.All.EfficiencyPct-want) > 1e-9 || y.All.ToFirst.Median != 37 {
		t.Errorf("%d bags, efficiency %v, first picked on day %g; want 4, %g, 37", y.All.Bags, *y.All.EfficiencyPct, y.All.ToFirst.Median, want)
	}
}

// unpacked is a backup of a farm of a released schema.
func unpacked(t *testing.T, packed string) (path string) {
	t.Helper()
	z := must(gzip.NewReader(bytes.NewReader(must(os.ReadFile(packed))(t))))(t)
	path = filepath.Join(t.TempDir(), "farm.zip")
	if err := os.WriteFile(path, must(io.ReadAll(z))(t), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// exportedRows are the rows of several exports, one after the other, by column.
func exportedRows(t *testing.T, text string) (out []map[string]string) {
	t.Helper()
	r := csv.NewReader(strings.NewReader(text))
	r.FieldsPerRecord = -1
	var head []string
	for _, line := range must(r.ReadAll())(t) {
		if line[0] == "batch" {
			head = line
			continue
		}
		row := map[string]string{}
		for i, cell := range line {
			row[head[i]] = cell
		}
		out = append(out, row)
	}
	return out
}

func has(row map[string]string, column string) bool {
	_, there := row[column]
	return there
}

func released(version int) string {
	return filepath.Join("testdata", fmt.Sprintf("farm-version-%d.zip.gz", version))
}

func remakeReleased(t *testing.T, version int) {
	t.Helper()
	_, path := saved(t)
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, err := z.Write(must(os.ReadFile(path))(t))
	if err := errors.Join(err, z.Close(), os.MkdirAll("testdata", 0o755), os.WriteFile(released(version), b.Bytes(), 0o644)); err != nil {
		t.Fatal(err)
	}
}

// TestMigrationKeepsWhatWasBefore: a migration that fails leaves the farm as it
// was, and one that succeeds leaves a copy of what it was.
func TestMigrationKeepsWhatWasBefore(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(2))
	all := must(allMigrations())(t)
	newest := all[len(all)-1].number
	copied := filepath.Join(f.dir, fmt.Sprintf("farm-version-%d.db", newest))
	before := f.everything()

	broken := append(all[:len(all):len(all)], migration{newest + 1, `ALTER TABLE farm ADD COLUMN motto TEXT; INSERT INTO nowhere VALUES (1)`})
	if err := f.migrateBy(t.Context(), broken, ""); err == nil {
		t.Error("a migration that cannot run is taken for done")
	}
	if diff := cmp.Diff(before, f.everything()); diff != "" {
		t.Errorf("a migration that failed left (-before +after):\n%s", diff)
	}
	sound := append(all[:len(all):len(all)], migration{newest + 1, `ALTER TABLE farm ADD COLUMN motto TEXT`})
	if err := f.migrateBy(t.Context(), sound, ""); err != nil {
		t.Fatal(err)
	}
	if v := pragma(t, f.write, `PRAGMA user_version`); v != fmt.Sprint(newest+1) {
		t.Errorf("the database has version %s", v)
	}
	old := filepath.Join(t.TempDir(), "old")
	if err := errors.Join(os.MkdirAll(old, 0o700), os.Rename(copied, filepath.Join(old, databaseName))); err != nil {
		t.Fatal(err)
	}
	s := must(Open(t.Context(), old, Options{MustExist: true}))(t)
	defer s.Close()
	if _, err := s.Bag(t.Context(), bags[1].Code); err != nil {
		t.Errorf("the copy of what the farm was: %v", err)
	}
	if files := must(filepath.Glob(filepath.Join(f.dir, "*.tmp")))(t); len(files) > 0 {
		t.Errorf("left behind: %v", files)
	}
}
