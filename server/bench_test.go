package server

import (
	"bytes"
	"fmt"
	"image/jpeg"
	"io"
	"net/http"
	"testing"
	"time"
)

// do sends a request without looking into the answer.
func (h *house) do(r *http.Request, want int) {
	h.t.Helper()
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		h.t.Fatal(err)
	}
	defer answer.Body.Close()
	if _, err := io.Copy(io.Discard, answer.Body); err != nil || answer.StatusCode != want {
		h.t.Fatalf("status %d, %v", answer.StatusCode, err)
	}
}

// BenchmarkPostEntry is one tap over HTTP, kept on the disk before it is
// answered. "times-health" says how much longer it takes than the same way
// without a database, measured in the same run.
func BenchmarkPostEntry(b *testing.B) {
	h := newHouse(b)
	_, bags := h.kings("200", "")
	start := time.Now()
	const health = 500
	for range health {
		h.do(h.request("GET", "/healthz", ""), 200)
	}
	baseline := time.Since(start) / health
	n := 0
	for b.Loop() {
		n++
		h.do(h.request("POST", "/api/v1/bags/"+bags[n%len(bags)]+"/entries", fmt.Sprintf(`{"id":%q,"kind":"look"}`, id(n))), 201)
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(baseline), "times-health")
}

// BenchmarkPostEntries is the same for an outbox of 100 taps; "times-one" says
// how much longer that takes than one of them alone.
func BenchmarkPostEntries(b *testing.B) {
	h := newHouse(b)
	_, bags := h.kings("200", "")
	n := 0
	send := func(entries int) time.Duration {
		var body bytes.Buffer
		body.WriteString(`{"entries":[`)
		for i := range entries {
			if n++; i > 0 {
				body.WriteByte(',')
			}
			fmt.Fprintf(&body, `{"id":%q,"bag":%q,"kind":"look"}`, id(n), bags[n%len(bags)])
		}
		body.WriteString(`]}`)
		start := time.Now()
		h.do(h.request("POST", "/api/v1/entries", body.String()), 200)
		return time.Since(start)
	}
	var alone time.Duration
	const rounds = 20
	for range rounds {
		alone += send(1) / rounds
	}
	for b.Loop() {
		send(100)
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(alone), "times-one")
}

// BenchmarkPreparePhoto turns and shrinks a photo of 12 megapixels; "times-decode"
// says how much longer that takes than decoding it alone.
func BenchmarkPreparePhoto(b *testing.B) {
	data := withExif(jpegOf(b, 4000, 3000), 6, "")
	start := time.Now()
	if _, err := jpeg.Decode(bytes.NewReader(data)); err != nil {
		b.Fatal(err)
	}
	decode := time.Since(start)
	for b.Loop() {
		if _, err := preparePhoto(data); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(decode), "times-decode")
}
