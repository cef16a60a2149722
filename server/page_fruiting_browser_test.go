package server

import (
	"strings"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/chromedp/chromedp"
)

// TestAWeekOfFruitingByScan: a trolley is filled bag by bag, into the room whose
// label is scanned; a week later each bag is scanned and weighed with the large
// keys, then said to be spent; nothing is typed but weights.
func TestAWeekOfFruitingByScan(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	tent := p.room("tent", "8")
	codes := p.ripe("3")
	p.goTo("/fruiting")
	p.tap("main details:has([value=ready]) summary")
	p.tap("form:has([value=ready]) button")
	p.until(`location.pathname === "/sweep" && "enhanced" in document.documentElement.dataset`)
	p.scan("http://192.168.1.20:8080/S/" + tent + "\r")
	p.until(`document.querySelector("h1").textContent === "To fruiting: tent"`)
	for n, code := range codes {
		p.scan("http://192.168.1.20:8080/B/" + code + "\r")
		p.until(`document.querySelector("[data-count]").textContent.startsWith("` + string('1'+rune(n)) + ` of 3")`)
	}
	p.scan("http://192.168.1.20:8080/B/" + codes[1] + "\r")
	p.until(`document.querySelector("main").innerText.includes("is already on the trolley")`)
	if got := p.bag(codes[1]); got.State != grow.Fruiting || deref(got.Place) != "tent" || len(got.Entries) != 2 {
		t.Fatalf("%s at %s with %d entries", got.State, deref(got.Place), len(got.Entries))
	}

	p.days(7)
	p.goTo("/harvest")
	for n, code := range codes {
		p.scan("http://192.168.1.20:8080/B/" + code + "\r")
		p.until(`document.querySelector(".pad")`)
		if n == 0 && p.evaluate(`String(document.querySelector("form:has([name=gross]) .button.main").getBoundingClientRect().bottom <= innerHeight)`) != "true" {
			t.Error("the button that logs a weight is below the first screen")
		}
		for digit := range strings.SplitSeq("41"+string('0'+rune(n)), "") {
			p.tap(`.pad button:nth-child(` + map[string]string{"4": "4", "1": "7", "0": "11", "2": "8"}[digit] + `)`)
		}
		p.tap("form:has([name=gross]) .button.main")
		p.until(`document.querySelector(".did .marked-last")?.textContent === "41` + string('0'+rune(n)) + ` g"`)
	}
	p.until(`document.querySelector("main").innerText.includes("Today: 3 weighings, 1233 g.")`)

	p.clock.move(time.Hour) // the clock stands, and a scan bears the moment it was typed
	p.goTo("/sweep?answer=spent")
	p.tap("main form button.main")
	p.until(`document.querySelector("#scans")`)
	for _, code := range codes {
		p.scan("http://192.168.1.20:8080/B/" + code + "\r")
		p.eventually(code+" is spent", func() bool { return p.bag(code).State == grow.Finished })
	}
	p.goTo("/yield")
	p.until(`document.querySelector("main .part").innerText.includes("411 g a bag")`)
}

// TestNextBagBeforeLogIt: the next bag is scanned while a weight stands on the
// scale; it is kept with its bag, and what is typed for the next one stays when it
// is logged.
func TestNextBagBeforeLogIt(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	codes := p.ripe("2")
	p.expect("404") // a label that is none of the farm's
	p.goTo("/harvest")
	p.scan("http://192.168.1.20:8080/B/" + codes[0] + "\r")
	p.until(`document.querySelector("#f-gross")`)
	keys := func(nth ...string) {
		t.Helper()
		for _, n := range nth {
			p.tap(".pad button:nth-child(" + n + ")")
		}
	}
	p.do(chromedp.SetValue("#f-tare", "45"))
	keys("9", "4", "5") // 345
	p.scan("7K3M9QXR\r")
	p.until(`document.querySelector("[role=alert]") && document.querySelector("#f-gross").value + " " + document.querySelector("#f-tare").value === "345 45"`)
	p.scan("http://192.168.1.20:8080/B/" + codes[1] + "\r")
	p.until(`document.querySelector("main").innerText.includes("345 g on the scale for KING #1: not logged yet") && document.querySelector("#f-tare").value === "45" && !document.querySelector("#f-gross").value`)
	keys("8") // 2
	p.tap("[value=late]")
	p.until(`!document.querySelector("[name=was]") && document.querySelector("#f-gross").value === "2"`)
	keys("4", "5") // 245
	p.tap("form:has(#f-gross) .button.main")
	p.until(`document.querySelector(".did .marked-last")?.textContent === "200 g"`)
	for i, want := range []float64{300, 200} {
		if got := p.bag(codes[i]).Grams; got != want {
			t.Errorf("bag %d: %g g, want %g", i+1, got, want)
		}
	}
}

// TestButtonCountsTheTicks: a button for a list with exceptions says how many are
// ticked, stands below the list too, and rests while none is.
func TestButtonCountsTheTicks(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	codes := p.ripe("3")
	p.goTo("/fruiting")
	p.tap("li.part summary")
	says := func(words string) {
		t.Helper()
		p.until(`[...document.querySelectorAll("button[name=row]")].map((b) => b.textContent + (b.disabled ? ", rests" : "")).join("|") === "` + words + "|" + words + `"`)
	}
	says("All 3 to fruiting")
	p.tap(`input[value$="` + codes[1] + `"]`)
	says("2 of 3 to fruiting")
	p.until(`document.querySelector("button[name=hold]").textContent.startsWith("Hold 2 of 3 KING")`)
	p.tap(`input[value$="` + codes[0] + `"]`)
	p.tap(`input[value$="` + codes[2] + `"]`)
	says("0 of 3 to fruiting, rests")
	p.tap(`input[value$="` + codes[2] + `"]`)
	p.tap("li.part details button[name=row]")
	p.until(`document.querySelector("main").innerText.includes("1 of 1")`)
	for i, want := range []grow.State{grow.Colonised, grow.Colonised, grow.Fruiting} {
		if got := p.bag(codes[i]).State; got != want {
			t.Errorf("bag %d is %s, want %s", i+1, got, want)
		}
	}
}
