package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"bagmark/grow"
)

var (
	scaleBags = flag.Int("scale-bags", 0, "TestScale measures a farm of so many bags, 100 a batch, 20 entries each, a photo of every fifth")
	scaleLive = flag.Int("scale-live", 5000, "how many of them are in the farm's care")
	scaleDir  = flag.String("scale-dir", "", "where the farm is made, and found again if it is there")
)

// A photo of one bag in so many.
const scalePhotos = 5

// TestScale measures a farm of years. It only runs when asked to, and fails on
// errors alone, never on a slow machine:
//
//	go test ./store -run TestScale -v -timeout 1h -args -scale-bags 100000
func TestScale(t *testing.T) {
	if *scaleBags == 0 {
		t.Skip("skipped: -scale-bags says how large a farm to measure")
	}
	dir := *scaleDir
	if dir == "" {
		dir = filepath.Join(t.TempDir(), "farm")
	}
	if !HoldsFarm(dir) {
		took(t, "make", 1, func() { makeYears(t, dir, *scaleBags, *scaleLive) })
	}
	measureScale(t, dir)
}

func measureScale(t *testing.T, dir string) {
	ctx := t.Context()
	var s *Store
	check := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	took(t, "start", 1, func() {
		var err error
		s, err = Open(ctx, dir, Options{Alone: true})
		check(err)
	})
	defer s.Close()
	codes, err := texts(ctx, s.read, `SELECT code FROM bags WHERE id % 977 = 0 ORDER BY id DESC LIMIT 100`)
	check(err)
	by, n := Actor{Person: "Ana Invented", Device: "phone", Role: Grower}, 0
	bag := func() grow.Code { n++; return grow.Code(codes[n%len(codes)]) }
	tap := func() {
		id, err := grow.NewID(s.random)
		check(err)
		_, _, _, err = s.AddEntry(ctx, by, grow.Draft{ID: id, Bag: bag(), Kind: grow.KindLook})
		check(err)
	}
	took(t, "Today, first", 1, func() { _, err := s.Today(ctx); check(err) })
	took(t, "Today", 9, func() { _, err := s.Today(ctx); check(err) })
	took(t, "Today after a tap", 9, func() { _, err := s.Today(ctx); check(err) }, tap)
	took(t, "batch list", 21, func() { _, err := s.Batches(ctx, BatchFilter{}); check(err) })
	took(t, "batch list by state", 21, func() { _, err := s.Batches(ctx, BatchFilter{State: grow.Isolated}); check(err) })
	took(t, "a batch", 21, func() { b, err := s.Bag(ctx, bag()); check(err); _, err = s.Batch(ctx, b.Batch.Code); check(err) })
	took(t, "a bag", 101, func() { _, err := s.Bag(ctx, bag()); check(err) })
	took(t, "a tap", 101, tap)
	took(t, "search by part of a code", 21, func() { _, err := s.FindBags(ctx, string(bag()[:4])); check(err) })
	took(t, "search by batch", 21, func() { _, err := s.FindBags(ctx, "KING-25"); check(err) })
	took(t, "search by species", 21, func() { _, err := s.FindBags(ctx, "oyster"); check(err) })
	took(t, "what shares, first", 1, func() { _, err := s.Trace(ctx, bag()); check(err) })
	backup := filepath.Join(t.TempDir(), "farm.zip")
	var beside []time.Duration
	took(t, "backup", 1, func() { beside = tapUntil(func() { _, err := s.Backup(ctx, backup); check(err) }, tap) })
	t.Logf("%-26s %10.1f ms median of %d, longest %.1f ms", "a tap beside the backup", ms(median(beside)), len(beside), ms(beside[len(beside)-1]))
	info, err := os.Stat(backup)
	check(err)
	t.Logf("the backup has %d MB", info.Size()>>20)
	took(t, "check", 1, func() {
		r, err := Check(ctx, dir)
		check(err)
		for _, p := range r.Problems {
			t.Error(p)
		}
		t.Logf("%d bags, %d entries, %d photos", r.Bags, r.Entries, r.Photos)
	})
}

// took times something, the median of so many times; before is run before each,
// outside the time.
func took(t *testing.T, what string, times int, f func(), before ...func()) {
	t.Helper()
	var all []time.Duration
	for range times {
		for _, b := range before {
			b()
		}
		start := time.Now()
		f()
		all = append(all, time.Since(start))
	}
	t.Logf("%-26s %10.1f ms", what, ms(median(all)))
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// tapUntil taps one after the other while something goes on.
func tapUntil(work, tap func()) (each []time.Duration) {
	done := make(chan struct{})
	var tapping sync.WaitGroup
	tapping.Go(func() {
		for {
			start := time.Now()
			tap()
			each = append(each, time.Since(start))
			select {
			case <-done:
				return
			default:
			}
		}
	})
	work()
	close(done)
	tapping.Wait()
	return each
}

// makeYears fills a farm with batches of 100 bags and 20 entries a bag: the
// batches the ordinary way, the logs straight into the table, each bag's status
// by replaying them. The newest bags are in the farm's care, the others out.
func makeYears(t *testing.T, dir string, bags, live int) {
	ctx := context.Background()
	const step = 26 * time.Hour // between batches
	clock := &testClock{at: time.Now().Add(-step * time.Duration(bags/100))}
	s, err := Open(ctx, dir, Options{Now: clock.now, TimeZone: "Europe/Lisbon"})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	species := []grow.Slug{"pleurotus-eryngii", "pleurotus-ostreatus", "lentinula-edodes", "hericium-erinaceus"}
	y := &years{s: s, clock: clock, random: rand.New(rand.NewPCG(11, 26))}
	for i := range bags / 100 {
		d := grow.BatchDraft{Bags: 100, BatchFields: grow.BatchFields{Species: species[i%len(species)], InoculatedAt: clock.now(),
			SteriliserRun: new(fmt.Sprintf("run %d", i/3)), Conditions: map[string]*string{"flow_hood": new("on")}, Place: new(fmt.Sprintf("room %d > rack %d", i%4, i%20))}}
		_, refs, _, err := s.CreateBatch(ctx, Actor{Person: "Ana Invented", Device: "office"}, d)
		if err != nil {
			t.Fatal(err)
		}
		if err := y.fill(refs, bags-i*100 > live); err != nil {
			t.Fatal(err)
		}
		clock.move(step)
	}
}

// years writes logs.
type years struct {
	s      *Store
	clock  *testClock
	random *rand.Rand
	ids    int

	picture []byte
}

// fill writes the logs of the newest batch's bags.
func (y *years) fill(bags []BagRef, out bool) error {
	farm, err := y.s.Farm(context.Background())
	if err != nil {
		return err
	}
	return y.s.writing(context.Background(), func(t *tx) error {
		seq, before, err := t.lastEntry()
		if err != nil {
			return err
		}
		rows, err := t.bagRows(`g.batch_id = (SELECT max(id) FROM batches) ORDER BY g.number`)
		if err != nil {
			return err
		}
		for _, g := range rows {
			a := adding{tx: t, farm: farm, bag: g}
			for i, e := range y.life(g, out) {
				if i == 1 && g.id%scalePhotos == 0 {
					e.Kind = grow.KindPhoto
					if e.Details, err = y.photo(t); err != nil {
						return err
					}
				}
				seq++
				e.Seq = seq
				sum := sha256.Sum256([]byte(e.ID))
				if err := t.insertEntry(e, g.id, sum[:], before); err != nil {
					return err
				}
				if _, before, err = t.lastEntry(); err != nil {
					return err
				}
			}
			if err := a.load(); err != nil {
				return err
			}
			if err := t.saveStatus(g.id, grow.Replay(a.bag.start(a.batch, a.own), a.log, farm.Conditions)); err != nil {
				return err
			}
		}
		return nil
	})
}

// photo puts a picture of its own into the farm: one that was drawn before, with
// other bytes behind its end.
func (y *years) photo(t *tx) (d grow.Details, err error) {
	if y.picture == nil {
		m := image.NewGray(image.Rect(0, 0, 640, 480))
		for i := range m.Pix {
			m.Pix[i] = byte(i%640/4) + byte(y.random.IntN(24))
		}
		var b bytes.Buffer
		if err := jpeg.Encode(&b, m, nil); err != nil {
			return d, err
		}
		y.picture = b.Bytes()
	}
	data := binary.BigEndian.AppendUint64(y.picture, uint64(y.ids))
	p := Picture{JPEG: data, Width: 640, Height: 480, SentSHA256: sha256.Sum256(data)}
	d.Photo = hex.EncodeToString(p.SentSHA256[:])[:32]
	path := y.s.photoPath(d.Photo)
	if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o700), os.WriteFile(path, data, 0o600)); err != nil {
		return d, err
	}
	if _, err := t.keepPhoto(d.Photo, Actor{Person: "Ana Invented", Device: "phone"}, p); err != nil {
		return d, err
	}
	return d, t.usePhoto(d.Photo)
}

// life is what is logged of one bag: marked, looked at every other day, grown
// over, now and then mouldy; picked and out if it is an old one.
func (y *years) life(g bagRow, out bool) []grow.Entry {
	log := make([]grow.Entry, 0, 20)
	made := y.clock.now()
	days := min(time.Since(made).Hours()/24, 60)
	add := func(part float64, kind grow.EntryKind, d grow.Details) {
		y.ids++
		at := made.Add(time.Duration(part * days * 24 * float64(time.Hour))).Truncate(time.Microsecond).UTC()
		log = append(log, grow.Entry{ID: grow.ID(fmt.Sprintf("60000000-0000-4000-8000-%012d", y.ids)), Kind: kind, At: at, ReceivedAt: at, By: "Ana Invented", Device: "phone", Details: d})
	}
	add(0, grow.KindMarked, grow.Details{Bench: true})
	grown := 0.2 + 0.2*y.random.Float64()
	bad := y.random.IntN(25) == 0
	for i := 1; i < 18; i++ {
		part := float64(i) / 18
		switch {
		case part < grown:
			add(part, grow.KindColonised, grow.Details{Pct: new(float64(int(90 * part / grown)))})
		case bad && i == 9:
			add(part, grow.KindContaminated, grow.Details{What: "green_mould", Where: "filter"})
		case part < grown+1.0/18:
			add(part, grow.KindColonised, grow.Details{Pct: new(100.0)})
		default:
			add(part, grow.KindLook, grow.Details{})
		}
	}
	if out && bad {
		add(1, grow.KindCull, grow.Details{Why: "contaminated"})
	} else if out {
		add(0.99, grow.KindHarvest, grow.Details{Grams: new(float64(300 + y.random.IntN(400)))})
		add(1, grow.KindFinish, grow.Details{Why: "spent"})
	}
	return log
}
