package server

import (
	"net/http"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// behind lets a test do something before the farm answers a request.
func (p *phone) behind(before func(w http.ResponseWriter, r *http.Request)) {
	farm := p.web.Config.Handler
	p.web.Config.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		before(w, r)
		farm.ServeHTTP(w, r)
	})
}

// late keeps a request waiting, as a far corner of the Wi-Fi does.
func late(r *http.Request, by time.Duration) {
	timer := time.NewTimer(by)
	defer timer.Stop()
	select {
	case <-timer.C:
	case <-r.Context().Done():
	}
}

// marks fails unless each bag was marked once, in the order of the scans.
func (p *phone) marks(codes []string) {
	p.t.Helper()
	p.eventually("every bag is marked", func() bool {
		return !slices.ContainsFunc(codes, func(code string) bool { return p.bag(code).MarkedAt == nil })
	})
	for i, code := range codes {
		marked := 0
		for _, k := range kinds(p.bag(code)) {
			if k == grow.KindMarked {
				marked++
			}
		}
		if marked != 1 {
			p.t.Errorf("bag %d has been marked %d times", i+1, marked)
		}
		if i > 0 && p.bag(code).Entries[0].At.Before(p.bag(codes[i-1]).Entries[0].At) {
			p.t.Errorf("bag %d was marked before the one scanned before it", i+1)
		}
	}
}

// TestScansDoNotWaitForThePage: on a slow phone with a slow farm a scanner types
// on while the page is busy, wherever the focus is, and the page is reloaded in
// between. Each bag is marked once, in its order, with what the cards said.
func TestScansDoNotWaitForThePage(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	p.expect("net::ERR_") // what a reload breaks off
	_, codes := p.kings("12", "")
	cards := p.cards()
	p.clock.run()
	p.wrongClock(time.Until(p.clock.Now())) // as the farm's: else the way there counts too
	p.goTo("/bench")
	p.slow(8)
	p.behind(func(_ http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost {
			late(r, 250*time.Millisecond)
		}
	})
	for i, code := range codes {
		switch i {
		case 3:
			p.evaluate(`document.getElementById("code").focus(); ""`)
		case 6:
			p.scan(cards["flow_hood off"] + "\r")
		case 8: // half a code before a reload, half after it
			p.evaluate(`document.activeElement.blur(); ""`)
			p.scan("http://192.168.1.20:8080/B/" + code[:4])
			p.evaluate(`window.before = ""; location.reload(); ""`)
			p.until(`!("before" in window) && document.body`)
			p.scanOn(code[4:] + "\r")
			continue
		case 9:
			p.scan(cards["flow_hood on"] + "\r")
		}
		p.scan(code + "\r")
	}
	p.marks(codes)
	for i, code := range codes {
		want := grow.Unknown
		if i >= 6 && i < 9 {
			want = "off"
		}
		if got := value(p.browser, code, "flow_hood"); got != want {
			t.Errorf("bag %d: hood %s, want %s", i+1, got, want)
		}
	}
	p.until(`document.querySelector("main").innerText.includes("12 of 12 marked") && document.querySelector(".waits").textContent === "all sent"`)
}

// TestScanBeforeTheScripts: a page whose scripts are still on their way takes a
// scan already; where they never come the form goes as it does without scripts.
func TestScanBeforeTheScripts(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	p.expect("net::ERR_")
	_, codes := p.kings("3", "")
	p.clock.run()
	var never atomic.Bool
	p.behind(func(_ http.ResponseWriter, r *http.Request) {
		module := strings.Contains(r.URL.Path, "/js/") && !strings.HasSuffix(r.URL.Path, "/lines.js")
		if module && never.Load() {
			panic(http.ErrAbortHandler)
		}
		if module {
			late(r, 300*time.Millisecond)
		}
	})
	open := func() {
		p.evaluate(`window.before = ""; location.assign("` + p.base + `/bench"); ""`)
		p.until(`!("before" in window) && document.readyState !== "loading"`)
	}
	open()
	p.scan(codes[0] + "\r" + codes[1] + "\r")
	if p.evaluate(`String("enhanced" in document.documentElement.dataset)`) == "true" {
		t.Fatal("the scripts were there already: nothing is tested")
	}
	p.marks(codes[:2])

	never.Store(true)
	p.evaluate(`caches.keys().then(async (names) => { for (const name of names) await caches.delete(name); for (const w of await navigator.serviceWorker.getRegistrations()) await w.unregister(); return ""; })`)
	if _, err := chromedp.Call(p.ctx, network.SetCacheDisabled, network.SetCacheDisabledParams{CacheDisabled: true}); err != nil {
		t.Fatal(err)
	}
	open()
	p.scan(codes[2] + "\r")
	p.marks(codes)
}

// TestHalfAScan: a scan that broke off presses nothing and says so.
func TestHalfAScan(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	_, codes := p.kings("2", "")
	p.goTo("/bench")
	p.scan(codes[0] + "\r")
	p.until(`document.querySelector(".marked-last")?.textContent === "KING #1"`)
	p.evaluate(`document.querySelector("main .did button").focus(); ""`) // undo
	p.scan(codes[1][:5] + "\r")
	p.until(`document.querySelector("[data-half]")?.textContent.includes("Scan it again")`)
	p.scan(codes[1] + "\r")
	p.until(`document.querySelector(".marked-last")?.textContent === "KING #2" && !document.querySelector("[data-half]")`)
	p.marks(codes)
}

// TestTypingGoesOnWhileThePageChanges: what a person types by hand stays in the
// field while a scan is answered.
func TestTypingGoesOnWhileThePageChanges(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	_, codes := p.kings("2", "")
	p.goTo("/bench")
	p.evaluate(`document.getElementById("code").focus(); ""`)
	for _, letter := range codes[0][:4] {
		p.do(chromedp.KeyEvent(string(letter)))
	}
	p.evaluate(`window.lines.put("` + codes[1] + `"); ""`)
	p.until(`document.querySelector(".marked-last")?.textContent === "KING #2"`)
	if got := p.evaluate(`document.activeElement.value`); got != codes[0][:4] {
		t.Fatalf("the field holds %q, want %q", got, codes[0][:4])
	}
	p.do(chromedp.KeyEvent(codes[0][4:] + "\r"))
	p.until(`document.querySelector(".marked-last")?.textContent === "KING #1"`)
}

// TestBenchInTwoTabs: two tabs of one phone scan at once; nothing that either
// did is lost, and each shows what the other did.
func TestBenchInTwoTabs(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	_, codes := p.kings("8", "")
	cards := p.cards()
	p.goTo("/bench")
	tab, end := chromedp.NewContext(p.ctx)
	t.Cleanup(end)
	if err := chromedp.Do(tab); err != nil { // no time limit here: it would end the browser
		t.Fatal(err)
	}
	q := &phone{browser: p.browser, ctx: tab, base: p.base}
	q.goTo("/bench")
	p.evaluate(`window.lines.put("` + cards["flow_hood off"] + `"); ""`)
	for _, each := range []*phone{p, q} {
		each.until(`document.body.classList.contains("bench-off")`)
	}
	put := func(of *phone, codes []string) {
		of.evaluate(`for (const code of ["` + strings.Join(codes, `","`) + `"]) window.lines.put(code); ""`)
	}
	put(p, codes[:4])
	put(q, codes[4:])
	p.eventually("every bag is marked", func() bool {
		return !slices.ContainsFunc(codes, func(code string) bool { return p.bag(code).MarkedAt == nil })
	})
	for _, each := range []*phone{p, q} {
		each.until(`document.querySelector(".says")?.textContent === "HOOD OFF: 8 bags"`)
	}
	for i, code := range codes {
		if got := value(p.browser, code, "flow_hood"); got != "off" || len(p.bag(code).Entries) != 2 {
			t.Errorf("bag %d: hood %s, entries %v", i+1, got, kinds(p.bag(code)))
		}
	}
}

// TestRefusedTapStays: a refusal that the page shows is still there on the next
// page, unless somebody let it go or gave another answer.
func TestRefusedTapStays(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	p.expect("409")
	_, codes := p.kings("1", "")
	p.saw(codes[0], `"kind":"marked"`)
	p.days(1)
	p.goTo("/B/" + codes[0])
	p.saw(codes[0], `"kind":"cull"`)
	p.clock.move(time.Minute)
	fruiting := "#tray form:nth-of-type(2) button"
	refused := `document.querySelector("#tray .did.failed .said")?.textContent.includes("this bag is culled")`
	p.tap(fruiting)
	p.until(refused)
	p.goTo("/batches")
	p.until(`document.getElementById("parked")?.innerText.includes("this bag is culled")`)
	p.until(`document.querySelector(".waits").textContent === "1 refused"`)
}
