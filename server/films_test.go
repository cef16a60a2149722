package server

import (
	"fmt"
	"testing"
	"time"

	"bagmark/store"
)

func TestFilmsAreFewAndForgotten(t *testing.T) {
	t.Parallel()
	var f films
	now := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	ana, ben := store.Actor{PersonID: 1, DeviceID: 1}, store.Actor{PersonID: 2, DeviceID: 7}
	first := f.of(ana, "a", now)
	if f.of(ana, "a", now.Add(time.Second)) != first {
		t.Error("the next frame of a film began a new one")
	}
	if f.of(ben, "a", now) == first {
		t.Error("two devices share a film because they gave it the same name")
	}
	if f.of(ana, "a", now.Add(time.Minute)) == first {
		t.Error("a film was kept for a minute without frames")
	}
	for i := range 1000 {
		f.of(ana, fmt.Sprint("x", i), now.Add(time.Minute))
	}
	if len(f.list) > mostFilmsEach {
		t.Errorf("one device has %d films, at most %d", len(f.list), mostFilmsEach)
	}
	for i := range 1000 {
		f.of(store.Actor{PersonID: int64(i)}, "x", now.Add(time.Minute))
	}
	if len(f.list) > mostFilms {
		t.Errorf("%d films, at most %d", len(f.list), mostFilms)
	}
}

// A picture sent as a frame is answered as one that stands alone.
func TestScanOfAFilm(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	_, bags := h.kings("1", "")
	data, _, _ := drawnShelf(t, 8, "http://192.168.1.20:8080/B/"+bags[0])
	for range 3 {
		var got scanAnswer
		h.picture("/api/v1/scans?film=8e0f-1", "image/png", data).want(200).into(&got)
		if len(got.Found) != 1 || got.Found[0].Code != bags[0] || !got.Found[0].Certain {
			t.Errorf("got %+v, want bag %s for certain", got.Found, bags[0])
		}
	}
	h.picture("/api/v1/scans?film=a/b", "image/png", data).want(400)
}
