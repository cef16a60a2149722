package store

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func TestRestoreGivesTheSameFarm(t *testing.T) {
	t.Parallel()
	f, path := saved(t)
	to := filepath.Join(t.TempDir(), "new", "place")
	if err := Restore(t.Context(), to, path); err != nil {
		t.Fatal(err)
	}
	report := must(Check(t.Context(), to))(t)
	if len(report.Problems) > 0 || report.Bags != 6 || report.Photos != 1 || report.Entries < 10 {
		t.Errorf("the restored farm: %+v", report)
	}
	back := must(Open(t.Context(), to, Options{Now: f.clock.now, Alone: true, MustExist: true}))(t)
	defer back.Close()
	for _, write := range []func(*Store, io.Writer) error{
		func(s *Store, w io.Writer) error { return s.ExportBags(t.Context(), w) },
		func(s *Store, w io.Writer) error { return s.ExportBatches(t.Context(), w) },
		func(s *Store, w io.Writer) error { return s.ExportEntries(t.Context(), w) },
	} {
		var was, is bytes.Buffer
		if err := write(f.Store, &was); err != nil {
			t.Fatal(err)
		}
		if err := write(back, &is); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(was.String(), is.String()); diff != "" {
			t.Error(diff)
		}
	}
	if got := len(must(back.Devices(t.Context()))(t)); got != 0 {
		t.Errorf("%d devices are signed in", got)
	}
	must(back.SignIn(t.Context(), deskOwner, deskPassphrase, "office", OverHTTP, Owner))(t)
	var left []string
	for _, e := range must(os.ReadDir(to))(t) {
		left = append(left, strings.TrimRight(e.Name(), "-walshm"))
	}
	if got := strings.Join(left, " "); !strings.Contains(got, "farm.db") || strings.Contains(got, stagingName) {
		t.Errorf("the folder holds %s", got)
	}
}

func TestRestoreRefusesAFolderInUse(t *testing.T) {
	t.Parallel()
	f, path := saved(t)
	wantKind(t, "over a farm", Restore(t.Context(), f.dir, path), grow.Conflict)

	locked := t.TempDir()
	lock := must(lockFolder(filepath.Join(locked, lockName)))(t)
	wantKind(t, "into a locked folder", Restore(t.Context(), locked, path), grow.Conflict)
	if err := lock.unlock(); err != nil {
		t.Fatal(err)
	}
	if err := Restore(t.Context(), locked, path); err != nil {
		t.Errorf("once it is free: %v", err)
	}

	remains := t.TempDir()
	if err := os.WriteFile(filepath.Join(remains, "farm.db-wal"), []byte("of another farm"), 0o600); err != nil {
		t.Fatal(err)
	}
	wantKind(t, "beside another farm's write-ahead log", Restore(t.Context(), remains, path), grow.Conflict)
}

// A restore that was killed at any point leaves no farm, and can be run again.
func TestRestoreAfterOneThatWasKilled(t *testing.T) {
	t.Parallel()
	_, path := saved(t)
	for _, test := range []struct {
		name string
		kill func(t *testing.T, dir string)
	}{
		{"while unpacking", func(t *testing.T, dir string) {
			if err := os.MkdirAll(filepath.Join(dir, stagingName, photosName), 0o700); err != nil {
				t.Fatal(err)
			}
		}},
		{"between the two moves", func(t *testing.T, dir string) {
			if err := Restore(t.Context(), dir, path); err != nil {
				t.Fatal(err)
			}
			if err := os.Mkdir(filepath.Join(dir, stagingName), 0o700); err != nil {
				t.Fatal(err)
			}
			if err := os.Rename(filepath.Join(dir, databaseName), filepath.Join(dir, stagingName, databaseName)); err != nil {
				t.Fatal(err)
			}
		}},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			test.kill(t, dir)
			if HoldsFarm(dir) {
				t.Fatal("half a farm counts as one")
			}
			if err := Restore(t.Context(), dir, path); err != nil {
				t.Fatal(err)
			}
			if report := must(Check(t.Context(), dir))(t); len(report.Problems) > 0 || report.Photos != 1 {
				t.Errorf("%+v", report)
			}
		})
	}
}

// nothingRestored tries a restore that must be refused and leave nothing.
func nothingRestored(t *testing.T, path string, kind grow.ErrorKind) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "farm")
	wantKind(t, "restore", Restore(context.Background(), dir, path), kind)
	for _, name := range []string{databaseName, photosName, stagingName} {
		if there(filepath.Join(dir, name)) {
			t.Errorf("%s was left", name)
		}
	}
}

func TestAFlippedBitIsNoticed(t *testing.T) {
	t.Parallel()
	_, path := saved(t)
	whole := must(os.ReadFile(path))(t)
	damagedPath := filepath.Join(t.TempDir(), "damaged")
	// Every byte of both ends, where the ZIP's own words stand, and a sample of
	// the rest.
	for at := 0; at < len(whole); {
		data := bytes.Clone(whole)
		data[at] ^= 1 << (at % 8)
		if err := os.WriteFile(damagedPath, data, 0o600); err != nil {
			t.Fatal(err)
		}
		if b, err := openBackup(damagedPath); err == nil {
			b.close()
			t.Fatalf("a flipped bit at byte %d of %d went unnoticed", at, len(whole))
		} else if grow.KindOf(err) != grow.Invalid {
			t.Fatalf("byte %d: %v", at, err)
		}
		if at < 64 || at > len(whole)-256 {
			at++
		} else {
			at += 1 + len(whole)/150
			at = min(at, max(at-len(whole)/150, len(whole)-256))
		}
	}
	for _, length := range []int{0, 10, 63, 64, 100, len(whole) / 2, len(whole) - 1} {
		if err := os.WriteFile(damagedPath, whole[:length], 0o600); err != nil {
			t.Fatal(err)
		}
		nothingRestored(t, damagedPath, grow.Invalid)
	}
	if err := os.WriteFile(damagedPath, append(bytes.Clone(whole), 'x'), 0o600); err != nil {
		t.Fatal(err)
	}
	nothingRestored(t, damagedPath, grow.Invalid)
}

// hostile is a file of a forged backup.
type hostile struct {
	name   string
	data   []byte
	method uint16
	raw    bool   // the method is only said
	said   []byte // what the manifest speaks of, if not of the data
	absent bool   // from the manifest
}

// forge writes a backup whose sums are right whatever it holds, as somebody
// who means harm would.
func forge(t *testing.T, version int, files ...hostile) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "forged")
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	m := manifest{SchemaVersion: version}
	for _, f := range files {
		create := z.CreateHeader
		head := &zip.FileHeader{Name: f.name, Method: f.method}
		if f.raw {
			create = z.CreateRaw
			head.CRC32, head.CompressedSize64, head.UncompressedSize64 = crc32.ChecksumIEEE(f.data), uint64(len(f.data)), uint64(len(f.data))
		}
		w := must(create(head))(t)
		if _, err := w.Write(f.data); err != nil {
			t.Fatal(err)
		}
		if f.said == nil {
			f.said = f.data
		}
		if sum := sha256.Sum256(f.said); !f.absent {
			m.Files = append(m.Files, manifestFile{Name: f.name, Size: int64(len(f.said)), SHA256: hex.EncodeToString(sum[:])})
		}
	}
	w := must(z.CreateHeader(&zip.FileHeader{Name: manifestName, Method: zip.Store}))(t)
	if err := json.NewEncoder(w).Encode(m); err != nil {
		t.Fatal(err)
	}
	if err := z.SetComment(strings.Repeat("0", 64)); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	data := b.Bytes()
	sum := sha256.Sum256(data[:len(data)-64])
	copy(data[len(data)-64:], hex.EncodeToString(sum[:]))
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// heldDatabase is the database in a backup, after somebody changed it.
func heldDatabase(t *testing.T, path, statements string) []byte {
	t.Helper()
	z := must(zip.OpenReader(path))(t)
	defer z.Close()
	data := must(io.ReadAll(must(z.Open(databaseName))(t)))(t)
	if statements == "" {
		return data
	}
	file := filepath.Join(t.TempDir(), "held.db")
	if err := os.WriteFile(file, data, 0o600); err != nil {
		t.Fatal(err)
	}
	db := must(sql.Open("sqlite3", dsn(file, "_foreign_keys=0&_writable_schema=1")))(t)
	db.SetMaxOpenConns(1)
	if _, err := db.Exec(statements); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return must(os.ReadFile(file))(t)
}

func TestRestoreTakesNothingOnTrust(t *testing.T) {
	t.Parallel()
	f, path := saved(t)
	newest := must(SchemaVersion())(t)
	good := hostile{name: databaseName, data: heldDatabase(t, path, "")}
	photoIDs := must(texts(t.Context(), f.read, `SELECT id FROM photos`))(t)
	photo := hostile{name: photoName(photoIDs[0]), data: must(os.ReadFile(f.photoPath(photoIDs[0])))(t)}
	changed := func(statements string) hostile {
		return hostile{name: databaseName, data: heldDatabase(t, path, statements)}
	}
	if err := Restore(t.Context(), t.TempDir(), forge(t, newest, good, photo)); err != nil {
		t.Fatalf("the forger's own work is refused for another reason: %v", err)
	}
	for _, test := range []struct {
		name    string
		version int
		files   []hostile
		want    grow.ErrorKind
	}{
		{"a newer one", newest + 1, []hostile{good, photo}, grow.Conflict},
		{"a newer database under an older version", newest, []hostile{changed(`PRAGMA user_version = 99`)}, grow.Invalid},
		{"version nought", 0, []hostile{good}, grow.Invalid},
		{"no database", newest, []hostile{photo}, grow.Invalid},
		{"no database but text", newest, []hostile{{name: databaseName, data: []byte(strings.Repeat("text ", 5000))}}, grow.Invalid},
		{"a way out", newest, []hostile{good, {name: "../evil", data: []byte("x")}}, grow.Invalid},
		{"a way out from the photos", newest, []hostile{good, {name: "photos/../../" + photo.name[10:], data: photo.data}}, grow.Invalid},
		{"from the root", newest, []hostile{good, {name: "/etc/evil", data: []byte("x")}}, grow.Invalid},
		{"another system's way out", newest, []hostile{good, {name: `..\evil`, data: []byte("x")}}, grow.Invalid},
		{"a write-ahead log", newest, []hostile{good, {name: "farm.db-wal", data: []byte("x")}}, grow.Invalid},
		{"keys", newest, []hostile{good, {name: "tls/ca.key", data: []byte("x")}}, grow.Invalid},
		{"a photo in the wrong folder", newest, []hostile{good, {name: "photos/00/" + photo.name[10:], data: photo.data}}, grow.Invalid},
		{"a name twice", newest, []hostile{good, good}, grow.Invalid},
		{"a file the manifest does not name", newest, []hostile{good, {name: photo.name, data: photo.data, absent: true}}, grow.Invalid},
		{"compressed", newest, []hostile{good, {name: photo.name, data: make([]byte, 1<<20), method: zip.Deflate}}, grow.Invalid},
		{"said to be compressed", newest, []hostile{good, {name: photo.name, data: photo.data, method: zip.Deflate, raw: true}}, grow.Invalid},
		{"larger than the manifest says", newest, []hostile{good, {name: photo.name, data: append(bytes.Clone(photo.data), 'x'), said: photo.data}}, grow.Invalid},
		{"smaller than the manifest says", newest, []hostile{good, {name: photo.name, data: photo.data[1:], said: photo.data}}, grow.Invalid},
		{"another sum than the manifest says", newest, []hostile{good, {name: photo.name, data: photo.data, said: append([]byte{photo.data[0] ^ 1}, photo.data[1:]...)}}, grow.Invalid},
		{"a photo no row names", newest, []hostile{good, {name: photoName("ab" + strings.Repeat("0", 30)), data: photo.data}}, grow.Invalid},
		{"a photo that claims four gigapixels", newest, []hostile{good, {name: photo.name, data: claimingHuge(photo.data)}}, grow.Invalid},
		{"a photo that is a page", newest, []hostile{good, {name: photo.name, data: []byte("<html><script>alert(1)</script></html>")}}, grow.Invalid},
		{"a trigger of its own", newest, []hostile{changed(`CREATE TRIGGER evil AFTER INSERT ON entries BEGIN UPDATE people SET role = 'owner'; END`)}, grow.Invalid},
		{"a view of its own", newest, []hostile{changed(`CREATE VIEW evil AS SELECT 1`)}, grow.Invalid},
		{"a trigger taken away", newest, []hostile{changed(`DROP TRIGGER entries_never_change`)}, grow.Invalid},
		{"a check taken away", newest, []hostile{changed(`PRAGMA writable_schema = ON; UPDATE sqlite_schema SET sql = replace(sql, 'CHECK (id = 1)', '') WHERE name = 'farm'`)}, grow.Invalid},
		{"rows that point nowhere", newest, []hostile{changed(`DELETE FROM batches WHERE id = 1`)}, grow.Invalid},
		{"a row against a check", newest, []hostile{changed(`PRAGMA ignore_check_constraints = ON; UPDATE bags SET state = 'sold'`)}, grow.Invalid},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			nothingRestored(t, forge(t, test.version, test.files...), test.want)
		})
	}
}

// claimingHuge is a JPEG whose frame header (ITU-T T.81, B.2.2) says 65,000 × 65,000.
func claimingHuge(data []byte) []byte {
	out := bytes.Clone(data)
	at := bytes.Index(out, []byte{0xff, 0xc0})
	copy(out[at+5:], []byte{0xfd, 0xe8, 0xfd, 0xe8})
	return out
}

// Overlapping entries make a small file unpack to a huge one (Fifield, D., "A
// better zip bomb", USENIX WOOT 2019). Here the directory names one body twice.
func TestRestoreRefusesOverlappingEntries(t *testing.T) {
	t.Parallel()
	f, path := saved(t)
	body := heldDatabase(t, path, "")
	twin := photoName(must(texts(t.Context(), f.read, `SELECT id FROM photos`))(t)[0])
	data := must(os.ReadFile(forge(t, 1, hostile{name: databaseName, data: body}, hostile{name: twin, data: body})))(t)
	z := must(zip.NewReader(bytes.NewReader(data), int64(len(data))))(t)
	from, err := z.File[1].DataOffset()
	if err != nil {
		t.Fatal(err)
	}
	// Cut the second body out and let its directory entry point at the first.
	start := int(from) - 30 - len(twin)
	end := int(from) + len(body) + 16 // with its data descriptor
	cut := append(bytes.Clone(data[:start]), data[end:]...)
	moved := bytes.Index(data, []byte("PK\x01\x02")) - (end - start)
	directory := cut[moved:]
	for _, offset := range []struct{ from, to int }{{start, 0}, {end, start}} { // the twin's, then the manifest's
		copy(directory[bytes.Index(directory, le32(uint32(offset.from))):], le32(uint32(offset.to)))
	}
	copy(cut[bytes.LastIndex(cut, []byte("PK\x05\x06"))+16:], le32(uint32(moved)))
	sum := sha256.Sum256(cut[:len(cut)-64])
	copy(cut[len(cut)-64:], hex.EncodeToString(sum[:]))
	z = must(zip.NewReader(bytes.NewReader(cut), int64(len(cut))))(t)
	if first, second := must(z.File[0].DataOffset())(t), must(z.File[1].DataOffset())(t); z.File[1].Name != twin || second > first+int64(len(twin)) {
		t.Fatalf("the bomb is not built as it should be: bodies at %d and %d", first, second)
	}
	bomb := filepath.Join(t.TempDir(), "bomb")
	if err := os.WriteFile(bomb, cut, 0o600); err != nil {
		t.Fatal(err)
	}
	nothingRestored(t, bomb, grow.Invalid)
}

func le32(v uint32) []byte { return []byte{byte(v), byte(v >> 8), byte(v >> 16), byte(v >> 24)} }
