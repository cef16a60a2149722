package server

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/labels"
	"bagmark/store"

	"github.com/chromedp/chromedp"
)

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
	p.clock.move(time.Minute) // the farm's clock stands still in a test: what follows is later
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
