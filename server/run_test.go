package server

import (
	"context"
	"crypto/rand"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// TestRunFinishesWhatIsUnderWay stops the server while a request is being
// answered.
func TestRunFinishesWhatIsUnderWay(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	started, finish := make(chan struct{}), make(chan struct{})
	h.serveWith("/slow", func(c echo.Context) error { close(started); <-finish; return c.String(http.StatusOK, "done") })
	ctx, stop := context.WithCancel(t.Context())
	ready, ended := make(chan []string, 1), make(chan error, 1)
	go func() { ended <- h.server.Run(ctx, "127.0.0.1:0", "", func(a []string) { ready <- a }) }()
	address := (<-ready)[0]
	if !strings.HasPrefix(address, "http://127.0.0.1:") || strings.HasSuffix(address, ":0") {
		t.Fatalf("the address is %s", address)
	}
	answered := make(chan int, 1)
	go func() {
		answer, err := http.Get(address + "/slow")
		if err != nil {
			answered <- 0
			return
		}
		answer.Body.Close()
		answered <- answer.StatusCode
	}()
	<-started
	stop()
	time.AfterFunc(50*time.Millisecond, func() { close(finish) })
	if status := <-answered; status != http.StatusOK {
		t.Errorf("the request under way was answered %d", status)
	}
	if err := <-ended; err != nil {
		t.Errorf("Run: %v", err)
	}
	if _, err := http.Get(address + "/healthz"); err == nil {
		t.Error("it still listens")
	}
	farm, err := h.store.Farm(t.Context())
	if err != nil || farm.Listened != address {
		t.Errorf("the farm keeps %q, %v", farm.Listened, err)
	}
}

func TestRunSaysWhyItCannotListen(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	taken := strings.TrimPrefix(h.web.URL, "http://")
	for _, address := range []string{taken, "nonsense", "127.0.0.1:99999"} {
		err := h.server.Run(t.Context(), address, "", func([]string) { t.Errorf("listens on %s", address) })
		if grow.KindOf(err) != grow.Invalid || !strings.Contains(err.Error(), "cannot listen on "+address) {
			t.Errorf("%s: %v", address, err)
		}
	}
}

// TestAddressOfManyLabels: as many labels as can be made ahead at once can be
// asked for at once, with each comma written as a form writes it.
func TestAddressOfManyLabels(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	web := httptest.NewUnstartedServer(nil)
	web.Config = h.server.newHTTP()
	web.Start()
	defer web.Close()
	codes := make([]string, grow.MostBags)
	for i := range codes {
		code, err := grow.NewCode(rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		codes[i] = string(code)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, web.URL+"/api/v1/labels.pdf?codes="+strings.Join(codes, "%2C"), nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+h.tokens[store.Viewer])
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusNotFound { // the farm has none of them
		t.Errorf("answered %d", answer.StatusCode)
	}
}

// TestConnectionsHaveLimits holds them to what they are meant to be.
func TestConnectionsHaveLimits(t *testing.T) {
	t.Parallel()
	web := newHouse(t).server.newHTTP()
	if web.ReadHeaderTimeout != 5*time.Second || web.ReadTimeout != 15*time.Second || web.WriteTimeout != 30*time.Second || web.IdleTimeout != 2*time.Minute || web.MaxHeaderBytes != 32<<10 {
		t.Errorf("%+v", web)
	}
	h := newHouse(t)
	r := h.request("GET", "/healthz", "")
	r.Header.Set("X-Long", strings.Repeat("x", 2<<20))
	if answer, err := http.DefaultTransport.RoundTrip(r); err == nil {
		answer.Body.Close()
		if answer.StatusCode != http.StatusRequestHeaderFieldsTooLarge {
			t.Errorf("2 MiB of headers: %d", answer.StatusCode)
		}
	}
}
