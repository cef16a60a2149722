package cli_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"bagmark/cli/demo"
	"bagmark/grow"
	"bagmark/store"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// Milliseconds that the phone's clock is set on, once in the run.
const phoneOff = 3 * 3600 * 1000

// notes makes a page note each tap as its outbox takes it, and again once the
// browser says that it is on the phone's disk, where the test finds it at the
// end whatever became of the page.
const notes = `{ const add = IDBObjectStore.prototype.add;
IDBObjectStore.prototype.add = function (item, ...more) {
  if (this.name === "out" && item.entry) {
    const note = (word) => localStorage.setItem(word + item.id, item.bag);
    note("tapped:");
    this.transaction.addEventListener("complete", () => { note("kept:"); globalThis.lastKept = item.id; });
  }
  return add.call(this, item, ...more);
}; }`

var jump = fmt.Sprintf(`{ const Right = Date; globalThis.Date = class extends Right { constructor(...given) { if (given.length === 0) super(Right.now() + %[1]d); else super(...given); } static now() { return Right.now() + %[1]d; } }; }`, phoneOff)

// longPhone is a browser with a profile of its own, and who taps on it.
type longPhone struct {
	*longRun
	ctx      context.Context
	base     string
	bags     []grow.Code
	taps     map[grow.ID]tapped // that the page said it had logged
	away     int                // of them, how many without the farm
	photos   int
	picture  string
	jumpedAt time.Time   // the zero time before it was
	jumps    atomic.Bool // its clock is to be set on
}

// tapped is one tap as its finger saw it.
type tapped struct {
	bag      grow.Code
	from, to time.Time
	opened   time.Time // by the farm's clock, the page
	kept     bool      // which the phone had kept, or which knows nothing of the bag
}

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

// phone starts a browser that is signed in.
func (r *longRun) phone(chromium, base string, in demo.SignIn, bags []grow.Code) *longPhone {
	r.Helper()
	options := []chromedp.ExecAllocatorOption{chromedp.ExecPath(chromium), chromedp.UserDataDir(r.TempDir()), chromedp.NoSandbox,
		chromedp.Flag("headless", "new"), chromedp.Flag("host-resolver-rules", "MAP farm.test 127.0.0.1")}
	for _, flag := range []string{"disable-gpu", "disable-dev-shm-usage", "disable-quic", "no-first-run", "disable-background-networking", "disable-component-update", "disable-sync"} {
		options = append(options, chromedp.Flag(flag, true))
	}
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	r.Cleanup(stop)
	ctx, end := chromedp.NewContext(allocator)
	r.Cleanup(end)
	if err := chromedp.Do(ctx); err != nil { // no time limit here: it would end the browser
		r.Fatal(err)
	}
	p := &longPhone{longRun: r, ctx: ctx, base: base, bags: bags, taps: map[grow.ID]tapped{}, picture: filepath.Join(r.TempDir(), "bag.jpg")}
	p.signIn(in)
	p.script(notes)
	p.try(chromedp.EmulateViewport(360, 740, chromedp.EmulateScale(2), chromedp.EmulateMobile, chromedp.EmulateTouch))
	return p
}

// signIn puts the cookie of a new session into the browser: the server is asked
// as a phone would, by its form.
func (p *longPhone) signIn(in demo.SignIn) {
	p.Helper()
	p.try(chromedp.Navigate(p.base + "/sign-in"))
	p.try(chromedp.SetValue("input[name=name]", in.Name), chromedp.SetValue("input[name=passphrase]", in.Passphrase), chromedp.Click("main form button"))
	if !p.sees(stepLimit, `location.pathname !== "/sign-in" && "enhanced" in document.documentElement.dataset`) {
		p.Fatal("the phone cannot sign in")
	}
}

// script runs in every page from now on, before its own.
func (p *longPhone) script(source string) {
	p.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, stepLimit)
	defer cancel()
	if _, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: source}); err != nil {
		p.Fatal(err)
	}
}

const stepLimit = 30 * time.Second

// try does steps; a page that is gone may fail them.
func (p *longPhone) try(steps ...chromedp.Action[chromedp.Void]) bool {
	ctx, cancel := context.WithTimeout(p.ctx, stepLimit)
	defer cancel()
	return chromedp.Do(ctx, steps...) == nil
}

// ask evaluates a script that gives a text, "" if it fails.
func (p *longPhone) ask(script string) string {
	ctx, cancel := context.WithTimeout(p.ctx, stepLimit)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](script, chromedp.EvalAwaitPromise))
	if err != nil {
		return ""
	}
	return text
}

// sees waits for a condition of the page.
func (p *longPhone) sees(patience time.Duration, condition string) bool {
	script := `new Promise((done) => setTimeout(() => { try { done((` + condition + `) ? "yes" : "no") } catch { done("no") } }, 30))`
	for deadline := time.Now().Add(patience); time.Now().Before(deadline); {
		if p.ask(script) == "yes" {
			return true
		}
	}
	return false
}

// work goes from bag to bag and taps that each is clean; of some it takes a
// picture.
func (p *longPhone) work(ctx context.Context) {
	for n := 0; ctx.Err() == nil; n++ {
		if p.jumps.CompareAndSwap(true, false) {
			p.jumpedAt = time.Now()
			p.script(jump)
			p.ask(jump + `""`)
		}
		code := p.bags[n%len(p.bags)]
		if p.reach(ctx, code) {
			p.clean(code)
			if n%20 == 10 {
				p.takePhoto(code)
			}
			between(ctx, p.pace/200, p.pace/60) // a second at most in a long run
		}
	}
}

// shows is a condition: the bag's own page, or what there is of it out of reach.
func shows(code grow.Code) string {
	return fmt.Sprintf(`"enhanced" in document.documentElement.dataset && (document.querySelector("#away h1")?.textContent === %q ? document.querySelector("#away .tray form")
		: location.pathname.toUpperCase() === "/B/%s" && !document.querySelector("#away") && document.querySelector("#tray form:last-of-type button"))`, code.Spaced(), code)
}

// reach opens a bag by its code typed on the page that is open; where that page
// is gone, by its label.
func (p *longPhone) reach(ctx context.Context, code grow.Code) bool {
	if p.try(chromedp.SetValue("input[name=code]", string(code)), chromedp.Click(".line .button")) && p.sees(10*time.Second, shows(code)) {
		return true
	}
	for ctx.Err() == nil {
		if p.try(chromedp.Navigate(p.base+"/B/"+string(code))) && p.sees(5*time.Second, shows(code)) {
			return true
		}
	}
	return false
}

// clean taps that a bag is clean, and notes what the page says it logged.
func (p *longPhone) clean(code grow.Code) {
	where := "#tray"
	if p.ask(`document.querySelector("#away .tray") ? "away" : ""`) != "" {
		where = "#away"
	}
	button := where + " form:last-of-type button"
	t := p.aboutToTap(code)
	if !p.try(chromedp.ScrollIntoView(button), chromedp.Click(button)) || !p.sees(10*time.Second, `document.querySelector("`+where+` .did .said").textContent.startsWith("logged")`) {
		return // then the page's notes count alone
	}
	t.to = time.Now()
	if id := p.ask(`globalThis.lastKept`); id != "" {
		p.taps[grow.ID(id)] = t
		if !p.up.Load() {
			p.away++
		}
	}
}

// aboutToTap notes the moment, and what the page knows of the farm's clock.
func (p *longPhone) aboutToTap(code grow.Code) tapped {
	page := strings.Fields(p.ask(`(document.documentElement.dataset.now ?? "") + (document.documentElement.dataset.kept || document.querySelector("#away .tray") ? " kept" : "")`))
	t := tapped{bag: code, from: time.Now(), kept: slices.Contains(page, "kept")}
	t.opened = t.from
	if len(page) > 0 {
		if at, err := time.Parse(time.RFC3339, page[0]); err == nil {
			t.opened = at
		}
	}
	return t
}

// takePhoto photographs a bag, if its page for that opens.
func (p *longPhone) takePhoto(code grow.Code) {
	if !p.try(chromedp.Navigate(p.base+"/B/"+string(code)+"?open=photo")) || !p.sees(2*time.Second, `"enhanced" in document.documentElement.dataset && document.getElementById("photo")`) {
		return
	}
	p.draw()
	t := p.aboutToTap(code)
	if p.try(chromedp.SetUploadFiles("#photo", []string{p.picture})) && p.sees(10*time.Second, `[...document.querySelectorAll(".did .said")].some((s) => s.textContent.startsWith("logged"))`) {
		t.to = time.Now()
		p.taps[grow.ID(p.ask(`globalThis.lastKept`))] = t
		p.photos++
	}
}

// draw makes a picture that is like none before.
func (p *longPhone) draw() {
	m := image.NewGray(image.Rect(0, 0, 1600, 1200))
	for i := range m.Pix {
		m.Pix[i] = byte(rand.N(32) + i%160)
	}
	var b bytes.Buffer
	if err := errors.Join(jpeg.Encode(&b, m, nil), os.WriteFile(p.picture, b.Bytes(), 0o600)); err != nil {
		p.Error(err)
	}
}

// empty waits until all that the phone kept has been sent, and nothing was
// refused.
func (p *longPhone) empty() {
	p.Helper()
	if !p.try(chromedp.Navigate(p.base+"/B/"+string(p.bags[0]))) || !p.sees(2*time.Minute, `document.querySelector(".waits").textContent === "all sent" && !document.getElementById("parked")`) {
		p.Errorf("not everything was sent: %s", p.ask(`document.body.innerText`))
	}
}

// account demands of the farm every tap that the page said it had logged, each
// once, on its bag and at its time, and nothing of this phone that was never
// tapped. It gives how many there are.
func (r *longRun) account(p *longPhone) int {
	r.Helper()
	var noted [][2]string
	if err := json.Unmarshal([]byte(p.ask(`JSON.stringify(Object.entries(localStorage))`)), &noted); err != nil {
		r.Fatal(err)
	}
	began, kept := map[grow.ID]bool{}, map[grow.ID]grow.Code{}
	for _, note := range noted {
		if id, ok := strings.CutPrefix(note[0], "tapped:"); ok {
			began[grow.ID(id)] = true
		} else if id, ok := strings.CutPrefix(note[0], "kept:"); ok {
			kept[grow.ID(id)] = grow.Code(note[1])
		}
	}
	for id, t := range p.taps {
		if kept[id] != t.bag {
			r.Errorf("%s: the page said that %s was logged, and its outbox never had it", t.bag, id)
		}
	}
	r.open(r.dir, func(s *store.Store) error {
		for _, code := range p.bags {
			bag, err := s.Bag(r.Context(), code)
			if err != nil {
				return err
			}
			for _, e := range bag.Entries {
				if !began[e.ID] {
					r.Errorf("%s has %s, which nobody tapped", code, e.ID)
				}
				if t, ok := p.taps[e.ID]; ok {
					p.rightTime(e, t)
				}
				if kept[e.ID] == code {
					delete(kept, e.ID) // twice would be one that nobody tapped: ids are unique by the schema
				}
			}
		}
		return nil
	})
	if len(kept) > 0 {
		r.Errorf("%d taps are lost: %v", len(kept), kept)
	}
	if len(p.taps) == 0 {
		r.Error("not one tap was logged in all that time")
	}
	return len(p.taps)
}

// rightTime compares when an entry says it was seen with when it was tapped. What
// nobody can know excuses it: a phone goes by the farm's clock, so what it tapped
// on a page opened, or sent, while that was wrong may be as wrong; and on a page
// it had kept it knows no clock but its own, which was set before it could send.
func (p *longPhone) rightTime(e grow.Entry, t tapped) {
	p.Helper()
	const slack = time.Minute // a slow answer moves what the phone takes for the farm's clock
	near := func(off time.Duration) bool {
		return e.At.After(t.from.Add(off-slack)) && e.At.Before(t.to.Add(off+slack))
	}
	wrongFarm := t.opened.Before(t.from.Add(clockOff/2)) || e.ReceivedAt.Before(t.from.Add(clockOff/2))
	wrongPhone := t.kept && t.from.Before(p.jumpedAt) && e.ReceivedAt.After(p.jumpedAt)
	if !near(0) && !(wrongFarm && near(clockOff)) && !(wrongPhone && near(-phoneOff*time.Millisecond)) {
		p.Errorf("%s: seen at %v, tapped from %v to %v, received %v", e.Bag, e.At, t.from, t.to, e.ReceivedAt)
	}
}
