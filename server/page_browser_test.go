package server

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/labels"
	"bagmark/store"

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

// TestStoryOfAMouldyBag: open a bag by its label, tap clean, take it back, tap
// mould, put the bags beside it on watch, read the trace, undo.
func TestStoryOfAMouldyBag(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	_, codes := p.kings("5", `,"bag_conditions":[{"bags":"2-4","conditions":{"flow_hood":"off"}}]`)
	for _, code := range codes {
		p.saw(code, `"kind":"marked","bench":true`)
	}
	p.days(5)
	p.goTo("/b/" + strings.ToLower(codes[2]))
	p.until(`document.querySelector(".waits").textContent === "all sent"`)
	p.tap("#tray form:last-of-type button")
	p.until(`/^logged \d\d:\d\d$/.test(document.querySelector("#tray .did .said")?.textContent)`)
	p.eventually("a look is logged", func() bool { e := p.bag(codes[2]).Entries; return e[0].Kind == grow.KindLook && e[0].Seen == "turned" })
	p.tap("#tray .did button:enabled") // not at once: that would be the first tap's echo
	p.until(`!document.querySelector("#tray .did")`)
	p.clock.move(time.Minute)
	p.eventually("the look is taken back", func() bool {
		return slices.ContainsFunc(p.bag(codes[2]).Entries, func(e grow.Entry) bool { return e.Kind == grow.KindLook && e.VoidedBy != "" })
	})

	p.tap("#tray .tile.mould")
	p.until(`location.pathname.endsWith("/mould")`)
	p.until(`document.querySelector("main .did button")?.textContent === "undo"`)
	p.tap("main .did button") // a slip of the finger is taken back here
	p.until(`document.querySelector("#tray .tile.mould")`)
	if got := p.bag(codes[2]).Contaminated; got != nil {
		t.Fatalf("taken back, but still contaminated: %+v", got)
	}
	p.clock.move(time.Minute)
	p.tap("#tray .tile.mould")
	p.until(`location.pathname.endsWith("/mould")`)
	if got := p.bag(codes[2]).Contaminated; got == nil || got.What != "unsure" {
		t.Fatalf("contaminated: %+v", got)
	}
	p.until(`document.querySelector("form[action$=watch-all] button")?.textContent === "Watch all 4"`)
	p.tap("form[action$=watch-all] button")
	p.until(`document.querySelector("h1").textContent === "On watch"`)
	for _, code := range []string{codes[1], codes[3]} {
		if p.bag(code).Watch == nil {
			t.Errorf("%s is not on watch", code)
		}
	}
	p.goTo("/B/" + codes[2] + "/trace")
	p.until(`document.querySelector(".tracing h2").textContent.includes("flow hood: off")`)
	p.goTo("/B/" + codes[1])
	p.until(`document.querySelector(".bag-screen").innerText.includes("Gloves changed, phone wiped?")`)
	p.goTo("/B/" + codes[2])
	p.tap("#log button[aria-label^='Take back: mould or wrong']")
	p.eventually("mould is taken back", func() bool { return p.bag(codes[2]).Contaminated == nil })
	p.until(`document.querySelector("form[action='/take-back'] [role=status]")?.textContent.includes("4 bags are still on watch")`)
	p.tap("form[action='/take-back'] button")
	p.until(`document.querySelector("h1").textContent === "Taken back"`)
	for _, code := range codes {
		if p.bag(code).Watch != nil {
			t.Errorf("%s is still on watch", code)
		}
	}
}

// TestNothingTappedIsLost: with the farm away a tap is kept on the phone, in
// sight, over a reload, and sent once when the farm is back.
func TestNothingTappedIsLost(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	p.expect("net::ERR_")
	_, codes := p.kings("1", "")
	p.saw(codes[0], `"kind":"marked"`)
	p.days(1)
	p.goTo("/B/" + codes[0])
	p.until(`document.querySelector(".waits").textContent === "all sent"`)
	p.away.Store(true)
	p.tap("#tray form:last-of-type button")
	p.until(`document.querySelector("#tray .did .said")?.textContent.startsWith("logged")`)
	p.until(`document.querySelector(".waits").textContent.startsWith("1 waiting")`)
	if n := len(p.bag(codes[0]).Entries); n != 1 {
		t.Fatalf("the farm has %d entries while it is away", n)
	}
	p.away.Store(false)
	p.goTo("/B/" + codes[0])
	p.eventually("the look arrives", func() bool { return len(p.bag(codes[0]).Entries) == 2 })
	p.until(`document.querySelector(".waits").textContent === "all sent"`)
	p.goTo("/B/" + codes[0])
	p.until(`document.querySelector(".waits").textContent === "all sent"`)
	if got := kinds(p.bag(codes[0])); len(got) != 2 || got[1] != grow.KindLook {
		t.Errorf("entries %v", got)
	}
}

// TestRefusedTapIsShown: what was tapped while the farm was away and no longer
// fits is parked in sight, with the reason, until somebody drops it.
func TestRefusedTapIsShown(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	p.expect("net::ERR_")
	p.expect("409")
	_, codes := p.kings("1", "")
	p.saw(codes[0], `"kind":"marked"`)
	p.days(1)
	p.goTo("/B/" + codes[0])
	p.away.Store(true)
	p.tap("#tray form:nth-of-type(2) button") // to fruiting
	p.until(`document.querySelector(".waits").textContent.startsWith("1 waiting")`)
	earlier := p.clock.Now().Add(-3 * time.Hour)
	cull := grow.Draft{ID: grow.ID(id(1)), Bag: grow.Code(codes[0]), Kind: grow.KindCull, At: &earlier}
	if _, _, _, err := p.store.AddEntry(t.Context(), store.Actor{Person: "Rui"}, cull); err != nil {
		t.Fatal(err)
	}
	p.away.Store(false)
	p.goTo("/batches")
	p.until(`document.getElementById("parked")?.innerText.includes("this bag is culled")`)
	p.until(`document.querySelector(".waits").textContent === "1 refused"`)
	p.tap("#parked button:last-of-type")
	p.until(`document.querySelector("#parked button:last-of-type").textContent.startsWith("Sure?")`)
	p.tap("#parked button:last-of-type")
	p.until(`!document.getElementById("parked") && document.querySelector(".waits").textContent === "all sent"`)
}

// TestHandHeldScanner types faster than people: wherever the focus is, its code
// opens the bag.
func TestHandHeldScanner(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	_, codes := p.kings("2", "")
	p.goTo("/B/" + codes[0])
	p.until(`document.querySelector(".waits").textContent === "all sent"`)
	if focus := p.evaluate(`document.activeElement.tagName`); focus != "BODY" {
		t.Errorf("the focus is in %s: a phone would show its keyboard", focus)
	}
	p.scan("http://192.168.1.20:8080/B/" + codes[1] + "\r")
	p.until(`location.pathname === "/B/` + codes[1] + `"`)
}

// TestBenchStaysOnThePage: scans at the bench neither leave the page nor lose
// the focus of what types.
func TestBenchStaysOnThePage(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	batch, codes := p.kings("3", "")
	p.goTo("/bench?batch=" + batch)
	p.evaluate(`window.stayed = "yes"; ""`)
	p.until(`document.querySelector("[data-ui~=stay]")`)
	p.tap("button[value='" + batch + "']")
	p.until(`document.querySelector("main").innerText.includes("0 of 3 marked") && "enhanced" in document.documentElement.dataset`)
	p.scan(codes[0] + "\r")
	p.until(`document.querySelector(".marked-last")?.textContent === "KING #1"`)
	p.tap("button[name=value][value=off]")
	p.until(`document.body.classList.contains("bench-off") && "enhanced" in document.documentElement.dataset`)
	p.scan(codes[1] + "\r")
	p.until(`document.querySelector(".says")?.textContent === "HOOD OFF: 1 bag"`)
	if p.evaluate(`window.stayed ?? "left"`) != "yes" {
		t.Error("the page was left")
	}
	if value(p.browser, codes[1], "flow_hood") != "off" {
		t.Error("the hood was not off for the second bag")
	}
}

// TestLiveCamera films a label: the page opens its bag.
func TestLiveCamera(t *testing.T) {
	t.Parallel()
	film := filepath.Join(t.TempDir(), "film.y4m")
	p := newPhone(t, chromedp.Flag("use-fake-device-for-media-stream", true), chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("use-file-for-fake-video-capture", film))
	_, codes := p.kings("1", "")
	writeFilm(t, film, "http://192.168.1.20:8080/B/"+codes[0])
	p.goTo("/scan")
	p.tap("[data-ui=camera] button:not([hidden])")
	p.until(`location.pathname === "/B/` + codes[0] + `"`)
}

// writeFilm writes ten frames of 640 × 480 with a symbol in their middle, as
// YUV4MPEG2, which Chromium takes for a camera.
func writeFilm(t *testing.T, path, payload string) {
	t.Helper()
	const width, height, module = 640, 480, 9
	symbol, err := labels.NewSymbol(payload)
	if err != nil {
		t.Fatal(err)
	}
	luma := bytes.Repeat([]byte{235}, width*height)
	left, top := (width-symbol.Modules*module)/2, (height-symbol.Modules*module)/2
	for y := range symbol.Modules * module {
		for x := range symbol.Modules * module {
			if symbol.Dark(x/module, y/module) {
				luma[(top+y)*width+left+x] = 16
			}
		}
	}
	var film bytes.Buffer
	film.WriteString("YUV4MPEG2 W640 H480 F10:1 Ip A1:1 C420jpeg\n")
	for range 10 {
		film.WriteString("FRAME\n")
		film.Write(luma)
		film.Write(bytes.Repeat([]byte{128}, width*height/2))
	}
	if err := os.WriteFile(path, film.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
}

// TestPagesFitAPhone: no page is wider than the screen, also with letters twice
// as large, in both themes; a finger's targets are large enough.
func TestPagesFitAPhone(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	for _, path := range p.somePages() {
		p.goTo(path)
		for _, size := range []string{"100%", "200%"} {
			wide := p.evaluate(`document.documentElement.style.fontSize = "` + size + `"; document.documentElement.scrollWidth > innerWidth ? [...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > innerWidth + 1).map((e) => e.tagName + "." + e.className).slice(0, 3).join(" ") || "wide" : ""`)
			if wide != "" {
				t.Errorf("%s at %s is wider than the screen: %s", path, size, wide)
			}
		}
	}
}

// somePages are the pages that differ in kind.
func (p *phone) somePages() []string {
	batch, codes := p.kings("6", `,"lab_day":"Lab one","place":"room 2 > rack 3","bag_conditions":[{"bags":"2-4","conditions":{"flow_hood":"off","shaken":"no"}}]`)
	for _, code := range codes[:5] {
		p.saw(code, `"kind":"marked","bench":true`)
	}
	p.days(6)
	p.saw(codes[1], `"kind":"contaminated","what":"green_mould"`)
	p.saw(codes[2], `"kind":"colonised","pct":100`)
	p.saw(codes[3], `"kind":"sign","sign":"pins"`)
	p.act("act", "switch", "key", "flow_hood", "value", "off")
	lot, jar, run, control := p.upstreamOf(codes)
	room := p.rackOf(codes[0])
	p.submit("/sweep", url.Values{"act": {"begin"}, "answer": {"move"}, "place": {"room 2 > rack 3"}, "batch": {batch}})
	p.sees(codes[4])
	return []string{lot, jar, lot + "/recall", "/lots", "/runs", run, control, "/", "/due/hunt", "/B/" + codes[0], "/B/" + codes[1], "/B/" + codes[1] + "/mould", "/B/" + codes[1] + "/trace", "/B/" + codes[2] + "/wrong-label", "/B/" + codes[0] + "/air",
		"/rooms", room, room + "/list", room + "/air", room + "/logger", "/fruiting", "/harvest", "/harvest?code=" + codes[3], "/yield?by=flow_hood", "/week-ahead", "/week-ahead?kg=8&species=pleurotus-eryngii&week=2026-12-28", "/sold", "/batches/" + batch + "/recall", "/substrate?wet0=800&moisture0=8&target_pct=62&bag_wet_g=500&spawn_pct=9",
		"/batches", "/batches/" + batch, "/lab-day", "/old-bags", "/import", "/contamination?by=flow_hood", "/compare?by=flow_hood&event=colonised", "/pair-of-bags", "/batches/" + batch + "/report", "/trials", "/calendar", "/scan", "/bench", "/sweep", "/sweep?answer=clean", "/print", "/print?lab_day=Lab+one", "/people", "/pair", "/settings",
		"/conditions", "/species", "/species/pleurotus-eryngii", "/sheets", "/cautions", "/about", "/first", "/B/" + codes[0] + "#words"}
}

// upstreamOf puts a lot with jars, a short run and its mouldy control on record,
// and gives the pages of a lot, a jar, a run and the control.
func (p *phone) upstreamOf(codes []string) (lot, jar, run, control string) {
	made := p.post("/api/v1/lots", `{"kind":"spawn","name":"S-31","made_from":["C-7"],"made_on":"2026-11-10","jars":3}`).want(201)
	jar = made.at("jars", 0, "code").(string)
	p.saw(codes[0], `"kind":"condition","key":"spawn_jar","value":"`+jar+`"`)
	ran := p.post("/api/v1/runs", `{"name":"R-31","method":"pressure","started_at":"2026-11-22T04:00:00Z","gauge_kpa":103.4,"load":[{"position":"door","bags":12}]}`).want(201)
	r := p.request("POST", "/api/v1/runs/R-31/readings", loggedRun(4))
	r.Header.Set("Content-Type", "text/csv")
	p.send(r).want(201)
	control = p.post("/api/v1/runs/R-31/sterile-bags", `{"control":true}`).want(201).at("bags", 0, "code").(string)
	p.post("/api/v1/sterile-bags/"+control+"/entries", `{"id":"`+id(900)+`","kind":"contaminated","what":"green_mould"}`).want(201)
	return "/L/" + made.at("lot", "code").(string), "/L/" + jar, "/L/" + ran.at("run", "code").(string), "/B/" + control
}

// rackOf is the page of the place that a bag stands at.
func (p *phone) rackOf(code string) string {
	p.t.Helper()
	place := p.bag(code).Place
	rooms, err := p.store.Rooms(p.t.Context())
	if err != nil {
		p.t.Fatal(err)
	}
	for _, r := range rooms {
		if place != nil && r.Name == *place {
			return "/S/" + string(r.Code)
		}
	}
	p.t.Fatalf("no page for the place of %s", code)
	return ""
}

// TestAxe runs axe-core, a published checker of the WCAG rules, over the pages
// in both themes; BAGMARK_AXE names its file.
func TestAxe(t *testing.T) {
	t.Parallel()
	file := os.Getenv("BAGMARK_AXE")
	if file == "" {
		t.Skip("skipped: BAGMARK_AXE does not name axe.min.js")
	}
	axe, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	p := newPhone(t)
	for _, path := range p.somePages() {
		for _, theme := range []string{"light", "dark"} {
			media := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}}}
			if _, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, media); err != nil {
				t.Fatal(err)
			}
			p.goTo(path)
			p.evaluate(string(axe) + `; ""`)
			found := p.evaluate(`axe.run({ runOnly: ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "wcag2aaa"] }).then((r) => JSON.stringify(r.violations.map((v) => v.id + ": " + v.nodes.map((n) => n.target.join(" ")).slice(0, 4).join(" | "))))`)
			var violations []string
			if err := json.Unmarshal([]byte(found), &violations); err != nil {
				t.Fatal(err)
			}
			for _, v := range violations {
				t.Errorf("%s, %s: %s", path, theme, v)
			}
		}
	}
}
