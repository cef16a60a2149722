package cli_test

import (
	"context"
	"flag"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"bagmark/cli"
	"bagmark/cli/demo"
	"bagmark/grow"
	"bagmark/server"
	"bagmark/store"
)

var long = flag.Duration("long", 25*time.Second, "how long TestLongRun goes on; 60m for the figures in DEVELOPERS.md")

// clockOff is how far the farm's clock stands wrong once in the run.
const clockOff = -2 * time.Hour

// longRun is a farm that is used and mistreated at the same time.
type longRun struct {
	*testing.T
	dir, port string
	daily     string        // the folder for daily backups
	pace      time.Duration // between two troubles, a minute in a run of an hour
	server    *exec.Cmd
	log       *os.File
	small     string // the file that fills its disk, "" if that cannot be
	full      atomic.Bool
	up        atomic.Bool // the server answers
	backups   []string
	kills     int
}

// TestLongRun is a farm's worst day. Two phones, real browsers, tap on a farm
// of ordinary size without pause: one over plain HTTP, where only the open page
// helps, one where its service worker does too. Meanwhile the server is killed
// again and again, backups are taken, the disk fills up, the farm's clock is set
// back and later a phone's clock is set on. At the end every tap that a phone
// said it had logged is at the farm, once, on its bag and at its time; and the
// farm's backup, restored elsewhere, exports the same bytes.
func TestLongRun(t *testing.T) {
	chromium := findChromium(t)
	r, in, bags := newLongRun(t)
	r.serve(0)
	half := len(bags) / 2
	phones := []*longPhone{r.phone(chromium, "http://farm.test:"+r.port, in, bags[:half]), r.phone(chromium, "http://127.0.0.1:"+r.port, in, bags[half:])}
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var busy sync.WaitGroup
	for _, p := range phones {
		busy.Go(func() { p.work(ctx) })
	}
	busy.Go(func() { r.backUp(ctx) })
	r.troubles(ctx, phones[1])
	stop()
	busy.Wait()
	r.stop()
	r.serve(0)
	for _, p := range phones {
		p.empty()
	}
	r.stop()
	r.sound(r.dir)
	full := r.foundFull()
	if r.small != "" && full == 0 {
		t.Error("the disk was filled, and nobody noticed")
	}
	kept := 0
	for _, p := range phones {
		kept += r.account(p)
	}
	t.Logf("%v: %d taps accounted for, %d of them made while nothing answered, %d with a photo; %d kills, %d backups, %d writes that found no room on the disk", *long, kept, phones[0].away+phones[1].away, phones[0].photos+phones[1].photos, r.kills, len(r.backups), full)
	r.compareBackups()
}

// newLongRun makes the farm: the demo's, and a batch for each phone that has
// stood for twelve days.
func newLongRun(t *testing.T) (*longRun, demo.SignIn, []grow.Code) {
	t.Helper()
	r := &longRun{T: t, dir: filepath.Join(t.TempDir(), "farm"), pace: min(*long/12, time.Minute)}
	var err error
	if r.port, err = freePort(); err != nil {
		t.Fatal(err)
	}
	r.onSmallDisk()
	in, err := demo.Make(t.Context(), r.dir, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	var bags []grow.Code
	r.open(r.dir, func(s *store.Store) error {
		made := time.Now().Add(-12 * 24 * time.Hour)
		for range 2 {
			d := grow.BatchDraft{Bags: 100, BatchFields: grow.BatchFields{Species: "pleurotus-eryngii", InoculatedAt: made}}
			_, refs, _, err := s.CreateBatch(t.Context(), store.Actor{Person: "Wren"}, d)
			if err != nil {
				return err
			}
			for _, b := range refs {
				bags = append(bags, b.Code)
			}
		}
		return s.SetPublic(t.Context(), grow.Address("http://farm.test:"+r.port))
	})
	r.daily = t.TempDir()
	if r.log, err = os.Create(filepath.Join(t.TempDir(), "log")); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.log.Close() })
	return r, in, bags
}

// open does something with a farm that nobody serves.
func (r *longRun) open(dir string, do func(*store.Store) error) {
	r.Helper()
	s, err := store.Open(r.Context(), dir, store.Options{MustExist: true})
	if err != nil {
		r.Fatal(err)
	}
	defer s.Close()
	if err := do(s); err != nil {
		r.Fatal(err)
	}
}

// bagmarkWrongClock is the program on a machine whose clock is wrong: serve, and
// nothing else.
func bagmarkWrongClock() {
	off, err := time.ParseDuration(os.Getenv("BAGMARK_CLOCK_OFF"))
	ctx := cli.UntilSignal(context.Background())
	if err == nil {
		err = serveWrongClock(ctx, os.Args[1], os.Args[2], off)
	}
	os.Exit(cli.Report(os.Stderr, err))
}

func serveWrongClock(ctx context.Context, dir, listen string, off time.Duration) error {
	s, err := store.Open(ctx, dir, store.Options{Alone: true, MustExist: true, Now: func() time.Time { return time.Now().Add(off) }})
	if err != nil {
		return err
	}
	defer s.Close()
	web, err := server.New(server.Options{Store: s, Log: slog.New(slog.NewTextHandler(os.Stderr, nil))})
	if err != nil {
		return err
	}
	return web.Run(ctx, listen, "127.0.0.1:0", func([]string) {})
}

// serve starts the server with a clock that is off by so much, and waits until
// it answers.
func (r *longRun) serve(off time.Duration) {
	r.Helper()
	listen := "127.0.0.1:" + r.port
	c := exec.Command("bagmark", "serve", "-data", r.dir, "-listen", listen, "-backup-to", r.daily)
	if off != 0 {
		c = exec.Command("bagmark-wrong-clock", r.dir, listen)
		c.Env = append(os.Environ(), "BAGMARK_CLOCK_OFF="+off.String())
	}
	c.Stderr = r.log
	if err := c.Start(); err != nil {
		r.Fatal(err)
	}
	r.server = c
	r.Cleanup(func() { c.Process.Kill(); c.Wait() })
	for deadline := time.Now().Add(3 * time.Minute); ; time.Sleep(20 * time.Millisecond) { // another process starts
		answer, err := http.Get("http://" + listen + "/healthz")
		if err == nil {
			answer.Body.Close()
			r.up.Store(true)
			return
		}
		if time.Now().After(deadline) {
			r.Fatalf("the server does not answer: %v", err)
		}
	}
}

// kill ends the server without warning; what it leaves is sound.
func (r *longRun) kill() {
	r.Helper()
	r.up.Store(false)
	r.server.Process.Kill()
	r.server.Wait() // says that it was killed
	r.kills++
	r.sound(r.dir)
}

// stop asks it to end.
func (r *longRun) stop() {
	r.Helper()
	r.up.Store(false)
	if err := r.server.Process.Signal(syscall.SIGTERM); err != nil {
		r.Fatal(err)
	}
	if err := r.server.Wait(); err != nil {
		r.Errorf("the server ended with %v", err)
	}
}

func (r *longRun) sound(dir string) {
	r.Helper()
	if report, err := store.Check(r.Context(), dir); err != nil || len(report.Problems) > 0 {
		r.Fatalf("check after kill %d: %v, %v", r.kills, report.Problems, err)
	}
}

// between waits for a time drawn between the two, or until the run is over.
func between(ctx context.Context, least, most time.Duration) bool {
	select {
	case <-time.After(least + rand.N(most-least)):
		return true
	case <-ctx.Done():
		return false
	}
}

// troubles is what befalls the farm: kills all the time, and once each the rest.
// A slow machine takes longer, and is spared none.
func (r *longRun) troubles(ctx context.Context, phone *longPhone) {
	start := time.Now()
	once := []func(){func() { r.fillDisk(ctx) }, func() { r.wrongClock(ctx) }, func() { phone.jumps.Store(true) }}
	for time.Since(start) < *long || len(once) > 0 {
		between(ctx, r.pace/3, r.pace)
		if n := len(once); n > 0 && time.Since(start) > *long*time.Duration(4-n)/5 {
			once[0]()
			once = once[1:]
		}
		r.kill()
		between(ctx, r.pace/50, r.pace/5)
		r.serve(0)
	}
	between(ctx, r.pace, 2*r.pace) // for the phone whose clock was set on last of all
}

// wrongClock serves for a while with the clock set back.
func (r *longRun) wrongClock(ctx context.Context) {
	r.stop()
	r.serve(clockOff)
	between(ctx, r.pace/3, r.pace)
}

// backUp takes a backup beside everything else, now and then.
func (r *longRun) backUp(ctx context.Context) {
	to := r.TempDir()
	for between(ctx, r.pace/3, r.pace) {
		file := filepath.Join(to, fmt.Sprintf("%03d.backup", len(r.backups)))
		full := r.full.Load()
		if out, err := exec.Command("bagmark", "backup", "-data", r.dir, file).CombinedOutput(); err == nil {
			r.backups = append(r.backups, file)
		} else if !full && !r.full.Load() {
			r.Errorf("backup %s: %v, %s", file, err, out)
		}
	}
}

// compareBackups restores the backups taken on the way (of many the first, the
// middle one and the last), and one of the farm as it is now, which must then
// export the same bytes.
func (r *longRun) compareBackups() {
	r.Helper()
	if len(r.backups) == 0 {
		r.Fatal("no backup was taken in all that time")
	}
	n := len(r.backups)
	for _, i := range slices.Compact([]int{0, n / 2, n - 1}) {
		r.sound(r.restored(r.backups[i]))
	}
	now := filepath.Join(r.TempDir(), "now.backup")
	r.open(r.dir, func(s *store.Store) error { _, err := s.Backup(r.Context(), now); return err })
	elsewhere := r.restored(now)
	r.sound(elsewhere)
	want, got := r.exports(r.dir), r.exports(elsewhere)
	for i, table := range []string{"batches", "bags", "entries"} {
		if want[i] != got[i] {
			r.Errorf("the restored farm exports other %s", table)
		}
	}
	r.Logf("restored elsewhere, %d kB of exports are the same, byte for byte", (len(want[0])+len(want[1])+len(want[2]))/1000)
}

func (r *longRun) restored(file string) string {
	r.Helper()
	dir := filepath.Join(r.TempDir(), "elsewhere")
	if err := store.Restore(r.Context(), dir, file); err != nil {
		r.Fatal(err)
	}
	return dir
}

func (r *longRun) exports(dir string) (out [3]string) {
	r.Helper()
	r.open(dir, func(s *store.Store) error {
		for i, export := range []func(context.Context, *strings.Builder) error{
			func(ctx context.Context, w *strings.Builder) error { return s.ExportBatches(ctx, w) },
			func(ctx context.Context, w *strings.Builder) error { return s.ExportBags(ctx, w) },
			func(ctx context.Context, w *strings.Builder) error { return s.ExportEntries(ctx, w) },
		} {
			var text strings.Builder
			if err := export(r.Context(), &text); err != nil {
				return err
			}
			out[i] = text.String()
		}
		return nil
	})
	return out
}
