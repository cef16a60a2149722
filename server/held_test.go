package server

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"
)

func TestLargeBodiesAreHeldWithinBounds(t *testing.T) {
	t.Parallel()
	s := Server{heldPictures: held{most: mostPictures}}
	read := func(size int) (func(), error) {
		r := http.Request{Body: io.NopCloser(bytes.NewReader(make([]byte, size)))}
		done := s.holdBody(&r, pictureBody)
		_, err := io.Copy(io.Discard, r.Body)
		return done, err
	}
	var all []func()
	for range mostPictures / (15 << 20) {
		done, err := read(16 << 20) // of which the first is free
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, done)
	}
	done, err := read(16 << 20)
	if grow.KindOf(err) != grow.Busy {
		t.Errorf("one more than there is room for: %v", err)
	}
	done()
	if done, err = read(jsonBody); err != nil {
		t.Errorf("a phone's picture beside them: %v", err)
	}
	done()
	for _, done := range all {
		done()
	}
	if left := s.heldPictures.bytes.Load(); left != 0 {
		t.Errorf("%d bytes are never given back", left)
	}
}

// TestUploadsHoldUpNoTap: a dozen phones stall in the middle of large photos;
// others tap and send photos as if they were not there.
func TestUploadsHoldUpNoTap(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	_, bags := h.kings("1", "")
	for range 12 {
		stall(t, h, 14<<20)
	}
	h.post("/api/v1/bags/"+bags[0]+"/entries", fmt.Sprintf(`{"id":%q,"kind":"look"}`, id(1))).want(http.StatusCreated)
	h.picture("/api/v1/photos", "image/jpeg", jpegOf(t, 640, 480)).want(http.StatusCreated)
	h.get("/api/v1/bags/" + bags[0]).want(http.StatusOK)
	if held := h.server.heldPictures.bytes.Load(); held > mostPictures+12<<20 { // one read of each may go over it
		t.Errorf("%d MB of stalled photos are held", held>>20)
	}
}

// stall sends so much of a photo and then nothing more until the test ends.
func stall(t *testing.T, h *house, size int) {
	t.Helper()
	r := h.request("POST", "/api/v1/photos", "")
	h.as(store.Grower, r)
	c, err := net.Dial("tcp", h.web.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	if err := c.SetWriteDeadline(time.Now().Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	head := fmt.Sprintf("POST /api/v1/photos HTTP/1.1\r\nHost: %s\r\nAuthorization: %s\r\nContent-Type: image/jpeg\r\nContent-Length: %d\r\n\r\n", r.Host, r.Header.Get("Authorization"), pictureBody)
	_, err = io.Copy(c, io.MultiReader(strings.NewReader(head), bytes.NewReader(make([]byte, size))))
	if err != nil {
		t.Fatal(err)
	}
}
