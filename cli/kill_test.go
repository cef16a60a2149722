package cli_test

import (
	"bufio"
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"flag"
	"fmt"
	"net/http"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"
)

var kills = flag.Int("kills", 4, "how many times the server is killed in the middle of taps")

// tapper is a phone with one bag that logs one look after the other. What was
// not acknowledged is sent again, under the same id, by the next server.
type tapper struct {
	bag     grow.Code
	waiting []byte
	id      grow.ID
	known   map[grow.ID]bool // acknowledged
}

// TestKilledServerLosesNothing kills the server without warning (kill -9) while
// eight phones tap. The kernel keeps what was written, so this shows that
// nothing is acknowledged before it is committed; that a commit is flushed to
// the disk is a setting that the store reads back.
func TestKilledServerLosesNothing(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "farm")
	token, phones := farmToKill(t, dir)
	for cycle := range *kills {
		server, address := serveToKill(t, dir)
		ctx, stop := context.WithCancel(t.Context())
		var tapping sync.WaitGroup
		for _, p := range phones {
			tapping.Go(func() { p.tap(ctx, t, address, token) })
		}
		time.Sleep(time.Duration(60+37*(cycle%11)) * time.Millisecond) // the moment of the kill, not a wait for something
		if err := server.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		server.Wait() // says that it was killed
		stop()
		tapping.Wait()
		accountFor(t, dir, phones)
	}
	total := 0
	for _, p := range phones {
		total += len(p.known)
	}
	if total == 0 {
		t.Fatal("no tap was acknowledged in all that time")
	}
	t.Logf("%d kills, %d acknowledged taps, none lost", *kills, total)
}

func farmToKill(t *testing.T, dir string) (token string, phones []*tapper) {
	t.Helper()
	s, err := store.Open(t.Context(), dir, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	d := grow.BatchDraft{Bags: 8, BatchFields: grow.BatchFields{Species: "pleurotus-ostreatus", InoculatedAt: time.Now()}}
	_, bags, _, err := s.CreateBatch(t.Context(), store.Actor{Person: "Ada"}, d)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range bags {
		phones = append(phones, &tapper{bag: b.Code, known: map[grow.ID]bool{}})
	}
	token, err = s.NewToken(t.Context(), "phones", store.Grower)
	if err != nil {
		t.Fatal(err)
	}
	return token, phones
}

func serveToKill(t *testing.T, dir string) (*exec.Cmd, string) {
	t.Helper()
	c := exec.Command("bagmark", "serve", "-data", dir, "-listen", "127.0.0.1:0")
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Process.Kill() })
	line, err := bufio.NewReader(out).ReadString('\n')
	address, ok := strings.CutPrefix(strings.TrimSpace(line), "listening on ")
	if err != nil || !ok {
		t.Fatalf("the server says %q, %v", line, err)
	}
	return c, address
}

// tap logs until the server is gone.
func (p *tapper) tap(ctx context.Context, t *testing.T, address, token string) {
	for ctx.Err() == nil {
		if p.waiting == nil {
			p.id, _ = grow.NewID(rand.Reader) // crypto/rand does not fail
			p.waiting, _ = json.Marshal(map[string]string{"id": string(p.id), "kind": "look"})
		}
		r, err := http.NewRequestWithContext(ctx, http.MethodPost, address+"/api/v1/bags/"+string(p.bag)+"/entries", bytes.NewReader(p.waiting))
		if err != nil {
			t.Error(err)
			return
		}
		r.Header.Set("Authorization", "Bearer "+token)
		r.Header.Set("Content-Type", "application/json")
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			return
		}
		var got struct {
			Entry struct{ ID grow.ID } `json:"entry"`
		}
		err = json.NewDecoder(answer.Body).Decode(&got)
		answer.Body.Close()
		if err != nil {
			return
		}
		if answer.StatusCode/100 != 2 || got.Entry.ID != p.id {
			t.Errorf("the tap was answered %s", answer.Status)
			return
		}
		p.known[p.id], p.waiting = true, nil
	}
}

// accountFor demands every acknowledged tap, once, and a farm that is sound.
func accountFor(t *testing.T, dir string, phones []*tapper) {
	t.Helper()
	report, err := store.Check(t.Context(), dir)
	if err != nil || len(report.Problems) > 0 {
		t.Fatalf("check: %v, %v", report.Problems, err)
	}
	s, err := store.Open(t.Context(), dir, store.Options{MustExist: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for _, p := range phones {
		bag, err := s.Bag(t.Context(), p.bag)
		if err != nil {
			t.Fatal(err)
		}
		if err := p.missing(bag.Entries); err != nil {
			t.Fatal(err)
		}
	}
}

func (p *tapper) missing(log []grow.Entry) error {
	times := map[grow.ID]int{}
	for _, e := range log {
		times[e.ID]++
	}
	for id := range p.known {
		if times[id] != 1 {
			return fmt.Errorf("bag %s: the acknowledged tap %s is there %d times", p.bag, id, times[id])
		}
	}
	if more := len(times) - len(p.known); more > 1 {
		return fmt.Errorf("bag %s: %d taps are stored that nobody was told of, and at most one was under way", p.bag, more)
	}
	return nil
}
