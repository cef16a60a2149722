package store

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"bagmark/grow"
)

// saved is a stocked farm with a backup of it.
func saved(t *testing.T) (f *deskFarm, path string) {
	t.Helper()
	f = newDeskFarm(t)
	f.stock(t)
	path = filepath.Join(t.TempDir(), "farm.backup")
	if _, err := f.Backup(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	return f, path
}

// The file is read here with the standard library alone, as another program
// would.
func TestBackupFile(t *testing.T) {
	t.Parallel()
	f, path := saved(t)
	data := must(os.ReadFile(path))(t)
	z := must(zip.NewReader(bytes.NewReader(data), int64(len(data))))(t)
	sum := sha256.Sum256(data[:len(data)-64])
	if z.Comment != hex.EncodeToString(sum[:]) || !bytes.HasSuffix(data, []byte(z.Comment)) {
		t.Errorf("the comment %q is not the sum of what stands before it", z.Comment)
	}
	if mode := must(os.Stat(path))(t).Mode().Perm(); mode != 0o600 {
		t.Errorf("mode %o", mode)
	}
	var m struct {
		SchemaVersion int `json:"schema_version"`
		Files         []struct {
			Name, SHA256 string
			Size         int
		}
	}
	if err := json.NewDecoder(must(z.Open("manifest.json"))(t)).Decode(&m); err != nil {
		t.Fatal(err)
	}
	if newest := must(SchemaVersion())(t); m.SchemaVersion != newest {
		t.Errorf("version %d, want %d", m.SchemaVersion, newest)
	}
	var names []string
	for _, file := range m.Files {
		names = append(names, file.Name)
		held := must(io.ReadAll(must(z.Open(file.Name))(t)))(t)
		if sum := sha256.Sum256(held); hex.EncodeToString(sum[:]) != file.SHA256 || len(held) != file.Size {
			t.Errorf("%s is not what the manifest says", file.Name)
		}
	}
	for _, e := range z.File {
		if e.Method != zip.Store || e.Name != "manifest.json" && !slices.Contains(names, e.Name) {
			t.Errorf("%s: method %d, in the manifest %v", e.Name, e.Method, slices.Contains(names, e.Name))
		}
	}
	if len(names) != 2 || names[0] != "farm.db" || !strings.HasPrefix(names[1], "photos/") {
		t.Errorf("files: %v", names)
	}
	if left := must(os.ReadDir(filepath.Dir(path)))(t); len(left) != 1 {
		t.Errorf("beside the backup lies %v", left)
	}
	f.wellAfter(t, nil)
}

func TestBackupHoldsNoSignIns(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	f.stock(t)
	token := must(f.NewToken(t.Context(), "office script", Grower))(t)
	invitation := f.invite(t)
	if err := f.PutBench(t.Context(), f.owner, json.RawMessage(`{"switch":"a bench of this morning"}`)); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "farm.backup")
	if _, err := f.Backup(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	data := must(os.ReadFile(path))(t)
	for what, secret := range map[string][]byte{"a sign-in": secretSum(f.own.Secret), "a pairing": secretSum(invitation), "a bench": []byte("a bench of this morning")} {
		if bytes.Contains(data, secret) {
			t.Errorf("%s is in the backup", what)
		}
	}
	if !bytes.Contains(data, secretSum(token)) || !bytes.Contains(data, []byte(deskOwner)) {
		t.Error("people and tokens are not in the backup")
	}
	must(f.Who(t.Context(), f.own.Secret, OverHTTPS))(t) // the farm itself keeps them
}

func TestBackupBesideWriters(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	bag := f.stock(t)[0].Code
	ctx, stop := context.WithCancel(t.Context())
	var writers sync.WaitGroup
	for range 3 {
		writers.Go(func() {
			for ctx.Err() == nil {
				id, _ := grow.NewID(f.random)
				_, _, _, err := f.AddEntry(context.Background(), f.owner, grow.Draft{ID: id, Bag: bag, Kind: grow.KindNote, Details: grow.Details{Text: "meanwhile"}})
				if err != nil {
					t.Error(err)
				}
			}
		})
	}
	path := filepath.Join(t.TempDir(), "farm.backup")
	other := must(Open(t.Context(), f.dir, Options{MustExist: true}))(t) // as another process would
	for range 3 {
		if _, err := other.Backup(t.Context(), path); err != nil { // the second replaces the first
			t.Error(err)
		}
	}
	stop()
	writers.Wait()
	if err := other.Close(); err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "restored")
	if err := Restore(t.Context(), to, path); err != nil {
		t.Fatal(err)
	}
	if report := must(Check(t.Context(), to))(t); len(report.Problems) > 0 {
		t.Error(report.Problems)
	}
}

func TestBackupReplacesOnlyBackups(t *testing.T) {
	t.Parallel()
	f, path := saved(t)
	if _, err := f.Backup(t.Context(), path); err != nil {
		t.Errorf("over an earlier backup: %v", err)
	}
	empty := filepath.Join(t.TempDir(), "made ready")
	if err := os.WriteFile(empty, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Backup(t.Context(), empty); err != nil {
		t.Errorf("over an empty file: %v", err)
	}
	if mode := must(os.Stat(empty))(t).Mode().Perm(); mode != 0o600 {
		t.Errorf("mode %o after an empty file of 644", mode)
	}
	_, err := f.Backup(t.Context(), t.TempDir())
	wantKind(t, "over a folder", err, grow.Conflict)
	letter := filepath.Join(t.TempDir(), "letter.txt")
	if err := os.WriteFile(letter, []byte("Dear aunt"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err = f.Backup(t.Context(), letter)
	wantKind(t, "over a letter", err, grow.Conflict)
	_, err = f.Backup(t.Context(), filepath.Join(f.dir, databaseName))
	wantKind(t, "over the farm's own database", err, grow.Conflict)
	if got := must(os.ReadFile(letter))(t); string(got) != "Dear aunt" {
		t.Errorf("the letter now says %q", got)
	}
	_, err = f.Backup(t.Context(), filepath.Join(t.TempDir(), "no", "such", "folder"))
	wantKind(t, "into a folder that is not there", err, grow.NotFound)
}

// A photo may be dropped while a backup reads; those about to go are left out.
func TestBackupLeavesOutPhotosAboutToGo(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	id, _, err := f.AddPhoto(t.Context(), f.owner, picture(t, 64, 48, 1))
	if err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		wait time.Duration
		want bool
	}{{28 * 24 * time.Hour, true}, {36 * time.Hour, false}} {
		f.clock.move(test.wait)
		path := filepath.Join(t.TempDir(), "farm.backup")
		if _, err := f.Backup(t.Context(), path); err != nil {
			t.Fatal(err)
		}
		b := must(openBackup(path))(t)
		if _, got := b.entries[photoName(id)]; got != test.want {
			t.Errorf("after %s more: in the backup %v, want %v", test.wait, got, test.want)
		}
		if err := b.close(); err != nil {
			t.Fatal(err)
		}
	}
}

func TestBackupRefusesADamagedFarm(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	f.stock(t)
	f.vandal(t, `PRAGMA foreign_keys = OFF; DELETE FROM batches WHERE id = 1`)
	path := filepath.Join(t.TempDir(), "farm.backup")
	if _, err := f.Backup(t.Context(), path); err == nil || there(path) {
		t.Errorf("got %v, a file %v", err, there(path))
	}
}

// vandal changes a database behind the farm's back.
func (f *deskFarm) vandal(t *testing.T, statements string) {
	t.Helper()
	db := must(sql.Open("sqlite3", dsn(filepath.Join(f.dir, databaseName), "_busy_timeout=5000")))(t)
	defer db.Close()
	db.SetMaxOpenConns(1)
	if _, err := db.Exec(statements); err != nil {
		t.Fatal(err)
	}
}
