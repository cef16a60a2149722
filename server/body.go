package server

import (
	"io"
	"net/http"
	"sync/atomic"
	"time"

	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

// mostDrained is how much of a refused body is read and thrown away, so that a
// client that writes before it reads still gets to see the refusal.
const mostDrained = 32 << 20

// drainBody reads what a handler left of a body.
func drainBody(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		body := c.Request().Body
		err := next(c)
		if body != nil && body != http.NoBody && c.Request().Header.Get("Expect") == "" {
			io.CopyN(io.Discard, body, mostDrained) // a failure here harms nobody: the answer stands
		}
		return err
	}
}

// mostOfStrangers is the most of a body from somebody who may be nobody.
const mostOfStrangers = 64 << 10

// How much of large bodies is in memory at once: eight of the largest pictures,
// eight of the largest lists of entries. Of each body the first megabyte is free,
// so that what phones send is taken however many others stall.
const (
	mostPictures = 128 << 20
	mostLists    = 64 << 20
)

// held counts what is in memory of large bodies of one sort.
type held struct {
	most  int64
	bytes atomic.Int64
}

// heldBody is a body that counts while its request is worked on.
type heldBody struct {
	io.ReadCloser
	of   *held
	read int64
}

func (b *heldBody) Read(p []byte) (int, error) {
	n, err := b.ReadCloser.Read(p)
	before := max(b.read, jsonBody)
	b.read += int64(n)
	if more := b.read - before; more > 0 && b.of.bytes.Add(more) > b.of.most {
		return 0, grow.Errorf(grow.Busy, "too much is being sent to the farm just now; try again in a few seconds")
	}
	return n, err
}

// done gives back what the body took.
func (b *heldBody) done() { b.of.bytes.Add(-max(b.read-jsonBody, 0)) }

// holdBody has a large body count among its like until done is called.
func (s *Server) holdBody(r *http.Request, most int64) (done func()) {
	if most <= jsonBody || r.Body == nil {
		return func() {}
	}
	of := &s.heldPictures
	if most == entriesBody {
		of = &s.heldEntries
	}
	b := &heldBody{ReadCloser: r.Body, of: of}
	r.Body = b
	return b.done
}

// limitBody refuses a body that says it is too large at once, one that turns
// out to be as soon as it does.
func limitBody(c echo.Context, most int64) error {
	r := c.Request()
	if most == noBody || r.Body == nil {
		r.Body = http.NoBody
		return nil
	}
	if r.ContentLength > most {
		return grow.Errorf(grow.TooLarge, "what was sent is too large: at most %s", sizeWords(most))
	}
	r.Body = http.MaxBytesReader(c.Response().Writer, r.Body, most)
	if most > jsonBody {
		return bePatient(c, time.Duration(most>>17)*time.Second) // 128 KiB/s: a phone at the edge of the Wi-Fi
	}
	return nil
}

// bePatient gives a request more time than the server's ordinary limits: to be
// read, and as much again to be answered.
func bePatient(c echo.Context, more time.Duration) error {
	control := http.NewResponseController(c.Response())
	now := time.Now()
	if err := control.SetReadDeadline(now.Add(readTimeout + more)); err != nil {
		return nil // not a network connection: there is no deadline to move
	}
	return control.SetWriteDeadline(now.Add(readTimeout + writeTimeout + 2*more))
}
