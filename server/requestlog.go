package server

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"time"

	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

const requestKey = "bagmark.request"

// identifyRequest gives each request an id of our own: what a client sends as
// one is not believed.
func (s *Server) identifyRequest(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		var b [6]byte
		rand.Read(b[:])
		id := hex.EncodeToString(b[:])
		c.Set(requestKey, id)
		c.Response().Header().Set(echo.HeaderXRequestID, id)
		return next(c)
	}
}

// requestID is the id under which the log tells of a request.
func requestID(c echo.Context) string {
	id, _ := c.Get(requestKey).(string)
	return id
}

// logRequest writes one line a request: the route, never the address, since an
// address may hold a secret. Reads that went well are only logged in detail.
func (s *Server) logRequest(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		start := time.Now()
		if err := next(c); err != nil {
			c.Error(err)
		}
		level := slog.LevelInfo
		status := c.Response().Status
		if status < 400 && isRead(c.Request().Method) {
			level = slog.LevelDebug
		}
		if !s.log.Enabled(c.Request().Context(), level) {
			return nil
		}
		who := actorOf(c)
		s.log.LogAttrs(c.Request().Context(), level, "request",
			slog.String("request", requestID(c)), slog.String("method", c.Request().Method), slog.String("route", c.Path()),
			slog.Int("status", status), slog.Int64("bytes", c.Response().Size), slog.Duration("took", time.Since(start)),
			slog.String("person", who.Person), slog.String("device", who.Device), slog.String("from", c.RealIP()))
		return nil
	}
}

func isRead(method string) bool { return method == http.MethodGet || method == http.MethodHead }

// note logs one event that an owner may want to find again: a sign-in, a
// refusal, a change of rights, an export.
func (s *Server) note(c echo.Context, event string, details ...slog.Attr) {
	who := actorOf(c)
	details = append([]slog.Attr{slog.String("request", requestID(c)), slog.String("person", who.Person),
		slog.String("device", who.Device), slog.String("from", c.RealIP())}, details...)
	s.log.LogAttrs(c.Request().Context(), slog.LevelInfo, event, details...)
}

// recoverPanic turns a panic into an internal error of this one request.
func (s *Server) recoverPanic(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) (err error) {
		defer func() {
			p := recover()
			if p == nil {
				return
			}
			if cause, ok := p.(error); ok && errors.Is(cause, http.ErrAbortHandler) {
				panic(p) // an answer that must break off
			}
			err = &grow.Error{Kind: grow.Internal, Cause: fmt.Errorf("panic: %v\n%s", p, debug.Stack())}
		}()
		return next(c)
	}
}
