package server

import (
	"bytes"
	"context"
	"io"
	"net"
	"net/http"
	"runtime/debug"
	"runtime/metrics"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"bagmark/scanner"
	"bagmark/store"
)

// mostMemory is what a small computer has left for the farm.
const mostMemory = 600 << 20

// TestMemoryUnderLoad sends what takes most memory, from 16 clients at once:
// photos of nearly as many pixels as are taken, pictures that claim more, bodies
// of 20 MB, and connections that say one letter a time. It is not parallel, so
// that what it reads is the server's.
func TestMemoryUnderLoad(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped in short tests: it decodes many large pictures")
	}
	if built, _ := debug.ReadBuildInfo(); built != nil && slices.Contains(built.Settings, debug.BuildSetting{Key: "-race", Value: "true"}) {
		t.Skip("skipped: the race detector takes several times the memory")
	}
	h := newHouse(t)
	batch, _ := h.kings("2000", "")
	large := jpegOf(t, 8000, 6000)
	bomb, body := claiming(jpegOf(t, 64, 48), 65000, 65000), bytes.Repeat([]byte("x"), 20<<20)
	many := []byte(`{"entries":[` + strings.Repeat("{},", 2_000_000) + `{}]}`)
	padded := append(jpegOf(t, 640, 480), make([]byte, scanner.MaxPictureBytes-1<<20)...)
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(MemoryLimit))
	defer debug.SetGCPercent(debug.SetGCPercent(GCPercent))
	debug.FreeOSMemory()
	done, most := make(chan struct{}), make(chan uint64, 1)
	go func() { most <- mostInUse(done) }()
	var all, slow sync.WaitGroup
	send := func(method, path string, data []byte, want ...int) {
		all.Go(func() {
			r, err := http.NewRequestWithContext(context.Background(), method, h.web.URL+path, bytes.NewReader(data))
			if err != nil {
				t.Error(err)
				return
			}
			h.as(store.Grower, r)
			answer, err := http.DefaultClient.Do(r)
			if err != nil {
				return // cut off while sending too much
			}
			defer answer.Body.Close()
			io.Copy(io.Discard, answer.Body)
			for _, status := range append(want, http.StatusServiceUnavailable) {
				if answer.StatusCode == status {
					return
				}
			}
			t.Errorf("%s %s: %s, want %v", method, path, answer.Status, want)
		})
	}
	for range 4 {
		send("POST", "/api/v1/photos", large, 201, 200)
		send("POST", "/api/v1/scans", large, 200)
		send("POST", "/api/v1/photos", padded, 201, 200)
		send("POST", "/api/v1/scans", bomb, 413)
		send("POST", "/api/v1/entries", body, 413)
		send("POST", "/api/v1/entries", many, 400)
		send("POST", "/api/v1/photos", body, 413)
		slow.Go(func() { dribble(h.web.Listener.Addr().String(), done) })
	}
	send("GET", "/api/v1/batches/"+batch+"/labels.pdf?sheet=a4-3x7-63.5x38.1", nil, 200)
	h.get("/healthz").want(200) // and it answers meanwhile
	all.Wait()
	close(done)
	slow.Wait()
	if m := <-most; m > mostMemory {
		t.Errorf("%d MB at most, want no more than %d", m>>20, mostMemory>>20)
	} else {
		t.Logf("%d MB at most", m>>20)
	}
}

// dribble opens a connection and sends a header letter by letter.
func dribble(address string, done <-chan struct{}) {
	c, err := net.Dial("tcp", address)
	if err != nil {
		return
	}
	defer c.Close()
	for _, b := range []byte("GET / HTTP/1.1\r\nHost: " + strings.Repeat("x", 1000)) {
		select {
		case <-done:
			return
		default:
			if _, err := c.Write([]byte{b}); err != nil {
				return
			}
		}
	}
}

// mostInUse is the most memory that the program had from the system until done.
func mostInUse(done <-chan struct{}) (most uint64) {
	samples := []metrics.Sample{{Name: "/memory/classes/total:bytes"}, {Name: "/memory/classes/heap/released:bytes"}}
	tick := time.NewTicker(2 * time.Millisecond)
	defer tick.Stop()
	for {
		metrics.Read(samples)
		most = max(most, samples[0].Value.Uint64()-samples[1].Value.Uint64())
		select {
		case <-done:
			return most
		case <-tick.C:
		}
	}
}
