package server

import (
	"context"
	"flag"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// phone is a real browser in a phone's shape: 360 × 740, touch. A message on its
// console, an exception or a policy violation fails the test.
type phone struct {
	*browser
	ctx  context.Context
	base string      // the farm's address in this phone
	shut func()      // ends the browser
	away atomic.Bool // the farm does not answer: its connections break
	// expected are console messages that the test provokes.
	mu       sync.Mutex
	expected []string
	problems []string
	lastKey  time.Time // of the scanner
}

// slowCPU makes every phone of the tests so many times slower than this machine:
// go test ./server -run Bench -args -slow-cpu 10.
var slowCPU = flag.Float64("slow-cpu", 1, "how many times slower than this machine the browsers of the tests are")

func findChromium(t *testing.T) string {
	t.Helper()
	if os.Getenv("BAGMARK_NO_BROWSER") == "1" {
		t.Skip("skipped: BAGMARK_NO_BROWSER=1 leaves browsers out of this run")
	}
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("BAGMARK_REQUIRE_TOOLS") == "1" {
		t.Fatal("no Chromium, and BAGMARK_REQUIRE_TOOLS=1 asks for it")
	}
	t.Skip("skipped: needs Chromium")
	return ""
}

func newPhone(t *testing.T, more ...chromedp.ExecAllocatorOption) *phone {
	t.Helper()
	findChromium(t)
	b := newTestBrowser(t)
	p := newPhoneOf(b, b.web.URL, t.TempDir(), more...)
	farm := b.web.Config.Handler
	b.web.Config.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if p.away.Load() {
			panic(http.ErrAbortHandler)
		}
		farm.ServeHTTP(w, r)
	})
	return p
}

// newPhoneOf is a phone whose profile is in a folder, so that it can be closed
// and started again.
func newPhoneOf(b *browser, base, profile string, more ...chromedp.ExecAllocatorOption) *phone {
	t := b.t.(*testing.T)
	t.Helper()
	options := []chromedp.ExecAllocatorOption{chromedp.ExecPath(findChromium(t)), chromedp.UserDataDir(profile), chromedp.NoSandbox,
		chromedp.Flag("headless", "new")}
	for _, flag := range []string{"disable-gpu", "disable-dev-shm-usage", "disable-quic", "no-first-run", "disable-background-networking", "disable-component-update", "disable-sync"} {
		options = append(options, chromedp.Flag(flag, true))
	}
	allocator, stop := chromedp.NewExecAllocator(context.Background(), append(options, more...)...)
	t.Cleanup(stop)
	ctx, end := chromedp.NewContext(allocator)
	t.Cleanup(end)
	if err := chromedp.Do(ctx); err != nil { // no time limit here: it would end the browser
		t.Fatal(err)
	}
	p := &phone{browser: b, ctx: ctx, base: base, shut: func() { end(); stop() }}
	p.expect("error occurred when fetching the script") // the worker looks for a newer one while the farm is away
	t.Cleanup(p.check)
	messages := chromedp.Console(ctx)
	go p.listen(messages)
	_, err := chromedp.Call(ctx, network.SetCookie, network.SetCookieParams{Name: cookieHTTP, Value: p.cookies[cookieHTTP], URL: base})
	if err != nil {
		t.Fatal(err)
	}
	p.do(chromedp.EmulateViewport(360, 740, chromedp.EmulateScale(2), chromedp.EmulateMobile, chromedp.EmulateTouch))
	p.slow(*slowCPU)
	return p
}

// slow makes the phone so many times slower than this machine.
func (p *phone) slow(times float64) {
	p.t.Helper()
	if _, err := chromedp.Call(p.ctx, emulation.SetCPUThrottlingRate, emulation.SetCPUThrottlingRateParams{Rate: times}); err != nil {
		p.t.Fatal(err)
	}
}

// keyGap is the time between two characters of a hand-held scanner.
const keyGap = 5 * time.Millisecond

// scan types as a hand-held scanner does: its characters bear the times at which
// they were typed, however late the page comes to them.
func (p *phone) scan(text string) {
	p.t.Helper()
	p.lastKey = time.Now()
	p.scanOn(text)
}

// scanOn types the rest of a scan.
func (p *phone) scanOn(text string) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, stepLimit)
	defer cancel()
	for _, r := range text {
		p.lastKey = p.lastKey.Add(keyGap)
		down, up := strokeOf(r, p.lastKey)
		for _, k := range []input.DispatchKeyEventParams{down, up} {
			if _, err := chromedp.Call(ctx, input.DispatchKeyEvent, k); err != nil {
				p.t.Fatalf("typing %q: %v", text, err)
			}
		}
	}
}

// strokeOf is one stroke as the browser gets it from a keyboard: what it would type
// belongs to the key's going down.
func strokeOf(r rune, at time.Time) (down, up input.DispatchKeyEventParams) {
	strokes := kb.Encode(r)
	down, up = *strokes[0], *strokes[len(strokes)-1]
	for _, k := range strokes {
		if k.Type == kb.KeyChar {
			down.Text, down.UnmodifiedText = k.Text, k.UnmodifiedText
		}
	}
	down.Type = kb.KeyDown
	down.Timestamp = input.TimeSinceEpoch(float64(at.UnixMicro()) / 1e6)
	up.Timestamp = down.Timestamp
	return down, up
}

func (p *phone) listen(messages func(func(chromedp.ConsoleMessage, error) bool)) {
	for m, err := range messages {
		if err != nil {
			return
		}
		p.mu.Lock()
		wanted := m.Type == "debug" || m.Type == "verbose" || m.Type == "info"
		for _, e := range p.expected {
			wanted = wanted || strings.Contains(m.Text, e)
		}
		if !wanted {
			p.problems = append(p.problems, fmt.Sprintf("%s: %s (%s)", m.Type, m.Text, m.URL))
		}
		p.mu.Unlock()
	}
}

func (p *phone) check() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, problem := range p.problems {
		p.t.Errorf("the console says %s", problem)
	}
}

func (p *phone) expect(words string) {
	p.mu.Lock()
	p.expected = append(p.expected, words)
	p.mu.Unlock()
}

const stepLimit = 20 * time.Second

func (p *phone) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, stepLimit)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		p.t.Fatalf("%v\n%s", err, p.see())
	}
}

// see is the text of the page, for a failure.
func (p *phone) see() string {
	ctx, cancel := context.WithTimeout(p.ctx, stepLimit)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`location.pathname + "\n" + document.body.innerText`))
	if err != nil {
		return err.Error()
	}
	return text
}

// goTo opens a page and waits for its scripts.
func (p *phone) goTo(path string) {
	p.t.Helper()
	p.do(chromedp.Navigate(p.base + path))
	p.until(`"enhanced" in document.documentElement.dataset`)
}

// evaluate runs a script that gives a text.
func (p *phone) evaluate(script string) string {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, stepLimit)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](script, chromedp.EvalAwaitPromise))
	if err != nil {
		p.t.Fatalf("%s: %v", script[:min(len(script), 80)], err)
	}
	return text
}

// until waits for a condition of the page; a page on its way to another has
// none.
func (p *phone) until(condition string) {
	p.t.Helper()
	script := `new Promise((done) => setTimeout(() => { try { done(!!(` + condition + `)) } catch { done(false) } }, 20))`
	p.eventually(condition, func() bool {
		ctx, cancel := context.WithTimeout(p.ctx, stepLimit)
		defer cancel()
		is, err := chromedp.Run(ctx, chromedp.Evaluate[bool](script, chromedp.EvalAwaitPromise))
		return err == nil && is
	})
}

// eventually waits for what comes a moment after the tap.
func (p *phone) eventually(what string, is func() bool) {
	p.t.Helper()
	p.eventuallyWithin(stepLimit, what, is)
}

func (p *phone) eventuallyWithin(limit time.Duration, what string, is func() bool) {
	p.t.Helper()
	for deadline := time.Now().Add(limit); time.Now().Before(deadline); {
		if is() {
			return
		}
	}
	p.t.Fatalf("never: %s\n%s", what, p.see())
}

// tap is a finger on the middle of an element.
func (p *phone) tap(selector string) {
	p.t.Helper()
	p.do(chromedp.ScrollIntoView(selector), chromedp.Click(selector))
}
