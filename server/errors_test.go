package server

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/labels"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// serveWith serves one more route beside the farm's own.
func (h *house) serveWith(path string, handle handler) {
	h.server.echo.GET(path, h.server.serve(route{http.MethodGet, path, anyone, noBody, handle}))
}

// TestKindsHaveTheirStatus: the statuses are those of RFC 9110 and RFC 6585.
func TestKindsHaveTheirStatus(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	for kind, status := range map[grow.ErrorKind]int{
		grow.Invalid: 400, grow.Unauthorized: 401, grow.Forbidden: 403, grow.NotFound: 404, grow.NotAllowed: 405, grow.Conflict: 409,
		grow.TooLarge: 413, grow.Unsupported: 415, grow.TooMany: 429, grow.Internal: 500, grow.Busy: 503,
	} {
		path := "/api/v1/try/" + string(kind)
		h.serveWith(path, func(echo.Context) error {
			return &grow.Error{Kind: kind, Message: "said to a person", Fields: map[string]string{"bags": "must be less"}}
		})
		e := h.get(path).refused(status, string(kind))
		if kind != grow.Internal && (e.Error.Message != "said to a person" || e.Error.Fields["bags"] != "must be less") {
			t.Errorf("%s: %+v", kind, e)
		}
	}
}

func TestInternalErrorsKeepTheirCause(t *testing.T) {
	t.Parallel()
	const secret = "no such table: bags"
	for _, test := range []struct {
		name   string
		handle handler
		want   string
	}{
		{"an error that is not ours", func(echo.Context) error { return errors.New(secret) }, "Something went wrong"},
		{"one with a cause", func(echo.Context) error {
			return &grow.Error{Kind: grow.Internal, Message: "the disk is full: nothing was saved", Cause: errors.New(secret)}
		}, "The disk is full: nothing was saved."},
		{"a panic", func(echo.Context) error { panic(secret) }, "Something went wrong"},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			h := newHouse(t)
			h.serveWith("/api/v1/try", test.handle)
			got := h.get("/api/v1/try")
			e := got.refused(500, "internal")
			id := got.header.Get("X-Request-Id")
			if strings.Contains(string(got.body), secret) || !strings.Contains(e.Error.Message, test.want) || !strings.Contains(e.Error.Message, id) {
				t.Errorf("shown: %s", got.body)
			}
			if log := h.log.String(); !strings.Contains(log, secret) || !strings.Contains(log, id) {
				t.Errorf("logged: %s", log)
			}
		})
	}
}

func TestErrorsOfOthersGetAKind(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name string
		err  error
		want grow.ErrorKind
	}{
		{"a wrapped one of ours", errors.Join(errors.New("x"), grow.Errorf(grow.Conflict, "y")), grow.Conflict},
		{"a body over its limit", &http.MaxBytesError{Limit: 1 << 20}, grow.TooLarge},
		{"labels", &labels.Error{Message: "no", Problems: []labels.Problem{{Field: "start", Message: "must be less"}}}, grow.Invalid},
		{"the router's 404", echo.ErrNotFound, grow.NotFound},
		{"the router's 405", echo.ErrMethodNotAllowed, grow.NotAllowed},
		{"the router's others", echo.ErrBadGateway, grow.Internal},
		{"a deadline", context.DeadlineExceeded, grow.Busy},
		{"anything", errors.New("x"), grow.Internal},
	} {
		if got := asError(test.err); got.Kind != test.want {
			t.Errorf("%s: %s, want %s", test.name, got.Kind, test.want)
		}
	}
	if got := asError(&labels.Error{Problems: []labels.Problem{{Field: "start", Message: "must be less"}}}); got.Fields["start"] != "must be less" {
		t.Errorf("fields of labels are lost: %v", got.Fields)
	}
}

func TestRetryAfter(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.serveWith("/api/v1/busy", func(echo.Context) error { return grow.Errorf(grow.Busy, "the queue is full") })
	h.serveWith("/api/v1/many", func(echo.Context) error {
		return &grow.Error{Kind: grow.TooMany, Message: "wait", Cause: retryIn(11*time.Second + time.Millisecond)}
	})
	for path, want := range map[string]string{"/api/v1/busy": "2", "/api/v1/many": "12"} {
		if got := h.get(path).header.Get("Retry-After"); got != want {
			t.Errorf("%s: Retry-After %q, want %q", path, got, want)
		}
	}
}

func TestWhatIsNotThere(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.get("/api/v1/nothing").refused(404, "not_found")
	h.get("/api/v1/bags/").refused(404, "not_found")
	h.get("/api/v1/bags/7K3M9QXR/").refused(404, "not_found")
	h.get("/api/v1/bags/7K3M-9QXR").refused(404, "not_found")
	h.get("/api/v1/batches/KING-000000").refused(404, "not_found")
	h.get("/api/v1/batches/K").refused(404, "not_found")
	h.get("/api/v1/photos/x").refused(404, "not_found")
	for _, method := range []string{"DELETE", "PUT", "POST"} {
		got := h.send(h.request(method, "/api/v1/bags/7K3M9QXR", ""))
		got.refused(405, "not_allowed")
		if allow := got.header.Get("Allow"); !strings.Contains(allow, "GET") { // RFC 9110, 15.5.6
			t.Errorf("%s: Allow is %q", method, allow)
		}
	}
	if got := h.get("/nothing/here").want(404); strings.HasPrefix(got.header.Get("Content-Type"), "application/json") {
		t.Errorf("a page's refusal is JSON: %s", got.body)
	}
}

func TestHeadAnswersLikeGetWithoutABody(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	got := h.send(h.request("HEAD", "/api/v1/conditions", "")).want(200)
	if len(got.body) != 0 || got.header.Get("Content-Type") != h.get("/api/v1/conditions").header.Get("Content-Type") {
		t.Errorf("HEAD: %d bytes, %v", len(got.body), got.header)
	}
}

// TestNobodyIsAnsweredWhoLeft makes sure that a cut connection is no internal error.
func TestNobodyIsAnsweredWhoLeft(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	ctx, cancel := context.WithCancel(t.Context())
	r := httptest.NewRequestWithContext(ctx, "GET", "/api/v1/batches", nil)
	r.Host = "localhost"
	h.as(store.Viewer, r)
	cancel()
	w := httptest.NewRecorder()
	h.server.Handler().ServeHTTP(w, r)
	if w.Body.Len() != 0 || strings.Contains(h.log.String(), "level=ERROR") {
		t.Errorf("answered %s, logged %s", w.Body, h.log)
	}
}
