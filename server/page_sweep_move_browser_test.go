package server

import (
	"strings"
	"testing"

	"bagmark/grow"
)

// TestMoveOutOfReach begins a move, changes shelves and scans bags while the farm
// does not answer; the page names the shelf by what it came with, and every act
// arrives once and in its order.
func TestMoveOutOfReach(t *testing.T) {
	t.Parallel()
	p, l, codes := lone(t, "3")
	p.expect("409") // the bag scanned before any shelf is refused, and the page says so
	one, two := p.place("room 1 > rack 2", ""), p.place("room 1 > rack 3", "")
	p.goTo("/sweep")
	p.until(`performance.getEntriesByType("resource").some((r) => r.name.endsWith("/lib/awaybench.js"))`)
	l.stop()
	scan := func(code, says string) {
		t.Helper()
		p.scan(code + "\r")
		p.until(`document.querySelector("[data-waits]")?.innerText.includes("` + says + `")`)
	}
	scan(codes[0], "No shelf yet")
	scan(one, "Now: room 1 > rack 2")
	p.until(`document.querySelector("h1").textContent === "Now: room 1 > rack 2"`)
	scan(codes[0], grow.Code(codes[0]).Spaced())
	scan(codes[0], "Already here")
	scan(two, "Now: room 1 > rack 3")
	scan(codes[1], grow.Code(codes[1]).Spaced())
	l.start()
	p.evaluate(`dispatchEvent(new Event("online")); ""`)
	p.until(`document.querySelector("h1").textContent === "Now: room 1 > rack 3"`)
	p.until(`document.querySelector("[data-moved]").textContent === "1 moved"`)
	for i, want := range []string{"room 1 > rack 2", "room 1 > rack 3", ""} {
		if got := deref(p.bag(codes[i]).Place); got != want {
			t.Errorf("bag %d stands at %q, want %q", i+1, got, want)
		}
	}
	if got := len(p.bag(codes[0]).Entries); got != 2 { // its mark at the bench, and one move
		t.Errorf("the bag scanned twice has %d entries", got)
	}
	p.scan(one + "\r") // what the farm has shown since counts when it is out of reach again
	p.until(`document.querySelector("h1").textContent === "Now: room 1 > rack 2"`)
	l.stop()
	scan(codes[1], grow.Code(codes[1]).Spaced())
	if says := p.evaluate(`document.querySelector("[data-waits]").innerText`); strings.Contains(says, "Already here") {
		t.Errorf("a bag that went to rack 3 and is scanned for rack 2: %s", says)
	}
	scan(two, "Now: room 1 > rack 3")
	scan(codes[1], grow.Code(codes[1]).Spaced()) // and back again
	if says := p.evaluate(`document.querySelector("[data-waits]").innerText`); strings.Contains(says, "Already here") {
		t.Errorf("a bag that went to rack 2 and is scanned for rack 3: %s", says)
	}
}

// TestMoveFromThePlacesPage: a phone's camera app opens a shelf's page, whose first
// button begins the move; both are on the first screen.
func TestMoveFromThePlacesPage(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	_, codes := p.markedKings("2", "room 1")
	shelf := p.place("room 1 > rack 3", "2")
	p.goTo("/S/" + shelf)
	if got := p.evaluate(`const first = document.querySelector("main .button"); first.innerText + " " + (first.getBoundingClientRect().bottom <= 640)`); got != "Move bags here true" {
		t.Errorf("the first button is %q", got)
	}
	p.tap("main .button.main")
	p.until(`location.pathname === "/sweep" && "enhanced" in document.documentElement.dataset`)
	if got := p.evaluate(`String(document.querySelector("#scans .button").getBoundingClientRect().bottom <= 640)`); got != "true" {
		t.Error("the field for codes is below the first screen")
	}
	for i, code := range codes {
		p.scan("http://192.168.1.20:8080/B/" + code + "\r")
		p.until(`document.querySelector("[data-moved]").textContent.startsWith("` + string('1'+rune(i)) + ` moved")`)
	}
	p.until(`document.querySelector("main").innerText.includes("2 of 2 bags: full")`)
	p.tap("form:has([value=undo]) button")
	p.until(`document.querySelector("[data-moved]").textContent === "1 moved"`)
}
