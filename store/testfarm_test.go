package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"image"
	"image/color"
	"image/jpeg"
	"math/rand/v2"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"bagmark/grow"
)

// testClock is a clock that stands until it is moved.
type testClock struct {
	sync.Mutex
	at time.Time
}

func (c *testClock) now() time.Time {
	c.Lock()
	defer c.Unlock()
	return c.at
}

func (c *testClock) move(d time.Duration) {
	c.Lock()
	c.at = c.at.Add(d)
	c.Unlock()
}

// testRandom is a source that gives every test run the same.
type testRandom struct {
	sync.Mutex
	*rand.ChaCha8
}

func (r *testRandom) Read(b []byte) (int, error) {
	r.Lock()
	defer r.Unlock()
	return r.ChaCha8.Read(b)
}

const (
	deskOwner      = "Odile Invented"
	deskPassphrase = "seven damp cellars"
)

// deskFarm is a farm in a temporary folder that has been set up by its owner.
type deskFarm struct {
	*Store
	dir   string
	clock *testClock
	owner Actor
	own   Session // the owner's, over HTTPS
}

// newDeskFarm is a farm that has been set up.
func newDeskFarm(t *testing.T) *deskFarm {
	t.Helper()
	f := newBareFarm(t)
	farm := must(f.Farm(t.Context()))(t)
	settings := farm.Settings
	settings.Name, settings.TimeZone = "Invented Farm", "Europe/Lisbon"
	f.own = must(f.SetUp(t.Context(), FirstRun{Settings: settings, OwnerName: deskOwner, Passphrase: deskPassphrase, DeviceName: "office", Over: OverHTTPS}))(t)
	f.owner = f.own.Actor
	return f
}

// newBareFarm is one that has not been set up.
func newBareFarm(t *testing.T) *deskFarm {
	t.Helper()
	f := &deskFarm{dir: filepath.Join(t.TempDir(), "farm"), clock: &testClock{at: time.Date(2026, 3, 14, 15, 0, 0, 0, time.UTC)}}
	f.open(t)
	t.Cleanup(func() { f.Close() })
	return f
}

func (f *deskFarm) open(t *testing.T) {
	t.Helper()
	if err := makeFolder(f.dir); err != nil {
		t.Fatal(err)
	}
	f.Store = must(Open(t.Context(), f.dir, Options{Now: f.clock.now, Random: &testRandom{ChaCha8: rand.NewChaCha8([32]byte{7})}, Alone: true}))(t)
}

// must gives a value or ends the test.
func must[T any](v T, err error) func(*testing.T) T {
	return func(t *testing.T) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// made is must for what may have been made before.
func made[T any](v T, _ bool, err error) func(*testing.T) T { return must(v, err) }

// wantKind ends the test unless an error is of a kind.
func wantKind(t *testing.T, what string, err error, kind grow.ErrorKind) {
	t.Helper()
	if err == nil || grow.KindOf(err) != kind {
		t.Fatalf("%s: got %v, want an error of kind %s", what, err, kind)
	}
}

// log adds one entry and gives the bag.
func (f *deskFarm) log(t *testing.T, d grow.Draft) Bag {
	t.Helper()
	d.ID = must(grow.NewID(f.random))(t)
	_, bag, _, err := f.AddEntry(t.Context(), f.owner, d)
	if err != nil {
		t.Fatalf("%s: %v", d.Kind, err)
	}
	return bag
}

// picture is an invented photo of so many pixels.
func picture(t *testing.T, w, h int, shade uint8) Picture {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.SetGray(x, y, color.Gray{shade ^ uint8(x*y/16)})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	return Picture{JPEG: b.Bytes(), Width: w, Height: h, SentSHA256: sha256.Sum256(append([]byte("as sent "), b.Bytes()...))}
}

// stock puts two batches, a week of entries and a photo into the farm, and
// leaves the clock after it. It gives the bags of the first batch.
func (f *deskFarm) stock(t *testing.T) []BagRef {
	t.Helper()
	ctx := context.Background()
	off, on := "off", "on"
	king := grow.BatchDraft{Bags: 4, BatchFields: grow.BatchFields{Species: "pleurotus-eryngii", InoculatedAt: f.clock.now(), Strain: new("K 7"),
		SpawnLot: new("rye 12"), SteriliserRun: new("run 40"), Recipe: new("oak, 5 % bran"), Operator: new("Odile"), Place: new("room 2 > rack 3"),
		Note: new("first \"line\",\nsecond line"), Conditions: map[string]*string{"flow_hood": &on}},
		BagConditions: []grow.BagConditions{{Bags: "2", Conditions: map[string]*string{"flow_hood": &off}}}}
	_, bags, _, err := f.CreateBatch(ctx, f.owner, king)
	if err != nil {
		t.Fatal(err)
	}
	oyster := grow.BatchDraft{Bags: 2, BatchFields: grow.BatchFields{Species: "pleurotus-ostreatus", InoculatedAt: f.clock.now()}}
	if _, _, _, err := f.CreateBatch(ctx, f.owner, oyster); err != nil {
		t.Fatal(err)
	}
	for _, b := range bags {
		f.log(t, grow.Draft{Bag: b.Code, Kind: grow.KindMarked, Details: grow.Details{Bench: true}})
	}
	f.clock.move(3 * 24 * time.Hour)
	f.log(t, grow.Draft{Bag: bags[0].Code, Kind: grow.KindColonised, Details: grow.Details{Pct: new(40.0)}})
	f.clock.move(24 * time.Hour)
	f.log(t, grow.Draft{Bag: bags[0].Code, Kind: grow.KindLook})
	f.log(t, grow.Draft{Bag: bags[0].Code, Kind: grow.KindNote, Details: grow.Details{Text: "=1+1, or so"}})
	id, _, err := f.AddPhoto(ctx, f.owner, picture(t, 640, 480, 90))
	if err != nil {
		t.Fatal(err)
	}
	f.log(t, grow.Draft{Bag: bags[1].Code, Kind: grow.KindPhoto, Details: grow.Details{Photo: id}})
	// A phone elsewhere may write the time with another offset.
	seen := f.clock.now().In(time.FixedZone("", 2*3600))
	f.log(t, grow.Draft{Bag: bags[1].Code, Kind: grow.KindContaminated, At: &seen, Details: grow.Details{What: "green_mould", Where: "filter"}})
	f.clock.move(24 * time.Hour)
	f.log(t, grow.Draft{Bag: bags[1].Code, Kind: grow.KindCull, Details: grow.Details{Why: "contaminated"}})
	f.log(t, grow.Draft{Bag: bags[0].Code, Kind: grow.KindColonised, Details: grow.Details{Pct: new(100.0)}})
	f.log(t, grow.Draft{Bag: bags[2].Code, Kind: grow.KindCondition, Details: grow.Details{Key: "flow_hood", Value: grow.KnownValue("off"), Basis: "guess"}})
	f.log(t, grow.Draft{Bag: bags[2].Code, Kind: grow.KindIsolate})
	f.clock.move(time.Hour)
	return bags
}
