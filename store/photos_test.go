package store

import (
	"bytes"
	"errors"
	"image/jpeg"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"bagmark/grow"
)

func TestSamePhotoTwiceIsOne(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	p := picture(t, 64, 48, 1)
	ids := make([]string, 8)
	var created atomic.Int32
	var all sync.WaitGroup
	for i := range ids {
		all.Go(func() {
			id, first, err := f.AddPhoto(t.Context(), f.owner, p)
			if err != nil {
				t.Error(err)
			}
			if ids[i] = id; first {
				created.Add(1)
			}
		})
	}
	all.Wait()
	for _, id := range ids {
		if id != ids[0] || !regexp.MustCompile(`^[0-9a-f]{32}$`).MatchString(id) {
			t.Errorf("ids %v", ids)
			break
		}
	}
	if created.Load() != 1 {
		t.Errorf("made %d times", created.Load())
	}
	if got := must(f.Photo(t.Context(), ids[0], false))(t); !bytes.Equal(got, p.JPEG) {
		t.Error("what comes out is not what went in")
	}
	// Another rendering of the same bytes as sent is still the same photo.
	again := picture(t, 64, 48, 2)
	again.SentSHA256 = p.SentSHA256
	id, first, err := f.AddPhoto(t.Context(), f.owner, again)
	if err != nil || first || id != ids[0] {
		t.Errorf("sent again: %s, %v, %v", id, first, err)
	}
	f.wellAfter(t, nil)
}

// wellAfter checks the whole farm once it is closed.
func (f *deskFarm) wellAfter(t *testing.T, want []string) {
	t.Helper()
	report := must(Check(t.Context(), f.dir))(t)
	if len(report.Problems) != len(want) {
		t.Fatalf("problems found: %q, want %q", report.Problems, want)
	}
	for i, p := range report.Problems {
		if !strings.Contains(p, want[i]) {
			t.Errorf("problem %q, want %q", p, want[i])
		}
	}
}

func TestPhotoFiles(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	id, _, err := f.AddPhoto(t.Context(), f.owner, picture(t, 64, 48, 1))
	if err != nil {
		t.Fatal(err)
	}
	var found []string
	for _, file := range must(photoFiles(filepath.Join(f.dir, photosName)))(t) {
		found = append(found, strings.TrimPrefix(filepath.ToSlash(file.path), filepath.ToSlash(f.dir)+"/"))
		if info := must(os.Stat(file.path))(t); info.Mode().Perm() != 0o600 {
			t.Errorf("%s has mode %o", file.path, info.Mode().Perm())
		}
	}
	if len(found) != 1 || found[0] != "photos/"+id[:2]+"/"+id+".jpg" {
		t.Errorf("files: %v", found)
	}
}

// TestThumbOfWhatIsNoPhoto: whatever somebody put in a photo's place is never
// handed to the decoder.
func TestThumbOfWhatIsNoPhoto(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	p := picture(t, 640, 480, 1)
	id, _, err := f.AddPhoto(t.Context(), f.owner, p)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(f.photoPath(id), claimingHuge(p.JPEG), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err = f.Photo(t.Context(), id, true)
	if cause := errors.Unwrap(err); err == nil || cause == nil || cause.Error() != "it claims 65000 × 65000 pixels" {
		t.Errorf("a photo that claims four gigapixels: %v", err)
	}
}

func TestPhotoRefusesWhatIsNoID(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	for _, id := range []string{"", "..", "../farm.db", strings.Repeat("0", 32), strings.Repeat("A", 32), "ab/../../farm.db"} {
		_, err := f.Photo(t.Context(), id, false)
		wantKind(t, id, err, grow.NotFound)
	}
}

func TestThumb(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name             string
		w, h             int
		wantW, wantH     int
		same             bool
		kept, afterwards bool
	}{
		{name: "wide", w: 2560, h: 1440, wantW: 320, wantH: 180},
		{name: "upright", w: 960, h: 1280, wantW: 240, wantH: 320},
		{name: "a strip", w: 2000, h: 2, wantW: 320, wantH: 1},
		{name: "small already", w: 320, h: 100, wantW: 320, wantH: 100, same: true},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			f := newDeskFarm(t)
			p := picture(t, test.w, test.h, 3)
			id, _, err := f.AddPhoto(t.Context(), f.owner, p)
			if err != nil {
				t.Fatal(err)
			}
			first := must(f.Photo(t.Context(), id, true))(t)
			size := must(jpeg.DecodeConfig(bytes.NewReader(first)))(t)
			if size.Width != test.wantW || size.Height != test.wantH || bytes.Equal(first, p.JPEG) != test.same {
				t.Errorf("%d×%d, the photo itself %v", size.Width, size.Height, bytes.Equal(first, p.JPEG))
			}
			if again := must(f.Photo(t.Context(), id, true))(t); !bytes.Equal(first, again) {
				t.Error("the second time it is another")
			}
			if err := os.RemoveAll(filepath.Join(f.dir, thumbsName)); err != nil {
				t.Fatal(err)
			}
			if again := must(f.Photo(t.Context(), id, true))(t); !bytes.Equal(first, again) {
				t.Error("made anew it is another")
			}
		})
	}
}

func TestDropUnusedPhotos(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	bag := f.stock(t)[0]
	add := func(shade uint8) string {
		id, _, err := f.AddPhoto(t.Context(), f.owner, picture(t, 400, 300, shade))
		if err != nil {
			t.Fatal(err)
		}
		must(f.Photo(t.Context(), id, true))(t)
		return id
	}
	forgotten, shown, voided, again := add(10), add(11), add(12), add(13)
	f.log(t, grow.Draft{Bag: bag.Code, Kind: grow.KindPhoto, Details: grow.Details{Photo: shown}})
	b := f.log(t, grow.Draft{Bag: bag.Code, Kind: grow.KindPhoto, Details: grow.Details{Photo: voided}})
	f.log(t, grow.Draft{Bag: bag.Code, Kind: grow.KindVoid, Details: grow.Details{Entry: b.Entries[0].ID}})
	f.clock.move(20 * 24 * time.Hour)
	if add(13) != again {
		t.Error("sent again it is another")
	}
	f.clock.move(10*24*time.Hour - time.Second)
	if n := must(f.DropUnusedPhotos(t.Context()))(t); n != 0 {
		t.Errorf("%d dropped before 30 days", n)
	}
	f.clock.move(2 * time.Second)
	if n := must(f.DropUnusedPhotos(t.Context()))(t); n != 1 {
		t.Errorf("%d dropped, want the forgotten one", n)
	}
	_, err := f.Photo(t.Context(), forgotten, false)
	wantKind(t, "the forgotten one", err, grow.NotFound)
	for _, path := range []string{f.photoPath(forgotten), f.thumbPath(forgotten)} {
		if there(path) {
			t.Errorf("%s is still there", path)
		}
	}
	for _, id := range []string{shown, voided, again} {
		must(f.Photo(t.Context(), id, false))(t)
	}
	f.wellAfter(t, nil)
}

// A killed server leaves files that no photo names.
func TestDropUnusedPhotosSweeps(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	f.stock(t)
	folder := filepath.Join(f.dir, photosName, "ab")
	if err := os.MkdirAll(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	name := "ab" + strings.Repeat("0", 30)
	for _, test := range []struct {
		file string
		age  time.Duration
		want bool // still there afterwards
	}{
		{name + ".jpg.123.tmp", 25 * time.Hour, false},
		{name + ".jpg", 25 * time.Hour, false},
		{name[:31] + "1.jpg", 23 * time.Hour, true}, // its row may be on its way
		{"holiday.png", 99 * time.Hour, true},       // not ours
	} {
		path := filepath.Join(folder, test.file)
		if err := os.WriteFile(path, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		at := f.clock.now().Add(-test.age)
		if err := os.Chtimes(path, at, at); err != nil {
			t.Fatal(err)
		}
		must(f.DropUnusedPhotos(t.Context()))(t)
		if there(path) != test.want {
			t.Errorf("%s, %s old: there %v, want %v", test.file, test.age, !test.want, test.want)
		}
	}
}

func TestPhotoLostFromDiskHealsWhenSentAgain(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	p := picture(t, 64, 48, 1)
	id, _, err := f.AddPhoto(t.Context(), f.owner, p)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(f.photoPath(id)); err != nil {
		t.Fatal(err)
	}
	_, err = f.Photo(t.Context(), id, false)
	wantKind(t, "lost", err, grow.Internal)
	if _, created, err := f.AddPhoto(t.Context(), f.owner, p); err != nil || created {
		t.Fatalf("sent again: created %v, %v", created, err)
	}
	must(f.Photo(t.Context(), id, false))(t)
	f.wellAfter(t, nil)
}
