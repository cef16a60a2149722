package server

import (
	"net/http"
	"strings"
	"testing"

	"bagmark/grow"
)

func TestNowhere(t *testing.T) {
	t.Parallel()
	for address, want := range map[grow.Address]string{
		"http://LOCALHOST:8080": "http://localhost:8080", "http://127.0.0.1:8080": "http://127.0.0.1:8080",
		"http://192.168.1.20:8080": "", "http://FARM.LOCAL": "", "http://LOCALHOST.EXAMPLE": "",
	} {
		if got := nowhere(address); got != want {
			t.Errorf("%s: %q, want %q", address, got, want)
		}
	}
}

// A person who asks for a sheet that cannot be printed gets a page; a program
// gets the API's error.
func TestRefusedSheetIsAPageForPeople(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	const path = "/api/v1/labels.pdf?codes=7K3M9QXR&start=0"
	asked := b.request("GET", path, "")
	asked.Header.Set("Accept", "text/html,application/xhtml+xml,*/*;q=0.8")
	p := b.take(asked)
	p.want(http.StatusBadRequest)
	p.says("h1", "That did not work").says("main li", "First free label on the sheet")
	for _, accept := range []string{"", "*/*", "application/json"} {
		r := b.request("GET", path, "")
		r.Header.Set("Accept", accept)
		if got := b.send(r); got.status != http.StatusBadRequest || !strings.Contains(got.header.Get("Content-Type"), "json") {
			t.Errorf("asked for %q: %d, %s", accept, got.status, got.header.Get("Content-Type"))
		}
	}
}
