package server

import (
	"io"
	"net/http"
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
