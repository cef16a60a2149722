package server

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/labels"

	"github.com/labstack/echo/v4"
)

// statuses gives each kind of refusal its HTTP status.
var statuses = map[grow.ErrorKind]int{
	grow.Invalid:      http.StatusBadRequest,
	grow.Unauthorized: http.StatusUnauthorized,
	grow.Forbidden:    http.StatusForbidden,
	grow.NotFound:     http.StatusNotFound,
	grow.NotAllowed:   http.StatusMethodNotAllowed,
	grow.Conflict:     http.StatusConflict,
	grow.TooLarge:     http.StatusRequestEntityTooLarge,
	grow.Unsupported:  http.StatusUnsupportedMediaType,
	grow.TooMany:      http.StatusTooManyRequests,
	grow.Internal:     http.StatusInternalServerError,
	grow.Busy:         http.StatusServiceUnavailable,
}

func statusOf(kind grow.ErrorKind) int {
	if status, ok := statuses[kind]; ok {
		return status
	}
	return http.StatusInternalServerError
}

// errorBody is how the API writes an error. Fields is never null.
type errorBody struct {
	Kind    grow.ErrorKind    `json:"kind"`
	Message string            `json:"message"`
	Fields  map[string]string `json:"fields"`
}

func bodyOf(e *grow.Error) errorBody {
	b := errorBody{e.Kind, e.Message, e.Fields}
	if b.Fields == nil {
		b.Fields = map[string]string{}
	}
	return b
}

// retryIn is the cause of a refusal that holds only for a while.
type retryIn time.Duration

func (r retryIn) Error() string { return "try again in " + time.Duration(r).String() }

// seconds rounds up: too early helps nobody.
func (r retryIn) seconds() int { return int((time.Duration(r) + time.Second - 1) / time.Second) }

// words are the same for a person.
func (r retryIn) words() string {
	if n := max(r.seconds(), 1); n > 1 {
		return strconv.Itoa(n) + " seconds"
	}
	return "a second"
}

// busyFor is told to those who meet a full queue.
const busyFor = 2 * time.Second

// answerError is the one place that turns an error into an answer.
func (s *Server) answerError(err error, c echo.Context) {
	if c.Response().Committed || errors.Is(err, context.Canceled) && c.Request().Context().Err() != nil {
		return // nobody is listening any more
	}
	e := s.public(c, err)
	var wait retryIn
	switch {
	case errors.As(err, &wait):
		c.Response().Header().Set("Retry-After", strconv.Itoa(max(wait.seconds(), 1)))
	case e.Kind == grow.Busy:
		c.Response().Header().Set("Retry-After", strconv.Itoa(retryIn(busyFor).seconds()))
	case e.Kind == grow.Unauthorized && isAPI(c):
		c.Response().Header().Set("WWW-Authenticate", `Bearer realm="bagmark"`)
	}
	if isAPI(c) && !isOpened(c) {
		err = answer(c, statusOf(e.Kind), map[string]errorBody{"error": bodyOf(e)})
	} else {
		err = s.renderError(c, e)
	}
	if err != nil {
		s.log.Error("an error could not be shown", "request", requestID(c), "cause", err.Error())
	}
}

// public is the error as it may be shown. An internal one is logged with its
// cause and shown with nothing but the request's id.
func (s *Server) public(c echo.Context, err error) *grow.Error {
	e := asError(err)
	if e.Kind != grow.Internal {
		return e
	}
	s.log.LogAttrs(c.Request().Context(), slog.LevelError, "request failed",
		slog.String("request", requestID(c)), slog.String("route", c.Path()), slog.String("message", e.Message), slog.String("cause", causeOf(err)))
	return &grow.Error{Kind: grow.Internal, Fields: nil, Cause: err,
		Message: wordsOfInternal(e) + " The server's log says more under " + requestID(c) + "."}
}

// wordsOfInternal keeps a message that was written for people, such as that the
// disk is full; what was not gets plain words.
func wordsOfInternal(e *grow.Error) string {
	if e.Message == "" {
		return "Something went wrong in the server; nothing was saved."
	}
	return strings.ToUpper(e.Message[:1]) + strings.TrimSuffix(e.Message[1:], ".") + "."
}

func causeOf(err error) string {
	var e *grow.Error
	if errors.As(err, &e) && e.Cause != nil {
		return e.Cause.Error()
	}
	return err.Error()
}

// asError gives any error the one type.
func asError(err error) *grow.Error {
	var ours *grow.Error
	var web *echo.HTTPError
	var large *http.MaxBytesError
	var label *labels.Error
	switch {
	case errors.As(err, &ours):
		return ours
	case errors.As(err, &large):
		return &grow.Error{Kind: grow.TooLarge, Message: "what was sent is too large: at most " + sizeWords(large.Limit), Cause: err}
	case errors.As(err, &label):
		return &grow.Error{Kind: grow.Invalid, Message: label.Message, Fields: label.Fields(), Cause: err}
	case errors.As(err, &web):
		return errorOfEcho(web)
	case errors.Is(err, context.DeadlineExceeded):
		return &grow.Error{Kind: grow.Busy, Message: "this took too long; try again in a moment", Cause: err}
	}
	return &grow.Error{Kind: grow.Internal, Cause: err}
}

// errorOfEcho are the refusals of the router.
func errorOfEcho(e *echo.HTTPError) *grow.Error {
	switch e.Code {
	case http.StatusNotFound:
		return &grow.Error{Kind: grow.NotFound, Message: "there is nothing at this address", Cause: e}
	case http.StatusMethodNotAllowed:
		return &grow.Error{Kind: grow.NotAllowed, Message: "this address does not take that method", Cause: e}
	}
	return &grow.Error{Kind: grow.Internal, Cause: e}
}

// isAPI tells whether a program is asking rather than a person.
func isAPI(c echo.Context) bool {
	path := c.Request().URL.Path
	return strings.HasPrefix(path, "/api/") || path == "/healthz"
}

// isOpened tells whether a person opened this address as a page, as the print
// page's form does with a sheet of labels; a program does not ask for HTML.
func isOpened(c echo.Context) bool {
	r := c.Request()
	return r.Method == http.MethodGet && strings.HasSuffix(r.URL.Path, ".pdf") && strings.Contains(r.Header.Get("Accept"), "text/html")
}

func sizeWords(bytes int64) string {
	if bytes >= 1<<20 {
		return strconv.FormatInt(bytes>>20, 10) + " MiB"
	}
	return strconv.FormatInt(bytes, 10) + " bytes"
}
