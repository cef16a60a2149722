package server

import (
	"bytes"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"bagmark/store"
)

// house is a farm under test: a real database in a temporary folder, served
// over real HTTP, with a token of each role.
type house struct {
	t      testing.TB
	dir    string
	store  *store.Store
	server *Server
	web    *httptest.Server
	tokens map[store.Role]string
	log    *logLines
	clock  *clock
	way    http.RoundTripper // to the server
}

// clock is the store's time: it stands still until a test moves it or lets it
// run.
type clock struct {
	mu    sync.Mutex
	now   time.Time
	since time.Time // when it began to run; zero while it stands still
}

func (c *clock) Now() time.Time { return c.at(time.Now()) }

// at is what it says at a moment of this machine's clock.
func (c *clock) at(real time.Time) time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.since.IsZero() {
		return c.now
	}
	return c.now.Add(real.Sub(c.since))
}

func (c *clock) run() {
	c.mu.Lock()
	c.since = time.Now()
	c.mu.Unlock()
}

func (c *clock) move(d time.Duration) {
	c.mu.Lock()
	c.now = c.now.Add(d)
	c.mu.Unlock()
}

// noon is when tests take place unless they move the clock.
var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// logLines collects what the server logs.
type logLines struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (l *logLines) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.Write(b)
}

func (l *logLines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.String()
}

func newHouse(t testing.TB) *house {
	t.Helper()
	h := &house{t: t, dir: t.TempDir(), tokens: map[store.Role]string{}, log: &logLines{}, clock: &clock{now: noon}, way: http.DefaultTransport}
	var err error
	h.store, err = store.Open(t.Context(), h.dir, store.Options{Now: h.clock.Now, Alone: true, TimeZone: "Europe/Lisbon"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { h.store.Close() })
	for _, role := range store.Roles {
		if h.tokens[role], err = h.store.NewToken(t.Context(), string(role)+"'s program", role); err != nil {
			t.Fatal(err)
		}
	}
	log := slog.New(slog.NewTextHandler(h.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	if h.server, err = New(Options{Store: h.store, Log: log, Version: "1.2.3"}); err != nil {
		t.Fatal(err)
	}
	h.web = httptest.NewServer(h.server.Handler())
	t.Cleanup(func() { h.web.Close() })
	return h
}

// reply is an answer, read to its end.
type reply struct {
	t      testing.TB
	what   string
	status int
	header http.Header
	body   []byte
}

// request makes a request with a grower's token; change it before sending.
func (h *house) request(method, path, body string) *http.Request {
	h.t.Helper()
	r, err := http.NewRequestWithContext(h.t.Context(), method, h.web.URL+path, strings.NewReader(body))
	if err != nil {
		h.t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+h.tokens[store.Grower])
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	return r
}

// as signs a request with the token of another role.
func (h *house) as(role store.Role, r *http.Request) *http.Request {
	r.Header.Set("Authorization", "Bearer "+h.tokens[role])
	return r
}

func (h *house) send(r *http.Request) *reply {
	h.t.Helper()
	answer, err := h.way.RoundTrip(r)
	if err != nil {
		h.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		h.t.Fatal(err)
	}
	got := &reply{t: h.t, what: r.Method + " " + r.URL.RequestURI(), status: answer.StatusCode, header: answer.Header, body: body}
	h.checkAnswer(got, r.Method, r.URL.Path)
	return got
}

func (h *house) get(path string) *reply { h.t.Helper(); return h.send(h.request("GET", path, "")) }

func (h *house) post(path, body string) *reply {
	h.t.Helper()
	return h.send(h.request("POST", path, body))
}

// want fails the test at once unless the status is right.
func (r *reply) want(status int) *reply {
	r.t.Helper()
	if r.status != status {
		r.t.Fatalf("%s: status %d, want %d: %s", r.what, r.status, status, r.body)
	}
	return r
}

// into reads the answer's JSON.
func (r *reply) into(v any) *reply {
	r.t.Helper()
	if err := json.Unmarshal(r.body, v); err != nil {
		r.t.Fatalf("%s: %v: %s", r.what, err, r.body)
	}
	return r
}

// at follows a path of names and positions into the answer's JSON.
func (r *reply) at(path ...any) any {
	r.t.Helper()
	var v any
	r.into(&v)
	for _, step := range path {
		switch s := step.(type) {
		case string:
			m, _ := v.(map[string]any)
			member, ok := m[s]
			if v = member; !ok {
				r.t.Fatalf("%s: no %v in %s", r.what, path, r.body)
			}
		case int:
			list, ok := v.([]any)
			if !ok || s >= len(list) {
				r.t.Fatalf("%s: no %v in %s", r.what, path, r.body)
			}
			v = list[s]
		}
	}
	return v
}

// refusal is an error as the API writes it.
type refusal struct {
	Error struct {
		Kind    string            `json:"kind"`
		Message string            `json:"message"`
		Fields  map[string]string `json:"fields"`
	} `json:"error"`
}

// refused checks an error's status and kind, and that the named fields are told.
func (r *reply) refused(status int, kind string, fields ...string) refusal {
	r.t.Helper()
	var e refusal
	r.want(status).into(&e)
	if e.Error.Kind != kind || e.Error.Message == "" || e.Error.Fields == nil {
		r.t.Fatalf("%s: not an error of kind %s with a message and fields: %s", r.what, kind, r.body)
	}
	for _, f := range fields {
		if e.Error.Fields[f] == "" {
			r.t.Errorf("%s: nothing is said of the field %s: %s", r.what, f, r.body)
		}
	}
	return e
}

// kings makes a batch of king oyster and gives its code and its bags' codes.
func (h *house) kings(bags string, more string) (batch string, codes []string) {
	h.t.Helper()
	r := h.post("/api/v1/batches", `{"species":"pleurotus-eryngii","inoculated_at":"2026-11-22T15:00:00+00:00","bags":`+bags+more+`}`).want(201)
	var made struct {
		Batch struct{ Code string }
		Bags  []struct{ Code string }
	}
	r.into(&made)
	for _, b := range made.Bags {
		codes = append(codes, b.Code)
	}
	return made.Batch.Code, codes
}

// id gives a UUID that differs for each n.
func id(n int) string {
	const hex = "0123456789abcdef"
	b := []byte("00000000-0000-4000-8000-000000000000")
	for i := len(b) - 1; n > 0; i, n = i-1, n/16 {
		b[i] = hex[n%16]
	}
	return string(b)
}
