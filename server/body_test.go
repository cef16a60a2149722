package server

import (
	"bytes"
	"io"
	"net/http"
	"strings"
	"testing"

	"bagmark/store"
)

// TestBodiesHaveTheirLimits sends a body just over each limit: first with its
// length told ahead, then without.
func TestBodiesHaveTheirLimits(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	for _, test := range []struct {
		method, path string
		most         int
	}{
		{"POST", "/api/v1/batches", 1 << 20},
		{"PATCH", "/api/v1/batches/KING-261122", 1 << 20},
		{"POST", "/api/v1/blanks", 1 << 20},
		{"POST", "/api/v1/bags/7K3M9QXR/entries", 1 << 20},
		{"POST", "/api/v1/entries", 8 << 20},
		{"POST", "/api/v1/photos", 16 << 20},
		{"POST", "/api/v1/scans", 16 << 20},
		{"PUT", "/api/v1/settings", 1 << 20},
	} {
		for _, told := range []bool{true, false} {
			body := bytes.Repeat([]byte(" "), test.most+1)
			if strings.Contains(test.path, "photos") || strings.Contains(test.path, "scans") {
				copy(body, "\xff\xd8\xff")
			}
			r := h.as(store.Owner, h.request(test.method, test.path, "x"))
			r.Body, r.ContentLength = io.NopCloser(bytes.NewReader(body)), int64(len(body))
			if !told {
				r.ContentLength = -1
			}
			h.send(r).refused(http.StatusRequestEntityTooLarge, "too_large")
		}
	}
}

// TestALargeBodyOfAStrangerIsNotRead: rights come before bodies.
func TestALargeBodyOfAStrangerIsNotRead(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	r := h.as(store.Viewer, h.request("POST", "/api/v1/entries", strings.Repeat(" ", 9<<20)))
	h.send(r).refused(403, "forbidden")
	r = h.request("POST", "/api/v1/entries", strings.Repeat(" ", 9<<20))
	r.Header.Del("Authorization")
	h.send(r).refused(401, "unauthorized")
}

func TestContentTypes(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	for _, test := range []struct {
		kind   string
		status int
	}{
		{"application/json", 201},
		{"application/json; charset=utf-8", 201},
		{"application/json; charset=UTF-8", 201},
		{"", 201},
		{"application/json; charset=latin1", 415},
		{"text/plain", 415},
		{"application/x-www-form-urlencoded", 415},
		{"multipart/form-data; boundary=x", 415},
		{"what is this", 415},
	} {
		r := h.request("POST", "/api/v1/blanks", `{"count":1}`)
		r.Header.Set("Content-Type", test.kind)
		if test.kind == "" {
			r.Header.Del("Content-Type")
		}
		got := h.send(r)
		if test.status == 415 {
			got.refused(415, "unsupported")
		} else {
			got.want(test.status)
		}
	}
}

func TestBodiesThatAreNoRequest(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	for _, path := range []string{"/api/v1/batches", "/api/v1/blanks", "/api/v1/entries", "/api/v1/bags/7K3M9QXR/entries", "/api/v1/places"} {
		for _, body := range []string{"", "null x", "{", "[]", `"text"`, `{"no such field":1}`, "{} {}"} {
			h.post(path, body).refused(400, "invalid")
		}
	}
}
