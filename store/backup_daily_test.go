package store

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// TestDailyBackups: one file a day, which can be restored; other files in the
// folder are left alone.
func TestDailyBackups(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	f.stock(t)
	folder := t.TempDir()
	for _, name := range []string{"bagmark-2020-01-01.zip.old", "diary.zip", "bagmark-today.zip"} {
		if err := os.WriteFile(filepath.Join(folder, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if at := must(LastBackup(folder))(t); !at.IsZero() {
		t.Errorf("an empty folder has a backup of %s", at)
	}
	for range 2 {
		must(f.BackupDaily(t.Context(), folder))(t)
		f.clock.move(time.Hour)
	}
	f.clock.move(24 * time.Hour)
	must(f.BackupDaily(t.Context(), folder))(t)
	names := must(dailyBackups(folder))(t)
	if want := []string{"bagmark-2026-03-19.zip", "bagmark-2026-03-20.zip"}; !slices.Equal(names, want) {
		t.Fatalf("backups %v, want %v", names, want)
	}
	if files := must(os.ReadDir(folder))(t); len(files) != 5 {
		t.Errorf("%d files in the folder, want the two backups and the three that were there", len(files))
	}
	if at := must(LastBackup(folder))(t); time.Since(at).Abs() > time.Hour {
		t.Errorf("the newest backup was made at %s by its file", at)
	}
	again := filepath.Join(t.TempDir(), "again")
	if err := Restore(t.Context(), again, filepath.Join(folder, names[1])); err != nil {
		t.Fatal(err)
	}
	if r := must(Check(t.Context(), again))(t); len(r.Problems) > 0 || r.Entries == 0 {
		t.Errorf("restored: %+v", r)
	}
}

// TestDailyBackupWithoutItsFolder: a stick that is not plugged in is said in
// plain words, and no folder is made in its place.
func TestDailyBackupWithoutItsFolder(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	folder := filepath.Join(t.TempDir(), "stick")
	_, err := f.BackupDaily(t.Context(), folder)
	if err == nil || !strings.Contains(err.Error(), "plugged in") {
		t.Errorf("without the folder: %v", err)
	}
	if _, err := os.Stat(folder); err == nil {
		t.Error("the folder was made")
	}
	if _, err := LastBackup(folder); err == nil || !strings.Contains(err.Error(), "plugged in") {
		t.Errorf("asked for the last one: %v", err)
	}
}

// TestKeepRule: the 14 newest, and the first of each month of those before.
func TestKeepRule(t *testing.T) {
	t.Parallel()
	var names, want []string
	day := time.Date(2023, 9, 20, 0, 0, 0, 0, time.UTC)
	for ; day.Before(time.Date(2026, 4, 3, 0, 0, 0, 0, time.UTC)); day = day.AddDate(0, 0, 1) {
		names = append(names, fmt.Sprintf("bagmark-%s.zip", day.Format(time.DateOnly)))
	}
	for m := time.Date(2024, 4, 1, 0, 0, 0, 0, time.UTC); m.Before(time.Date(2026, 3, 15, 0, 0, 0, 0, time.UTC)); m = m.AddDate(0, 1, 0) {
		want = append(want, fmt.Sprintf("bagmark-%s.zip", m.Format(time.DateOnly)))
	}
	for d := time.Date(2026, 3, 20, 0, 0, 0, 0, time.UTC); d.Before(day); d = d.AddDate(0, 0, 1) {
		want = append(want, fmt.Sprintf("bagmark-%s.zip", d.Format(time.DateOnly)))
	}
	gone := tooOld(names)
	kept := slices.DeleteFunc(slices.Clone(names), func(n string) bool { return slices.Contains(gone, n) })
	if diff := cmp.Diff(want, kept); diff != "" {
		t.Errorf("kept (-want +got):\n%s", diff)
	}
	if gone := tooOld(names[:14]); gone != nil {
		t.Errorf("of 14 days' backups these go: %v", gone)
	}
}
