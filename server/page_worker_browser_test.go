package server

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bagmark/store"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// keeps waits until the phone's worker has a page.
func (p *phone) keeps(path string) {
	p.t.Helper()
	p.eventually("the phone keeps "+path, func() bool {
		return p.evaluate(`(async () => { for (const name of await caches.keys()) if (name.startsWith("pages") && await (await caches.open(name)).match("`+path+`")) return "yes"; return ""; })()`) == "yes"
	})
}

// TestPagesOutOfReach: with a worker the bags that are due open while the farm
// is stopped, say how old they are, and log; a bag nobody told the phone about
// gets plain answers; what was posted otherwise says that it was not saved.
func TestPagesOutOfReach(t *testing.T) {
	t.Parallel()
	p, l, codes := lone(t, "3")
	p.days(9) // all three are due: never in hand after marking
	p.goTo("/")
	p.keeps("/B/" + codes[1])
	p.keeps("/sweep")
	stranger := p.elsewhere()
	l.stop()
	p.expect("503")
	p.goTo("/B/" + codes[1])
	p.until(`document.getElementById("kept")?.textContent.includes("just now")`)
	p.until(`document.querySelector(".tag .code").textContent.replace(/\W/, "") === "` + codes[1] + `"`)
	p.tap(clean)
	p.waits(1)
	p.goTo("/B/" + stranger)
	p.until(`document.querySelector("#away h1")?.textContent === "` + stranger[:4] + "-" + stranger[4:] + `"`)
	p.tap("#away form:last-of-type button")
	p.waits(2)
	p.goTo("/bench")
	p.goTo("/sweep")
	p.do(chromedp.Navigate(p.base + "/settings"))
	p.until(`document.querySelector("h1").textContent === "The farm does not answer"`)
	l.start()
	p.goTo("/B/" + codes[2])
	p.until(`document.querySelector(".waits").textContent === "all sent" && !document.getElementById("kept")`)
	for _, code := range []string{codes[1], stranger} {
		if got := len(p.bag(code).Entries); got != 2 {
			t.Errorf("bag %s has %d entries, want 2", code, got)
		}
	}
}

// TestPagesOutOfReachOverHTTPS: a phone that trusts the farm's own authority
// keeps its pages, opens and logs while the server is stopped, and sends what it
// kept when it is back. It meets the farm at an address on the network, since
// browsers trust a machine's own more.
func TestPagesOutOfReachOverHTTPS(t *testing.T) {
	t.Parallel()
	certutil := needProgram(t, "certutil")
	b := newTestBrowser(t)
	b.clock.now = time.Now() // the browser has no other
	batch := b.post("/api/v1/batches", `{"species":"pleurotus-eryngii","inoculated_at":"`+b.clock.Now().AddDate(0, 0, -9).Format(time.RFC3339)+`","bags":2}`).want(201)
	code, due := batch.at("bags", 0, "code").(string), batch.at("bags", 1, "code").(string)
	for _, c := range []string{code, due} {
		b.saw(c, `"kind":"marked"`)
	}
	h := b.secured(filepath.Join(t.TempDir(), "tls"))
	home := t.TempDir()
	trust(t, certutil, home, filepath.Join(h.folder, authorityFile))
	l := &line{t: t, farm: b.server.Handler(), address: "127.0.0.1:0", tls: b.server.tlsConfig()}
	l.start()
	t.Cleanup(func() { l.stop() })
	base := "https://" + strings.Replace(l.address, "127.0.0.1", "192.168.1.20", 1)
	p := newPhoneOf(b, base, t.TempDir(), chromedp.Env("HOME="+home), chromedp.Flag("host-resolver-rules", "MAP 192.168.1.20 127.0.0.1"))
	p.expect("net::ERR_")
	session, err := b.store.SignIn(t.Context(), "Ana", "beech sawdust and bran", "phone", store.OverHTTPS, store.Owner)
	if err != nil {
		t.Fatal(err)
	}
	cookie := network.SetCookieParams{Name: cookieHTTPS, Value: session.Secret, URL: base, Path: "/", Secure: new(true), HTTPOnly: new(true)}
	if _, err := chromedp.Call(p.ctx, network.SetCookie, cookie); err != nil {
		t.Fatal(err)
	}
	p.goTo("/")
	p.keeps("/B/" + due)
	l.stop()
	p.goTo("/B/" + due)
	p.until(`document.getElementById("kept")?.textContent.includes("just now")`)
	p.tap(clean)
	p.waits(1)
	l.start()
	p.evaluate(`dispatchEvent(new Event("online")); ""`)
	p.until(`document.querySelector(".waits").textContent === "all sent"`)
	if got := len(p.bag(due).Entries); got != 2 {
		t.Errorf("the bag has %d entries, want 2", got)
	}
}

// elsewhere is a bag that is not due and that the phone never heard of.
func (p *phone) elsewhere() string {
	p.t.Helper()
	r := p.post("/api/v1/batches", `{"species":"pleurotus-ostreatus","inoculated_at":"2026-12-05T09:00:00+00:00","bags":1}`).want(201)
	code := r.at("bags", 0, "code").(string)
	p.saw(code, `"kind":"marked"`)
	return code
}

// TestWorkerForgetsWhoLeft: after signing out, and for another role, no page of
// before is shown.
func TestWorkerForgetsWhoLeft(t *testing.T) {
	t.Parallel()
	p, l, codes := lone(t, "1")
	p.expect("503")
	p.days(9)
	p.goTo("/")
	p.keeps("/B/" + codes[0])
	p.do(chromedp.Navigate(p.base + "/#words"))
	p.tap("form[action='/sign-out'] button")
	p.until(`location.pathname === "/sign-in"`)
	l.stop()
	p.do(chromedp.Navigate(p.base + "/B/" + codes[0]))
	p.until(`document.querySelector("h1").textContent === "The farm does not answer"`)
	l.start()

	if _, err := p.store.AddPerson(t.Context(), store.Actor{Person: "Ana", Role: store.Owner}, "Vera", store.Viewer, "a viewer's long passphrase"); err != nil {
		t.Fatal(err)
	}
	session, err := p.store.SignIn(t.Context(), "Vera", "a viewer's long passphrase", "phone", store.OverHTTP, store.Owner)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(p.ctx, network.SetCookie, network.SetCookieParams{Name: cookieHTTP, Value: session.Secret, URL: p.base}); err != nil {
		t.Fatal(err)
	}
	p.goTo("/")
	p.keeps("/B/" + codes[0])
	l.stop()
	p.goTo("/B/" + codes[0])
	p.until(`document.getElementById("kept") && !document.querySelector("form[action$='/entries']")`)
}

func TestWorkerScript(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.cookies = nil
	got := b.open("/worker.js").ok()
	if kind := got.header.Get("Content-Type"); !strings.HasPrefix(kind, "text/javascript") || got.header.Get("Cache-Control") != "no-cache" {
		t.Errorf("served as %q, %q", kind, got.header.Get("Cache-Control"))
	}
	script := string(got.body)
	if !strings.Contains(script, "/css/tokens.css") || strings.Contains(script, "worker.js\"") {
		t.Error("the worker keeps the wrong files")
	}
	if got := strings.Count(script, "\n"); got > 100 {
		t.Errorf("the worker has %d lines", got)
	}
}
