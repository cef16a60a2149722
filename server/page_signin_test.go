package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"bagmark/store"
)

// stranger is a browser that nobody has signed in with.
func (h *house) stranger() *browser { return &browser{h, map[string]string{}} }

func TestSetUp(t *testing.T) {
	t.Parallel()
	b := newHouse(t).stranger()
	if led := b.open("/B/7K3M9QXR").led(); led != "/set-up" {
		t.Errorf("a farm that is not set up leads to %s", led)
	}
	if led := b.open("/sign-in").led(); led != "/set-up" {
		t.Errorf("signing in leads to %s", led)
	}
	p := b.open("/set-up").ok()
	checkMarkup(t, p)
	fill := []string{"name", "Hill farm", "owner_name", "Ana", "passphrase", "beech sawdust and bran", "passphrase_again", "beech sawdust and bran", "grown", "pleurotus-eryngii", "low-pleurotus-eryngii", "14", "high-pleurotus-eryngii", "26"}
	wrong := b.fill(p, "form", append([]string{"code", "AAAAA-AAAAA"}, fill...)...)
	wrong.want(http.StatusBadRequest)
	wrong.has(1, "#f-code[aria-invalid=true]").has(1, "#f-owner-name[value=Ana]").has(1, "#f-passphrase:not([value])").has(1, "input[name=grown][value=pleurotus-eryngii][checked]")
	code := b.server.SetUpCode()
	mixed := b.fill(p, "form", append(append([]string{"code", code}, fill...), "passphrase_again", "beech", "low-pleurotus-eryngii", "30")...)
	mixed.want(http.StatusBadRequest)
	mixed.has(1, "#f-passphrase-again[aria-invalid=true]").has(1, "#f-low-pleurotus-eryngii[aria-invalid=true]").says("[role=alert]", "king oyster: say both days").says("[role=alert] a", "From day, pleurotus eryngii").has(1, "#f-passphrase-again:not([value])")
	if led := b.fill(p, "form", append([]string{"code", strings.ToLower(code)}, fill...)...).led(); led != "/first" {
		t.Fatalf("set-up leads to %s", led)
	}
	first := b.open("/first").ok().says("h1", "Hill farm is ready")
	first.has(2, "main a.button").has(1, "main a[href='/lab-day']").has(1, "main a[href='/old-bags']")
	farm, err := b.store.Farm(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if sp, _ := farm.SpeciesOf("pleurotus-eryngii", nil); sp.SpawnRun.Days.Numbers() != [3]float64{14, 20, 26} {
		t.Errorf("days are %v", sp.SpawnRun.Days)
	}
	if again := b.fill(p, "form", append([]string{"code", code}, fill...)...); again.status == http.StatusSeeOther {
		t.Error("the farm was set up twice")
	}
}

func TestSignIn(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.ana()
	b := h.stranger()
	led := b.open("/B/7K3M9QXR?x=1").led()
	if want := "/sign-in?next=" + url.QueryEscape("/B/7K3M9QXR?x=1"); led != want {
		t.Errorf("leads to %s, want %s", led, want)
	}
	p := b.open(led).ok()
	checkMarkup(t, p)
	wrong := b.fill(p, "form", "name", "Ana", "passphrase", "wrong")
	wrong.want(http.StatusUnauthorized)
	wrong.says("[role=alert]", "name or the passphrase is wrong").has(1, "#f-name[value=Ana]").has(1, "#f-passphrase:not([value])").has(1, "input[name=next][value='/B/7K3M9QXR?x=1']")
	if led := b.fill(p, "form", "name", "ana", "passphrase", "beech sawdust and bran").led(); led != "/B/7K3M9QXR?x=1" {
		t.Errorf("signing in leads to %s", led)
	}
	out := h.stranger()
	if led := out.submit("/sign-in", url.Values{"name": {"Ana"}, "passphrase": {"beech sawdust and bran"}, "next": {"//evil.example/"}}).led(); led != "/" {
		t.Errorf("a foreign address leads to %s", led)
	}
	if led := b.fill(b.open("/").ok(), "form[action='/sign-out']").led(); led != "/sign-in" || len(b.cookies) != 0 {
		t.Errorf("signing out leads to %s and leaves %v", led, b.cookies)
	}
	if led := b.open("/").led(); !strings.HasPrefix(led, "/sign-in") {
		t.Errorf("still signed in: %s", led)
	}
}

func TestPairing(t *testing.T) {
	t.Parallel()
	office := newTestBrowser(t)
	p := office.fill(office.open("/pair").ok(), "main form").ok()
	checkMarkup(t, p)
	p.has(1, "figure.qr svg path").says("#joined", "Waiting for a phone, as Ana")
	link := p.Find(".secret").Text()
	at := strings.Index(link, "/P/")
	if at < 0 || len(link[at+3:]) != 26 {
		t.Fatalf("the link is %q", link)
	}
	phone := office.stranger()
	join := phone.open(strings.ToLower(link[at:])).ok().says("h1", "Join Hill farm as Ana?")
	checkMarkup(t, join)
	// Under no-referrer a browser sends the form with "Origin: null" (Fetch
	// standard, "append a request Origin header"), which is refused over plain HTTP.
	if policy := join.header.Get("Referrer-Policy"); policy != "same-origin" {
		t.Errorf("the form that joins is sent under the referrer policy %q", policy)
	}
	phone.open(link[at:]).ok() // looking uses nothing up
	if led := phone.fill(join, "form", "device", "bench phone").led(); led != "/" {
		t.Fatalf("joining leads to %s", led)
	}
	phone.open("/").ok().says("main", "What there is to do today")
	if got := office.stranger().open(link[at:]); got.status != http.StatusNotFound {
		t.Errorf("the symbol works twice: %d", got.status)
	}
	joined := office.open("/pair").ok().says("#joined", "bench phone")
	office.fill(joined, "#joined form").led()
	if led := phone.open("/").led(); !strings.HasPrefix(led, "/sign-in") {
		t.Errorf("a refused phone still gets in: %s", led)
	}
	late := office.fill(office.open("/pair").ok(), "main form").ok().Find(".secret").Text()
	office.clock.move(2*time.Minute + time.Second)
	if got := office.stranger().open(late[strings.Index(late, "/P/"):]); got.status != http.StatusNotFound {
		t.Errorf("the symbol works after two minutes: %d", got.status)
	}
}

func TestPeople(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.fill(b.open("/people").ok(), "form[action='/people']", "name", "Rui", "role", "grower", "passphrase", "").led()
	p := b.open("/people").ok().says("main", "Rui, grower").says("main", "joins by symbol only")
	twice := b.fill(p, "form[action='/people']", "name", "rui", "role", "viewer")
	twice.want(http.StatusConflict)
	twice.has(1, "#f-name[aria-invalid=true][value=rui]")
	symbol := b.fill(p, "form[action='/pair']:has([name=person][value='2'])").ok().says("#joined", "as Rui")
	if symbol.Find(".qr").Length() != 1 {
		t.Error("no symbol for Rui's phone")
	}
	token := b.fill(p, "form[action='/people/token']", "token_name", "thermometer", "token_role", "sensor").ok()
	if token.Find(".secret").Length() != 1 {
		t.Error("the token is not shown")
	}
	b.fill(b.open("/people").ok(), "form[action='/people/end']:has([value='2'])").led()
	b.open("/people").ok().says("main", "Rui, growerended")
	wrong := b.fill(b.open("/people").ok(), "form[action='/people/passphrase']", "old", "no", "new", "another beech passphrase")
	if wrong.status == http.StatusSeeOther {
		t.Error("the old passphrase was not asked for")
	}
	b.fill(b.open("/people").ok(), "form[action='/people/passphrase']", "old", "beech sawdust and bran", "new", "another beech passphrase").led()
	b.fill(b.open("/people").ok(), "form[action='/devices/revoke']:has(button[aria-label='End thermometer'])").led()
	if devices, err := b.store.Devices(t.Context()); err != nil || containsDevice(devices, "thermometer") {
		t.Errorf("the token lives on: %v", err)
	}
}

func containsDevice(devices []store.Device, name string) bool {
	for _, d := range devices {
		if d.Name == name {
			return true
		}
	}
	return false
}

func TestThemeSwitch(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.open("/batches").ok().has(0, "html[data-theme]")
	led := b.submit("/theme", url.Values{"theme": {"dark"}, "next": {"/batches"}}).led()
	b.open(led).ok().has(1, "html[data-theme=dark]")
	b.submit("/theme", url.Values{"theme": {""}, "next": {"//evil.example"}}).led()
	b.open("/").ok().has(0, "html[data-theme]")
}

// Without scripts a page for people says in words what an error is.
func TestErrorsOfPages(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	for path, want := range map[string]struct {
		status int
		words  string
	}{
		"/B/7K3M9QXX":                  {400, "check character"},
		"/nothing":                     {404, "nothing at this address"},
		"/batches/NONE-1":              {404, "no batch NONE-1"},
		"/due/dance":                   {404, "no such list"},
		"/species/agaricus":            {404, "not a species this farm knows"},
		"/sheets/none/calibration.pdf": {400, "not a sheet this farm knows"},
	} {
		p := b.open(path)
		p.want(want.status)
		p.says("main", want.words)
		checkMarkup(t, p)
	}
	p := b.stranger().submit("/bench", url.Values{"act": {"done"}})
	p.want(http.StatusUnauthorized)
	p.has(1, "a[href='/sign-in']")
}
