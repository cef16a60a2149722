package server

import "testing"

// TestEveryTapOfUndo: each tap on undo takes back one more scan, however soon after
// the answer to the one before; two taps at once count as one, and the page says so.
func TestEveryTapOfUndo(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	_, codes := p.kings("5", "")
	rested := `performance.now() - window.tapped > 400 && `
	for _, path := range []string{"/bench", "/sweep"} {
		if path == "/sweep" {
			p.filled(p.open("/sweep?batch="+string(p.bag(codes[0]).Batch.Code)), "main form", "answer", "clean").ok()
		}
		p.goTo(path)
		last := func(bag int) string {
			return `document.querySelector(".marked-last")?.textContent === "KING #` + string('0'+rune(bag)) + `"`
		}
		for i, code := range codes {
			p.scan("http://192.168.1.20:8080/B/" + code + "\r")
			p.until(last(i + 1))
		}
		undo := `window.tapped = performance.now(); document.querySelector("form:has([value=undo]) button").click(); `
		p.evaluate(undo + `""`)
		p.until(rested + last(4))
		p.evaluate(undo + undo + `""`)
		p.until(last(3) + ` && document.querySelector("main").innerText.includes("Two taps at once count as one")`)
		p.until(rested + last(3))
		p.evaluate(undo + `""`)
		p.until(rested + last(2))
		p.until(`!document.querySelector("[data-echo]")`)
	}
}

// TestWhatAScanDidIsInView: at a bench with two species on a small phone the page
// is scrolled down; what a scan did comes onto the screen, and the field keeps the
// focus.
func TestWhatAScanDidIsInView(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	p.expect("404") // a label that is none of the farm's
	_, kings := p.kings("30", "")
	made := p.post("/api/v1/batches", `{"species":"hericium-erinaceus","inoculated_at":"2026-11-22T15:00:00+00:00","bags":30}`).want(201)
	lion := made.at("bags", 0, "code").(string)
	p.goTo("/bench")
	scan := func(payload, selector, words string) {
		t.Helper()
		p.evaluate(`document.querySelector("#code").focus({ preventScroll: true }); scrollTo(0, document.body.scrollHeight); ""`)
		p.scan(payload + "\r")
		p.until(`(() => { const e = document.querySelector("` + selector + `"), r = e.getBoundingClientRect();
			return e.innerText.includes("` + words + `") && r.top >= document.querySelector(".top").getBoundingClientRect().bottom - 1 && r.bottom <= innerHeight && document.activeElement.id === "code"; })()`)
	}
	scan(kings[0], ".did", "KING #1")
	scan(lion, ".did", "LION #1")
	scan("7K3M9QXR", "[role=alert]", "Nothing was saved")
	scan(kings[0], "[role=alert]", "Scanned before in this run")
	scan(kings[1], ".did", "KING #2")
}
