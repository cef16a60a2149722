package server

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"bagmark/grow"

	cdp "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// line is a farm's own port, which can be closed and opened again: what a phone
// meets when the server is stopped. Replies to what is posted can be cut after
// the farm has kept it.
type line struct {
	t       *testing.T
	farm    http.Handler
	address string
	web     *http.Server
	tls     *tls.Config  // nil for plain HTTP
	cuts    atomic.Int32 // so many replies are still cut
	posts   atomic.Int32
}

func newLine(b *browser) *line {
	l := &line{t: b.t.(*testing.T), farm: b.server.Handler(), address: "127.0.0.1:0"}
	l.start()
	l.t.Cleanup(l.stop)
	return l
}

func (l *line) start() {
	l.t.Helper()
	var port net.Listener
	var err error
	for deadline := time.Now().Add(stepLimit); ; {
		if port, err = net.Listen("tcp", l.address); err == nil || time.Now().After(deadline) {
			break
		}
	}
	if err != nil {
		l.t.Fatal(err)
	}
	l.address = port.Addr().String()
	if l.tls != nil {
		port = tls.NewListener(port, l.tls)
	}
	l.web = &http.Server{Handler: http.HandlerFunc(l.serve), ReadHeaderTimeout: stepLimit}
	go l.web.Serve(port)
}

// stop closes the port and every connection.
func (l *line) stop() { l.web.Close() }

func (l *line) serve(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodPost || !strings.Contains(r.URL.Path, "/entries") {
		l.farm.ServeHTTP(w, r)
		return
	}
	l.posts.Add(1)
	if l.cuts.Add(-1) < 0 {
		l.farm.ServeHTTP(w, r)
		return
	}
	l.farm.ServeHTTP(unheard{http.Header{}}, r)
	panic(http.ErrAbortHandler)
}

// unheard takes an answer that nobody will get.
type unheard struct{ header http.Header }

func (u unheard) Header() http.Header         { return u.header }
func (u unheard) Write(b []byte) (int, error) { return len(b), nil }
func (u unheard) WriteHeader(int)             {}

// wrongClock makes a phone's clock wrong for every page it opens from now on.
func (p *phone) wrongClock(by time.Duration) {
	p.t.Helper()
	script := fmt.Sprintf(`{ const Right = Date; const by = %d; globalThis.Date = class extends Right { constructor(...given) { if (given.length === 0) super(Right.now() + by); else super(...given); } static now() { return Right.now() + by; } }; }`, by.Milliseconds())
	ctx, cancel := context.WithTimeout(p.ctx, stepLimit)
	defer cancel()
	if _, err := chromedp.Call(ctx, cdp.AddScriptToEvaluateOnNewDocument, cdp.AddScriptToEvaluateOnNewDocumentParams{Source: script}); err != nil {
		p.t.Fatal(err)
	}
}

// tapAway types a bag's code while the farm is out of reach and taps that the
// bag is clean; it gives the moment of the tap.
func (p *phone) tapAway(code string) time.Time {
	p.t.Helper()
	p.do(chromedp.SetValue("input[name=code]", code))
	p.tap(".line .button")
	p.until(`document.querySelector("#away h1")?.textContent === "` + code[:4] + "-" + code[4:] + `"`)
	at := time.Now()
	p.tap("#away form:last-of-type button")
	p.until(`document.querySelector("#away .did .said")?.textContent.startsWith("logged")`)
	return at
}

func (p *phone) waits(n int) {
	p.t.Helper()
	p.until(`document.querySelector(".waits").textContent.startsWith("` + strconv.Itoa(n) + ` waiting, ")`)
}

// TestFortyTapsWithoutTheFarm: two phones log forty bags while the server is
// stopped, one of them with a clock three hours wrong. In between one is
// reloaded, the other closed and started again; when the farm is back its first
// replies are lost. Every entry arrives exactly once, at its right time.
func TestFortyTapsWithoutTheFarm(t *testing.T) {
	t.Parallel()
	findChromium(t)
	b := newTestBrowser(t)
	_, codes := b.kings("40", "")
	for _, code := range codes {
		b.saw(code, `"kind":"marked"`)
	}
	b.days(1)
	b.clock.run()
	l := newLine(b)
	_, port, _ := net.SplitHostPort(l.address)
	plain := "http://farm.test:" + port // no secure context: nothing helps but the open page
	if err := b.store.SetPublic(t.Context(), grow.Address(plain)); err != nil {
		t.Fatal(err)
	}
	profiles := []string{t.TempDir(), t.TempDir()}
	start := func(i int) *phone {
		p := newPhoneOf(b, plain, profiles[i], chromedp.Flag("host-resolver-rules", "MAP farm.test 127.0.0.1"))
		p.expect("net::ERR_")
		p.expect("Cross-Origin-Opener-Policy header has been ignored") // as it must be on plain HTTP
		if i == 1 {
			p.wrongClock(3 * time.Hour)
		}
		return p
	}
	phones := []*phone{start(0), start(1)}
	tapped := map[string]time.Time{}
	tapTen := func(part int) {
		for i, p := range phones {
			from := part*20 + i*10
			for n, code := range codes[from : from+10] {
				tapped[code] = p.tapAway(code)
				p.waits(n + 1)
			}
		}
	}
	open := func(p *phone) {
		p.goTo("/B/" + codes[0])
		p.until(`performance.getEntriesByType("resource").some((r) => r.name.endsWith("/lib/code.js"))`)
	}
	for _, p := range phones {
		open(p)
		p.until(`document.querySelector(".waits").textContent === "all sent"`)
	}
	l.stop()
	tapTen(0)

	phones[1].shut() // its battery is empty
	phones[0].evaluate(`location.reload(); ""`)
	l.cuts.Store(7)
	l.start()
	phones[1] = start(1)
	for _, p := range phones {
		open(p)
		p.until(`document.querySelector(".waits").textContent === "all sent"`)
	}
	l.stop()
	tapTen(1)
	l.cuts.Store(7)
	l.start()
	for _, p := range phones {
		p.evaluate(`dispatchEvent(new Event("online")); ""`) // else up to half a minute passes before it tries again
		p.until(`document.querySelector(".waits").textContent === "all sent"`)
	}
	if posts := l.posts.Load(); posts <= 40 {
		t.Errorf("%d requests brought 40 entries: no reply was lost", posts)
	}
	for i, code := range codes {
		log := b.bag(code)
		if got := kinds(log); !slices.Equal(got, []grow.EntryKind{grow.KindMarked, grow.KindLook}) {
			t.Errorf("bag %d has %v", i+1, got)
			continue
		}
		if off := log.Entries[0].At.Sub(b.clock.at(tapped[code])); off.Abs() > 3*time.Second {
			t.Errorf("bag %d was seen %v beside its time", i+1, off)
		}
	}
}

// lone is one phone of a farm whose port can be closed, on the machine itself.
func lone(t *testing.T, bags string, more ...chromedp.ExecAllocatorOption) (*phone, *line, []string) {
	t.Helper()
	findChromium(t)
	b := newTestBrowser(t)
	_, codes := b.kings(bags, "")
	for _, code := range codes {
		b.saw(code, `"kind":"marked"`)
	}
	b.days(1)
	l := newLine(b)
	p := newPhoneOf(b, "http://"+l.address, t.TempDir(), more...)
	p.expect("net::ERR_")
	p.goTo("/B/" + codes[0])
	p.until(`document.querySelector(".waits").textContent === "all sent"`)
	return p, l, codes
}

// watchFailures lets failed wait until an entry was sent in vain.
func (p *phone) watchFailures() {
	p.t.Helper()
	p.evaluate(`{ window.failures = 0; const real = fetch; window.fetch = (...what) => real(...what).catch((error) => { if (String(what[0]).includes("/entries")) window.failures++; throw error; }); } ""`)
}

func (p *phone) failed() { p.t.Helper(); p.until(`window.failures > 0`) }

const clean = "#tray form:last-of-type button"

// TestClockSetWhileWaiting: the phone's clock is set on by five hours between
// the tap and its sending; within one page's life the steady clock counts.
func TestClockSetWhileWaiting(t *testing.T) {
	t.Parallel()
	p, l, codes := lone(t, "1")
	p.clock.run()
	p.watchFailures()
	l.stop()
	at := time.Now()
	p.tap(clean)
	p.waits(1)
	p.failed()
	p.evaluate(`{ const now = Date.now; Date.now = () => now() + 5 * 3600 * 1000; } ""`)
	l.start()
	p.until(`document.querySelector(".waits").textContent === "all sent"`)
	if off := p.bag(codes[0]).Entries[0].At.Sub(p.clock.at(at)); off.Abs() > 3*time.Second {
		t.Errorf("the look is %v beside its time", off)
	}
}

// TestPhoneThatSlept: its steady clock stood still for two hours, as on many
// phones, while it lay in a pocket; the farm's clock tells that from a clock
// that was set.
func TestPhoneThatSlept(t *testing.T) {
	t.Parallel()
	p, l, codes := lone(t, "1")
	p.clock.run()
	p.watchFailures()
	l.stop()
	at := time.Now()
	p.tap(clean)
	p.waits(1)
	p.failed()
	p.clock.move(2 * time.Hour)
	p.evaluate(`{ const now = Date.now; Date.now = () => now() + 2 * 3600 * 1000; } ""`)
	l.start()
	p.until(`document.querySelector(".waits").textContent === "all sent"`)
	if ago := p.clock.Now().Sub(p.bag(codes[0]).Entries[0].At); (ago - 2*time.Hour - time.Since(at)).Abs() > 3*time.Second {
		t.Errorf("the look was %v ago, want two hours and a little: %+v", ago, p.bag(codes[0]).Entries)
	}
}

// TestUndoOfWhatMayHaveArrived: the reply to a tap was lost, so it may be at the
// farm; taking it back then sends a void too.
func TestUndoOfWhatMayHaveArrived(t *testing.T) {
	t.Parallel()
	p, l, codes := lone(t, "1")
	l.cuts.Store(1000)
	p.tap(clean)
	p.eventually("the look is kept", func() bool { return len(p.bag(codes[0]).Entries) == 2 })
	p.clock.move(time.Minute)
	p.tap("#tray .did button:enabled")
	l.cuts.Store(0)
	p.eventually("the look is taken back", func() bool { return len(p.bag(codes[0]).Entries) == 3 && p.bag(codes[0]).Entries[1].VoidedBy != "" })
	p.until(`document.querySelector(".waits").textContent === "all sent"`)

	l.stop()
	p.goneAt(clean)
	p.tap(clean)
	p.waits(1)
	p.tap("#tray .did button:enabled")
	p.until(`!document.querySelector("#tray .did")`)
}

// goneAt waits until a tile can be tapped again.
func (p *phone) goneAt(selector string) {
	p.t.Helper()
	p.until(`!document.querySelector("#tray .did") && !document.querySelector("` + selector + `").disabled`)
}

// TestPhoneThatKeepsNothing: in a private window or on a full phone only the
// farm's own answer counts; without it the page says so and the answer stays.
func TestPhoneThatKeepsNothing(t *testing.T) {
	t.Parallel()
	p, l, codes := lone(t, "1")
	p.evaluate(`IDBObjectStore.prototype.add = () => { throw new DOMException("full", "QuotaExceededError"); }; ""`)
	l.stop()
	p.tap(clean)
	p.until(`document.querySelector("#tray .did.failed .said")?.textContent.startsWith("NOT SAVED")`)
	p.until(`document.querySelector("#tray form:last-of-type").checkVisibility()`)
	l.start()
	p.tap(clean)
	p.until(`document.querySelector("#tray .did:not(.failed) .said")?.textContent.startsWith("logged")`)
	if got := len(p.bag(codes[0]).Entries); got != 2 {
		t.Errorf("the farm has %d entries, want 2", got)
	}
}

// TestPhotoWaits: a photo taken out of reach waits as a picture, and goes before
// its entry.
func TestPhotoWaits(t *testing.T) {
	t.Parallel()
	p, l, codes := lone(t, "1")
	p.goTo("/B/" + codes[0] + "?open=photo")
	l.stop()
	file := filepath.Join(t.TempDir(), "bag.jpg")
	if err := os.WriteFile(file, jpegOf(t, 3000, 2000), 0o600); err != nil {
		t.Fatal(err)
	}
	p.do(chromedp.SetUploadFiles("#photo", []string{file}))
	p.waits(1)
	if len(p.bag(codes[0]).Entries) != 1 {
		t.Error("a photo arrived at a farm that was away")
	}
	l.start()
	p.until(`document.querySelector(".waits").textContent === "all sent"`)
	e := p.bag(codes[0]).Entries[0]
	if e.Kind != grow.KindPhoto {
		t.Fatalf("the entry is %s, want a photo", e.Kind)
	}
	if _, err := p.store.Photo(t.Context(), e.Photo, false); err != nil {
		t.Error(err)
	}
}

// TestMendingAWrongCode: a code typed out of reach was another farm's; it is
// refused, mended in sight and logged at the time of the tap.
func TestMendingAWrongCode(t *testing.T) {
	t.Parallel()
	p, l, codes := lone(t, "2")
	p.expect("404")
	p.until(`performance.getEntriesByType("resource").some((r) => r.name.endsWith("/lib/code.js"))`)
	stranger, err := grow.NewCode(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	p.clock.run()
	l.stop()
	at := p.tapAway(string(stranger))
	p.watchFailures() // in the page that it led to
	p.failed()
	l.start()
	p.until(`document.getElementById("parked")?.innerText.includes("no label")`)
	p.tap("#parked button:nth-of-type(2)")
	p.do(chromedp.SetValue("#parked input[name=bag]", strings.ToLower(codes[1])))
	p.tap("#parked form button")
	p.eventually("the mended entry arrives", func() bool { return len(p.bag(codes[1]).Entries) == 2 })
	if off := p.bag(codes[1]).Entries[0].At.Sub(p.clock.at(at)); off.Abs() > 3*time.Second {
		t.Errorf("the look is %v beside its time", off)
	}
	p.until(`!document.getElementById("parked")`)
}

// TestWaitingForADay warns, and what another person tapped is sent in nobody
// else's name unless that person says so.
func TestWaitingForADay(t *testing.T) {
	t.Parallel()
	p, l, codes := lone(t, "1")
	l.stop()
	p.tap(clean)
	p.waits(1)
	p.evaluate(`{ const now = Date.now; Date.now = () => now() + 25 * 3600 * 1000; dispatchEvent(new Event("online")); } ""`)
	p.until(`document.querySelector(".waits").textContent === "1 waiting, 25 h · find the Wi-Fi"`)
	p.evaluate(`document.documentElement.dataset.person = "77 Rui"; ""`)
	l.start()
	p.evaluate(`dispatchEvent(new Event("online")); ""`)
	p.until(`document.querySelector(".waits").textContent === "1 to look at" && document.getElementById("parked").innerText.includes("tapped by Ana")`)
	if got := len(p.bag(codes[0]).Entries); got != 1 {
		t.Fatalf("Ana's tap was sent by Rui: %d entries", got)
	}
	p.tap("#parked button:first-of-type")
	p.eventually("it is sent", func() bool { return len(p.bag(codes[0]).Entries) == 2 })
}
