package server

import "testing"

// TestPhoneInPounds: on a farm that writes twelve hours and ounces a tap says the time
// so, the large keys fill pounds and ounces, and what a bag's page takes in ounces
// goes by the outbox as the grams that the farm itself would keep.
func TestPhoneInPounds(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	p.inPounds()
	codes := p.ripe("2")
	p.goTo("/B/" + codes[0])
	p.until(`"enhanced" in document.documentElement.dataset`)
	p.evaluate(`(() => { const f = document.querySelector("[name=ounces]"); f.value = "14,3"; f.form.requestSubmit(f.form.querySelector("button")); return ""; })()`)
	p.until(`/logged \d{1,2}:\d\d [ap]m/.test(document.querySelector(".did .said")?.textContent)`)
	p.eventually("14.3 ounces on record", func() bool { return p.bag(codes[0]).Grams == 405.4 }) // × 28.349523125 (NIST SP 811, B.8)

	kept := p.evaluate(`import(performance.getEntriesByType("resource").find((r) => r.name.endsWith("/lib/entry.js")).name)
		.then(({ entryOf }) => JSON.stringify(["14,3", "0", "a lot", ""].map((ounces) => entryOf(new URLSearchParams({ ounces }), "x").grams ?? "none")))`)
	if want := `[405.4,0,"a lot","none"]`; kept != want { // what is no number is kept as it was typed, for the farm to refuse
		t.Errorf("ounces are sent as %s, want %s", kept, want)
	}

	p.goTo("/harvest?code=" + codes[1])
	p.until(`document.querySelectorAll(".pad button").length === 12`)
	keys := func(field, typed string) {
		p.tap("[name=" + field + "]")
		p.evaluate(`(() => { for (const k of "` + typed + `") [...document.querySelectorAll(".pad button")].find((b) => b.textContent === k).click(); return ""; })()`)
	}
	keys("pounds", "2")
	keys("gross", "3.1")
	p.evaluate(`(() => { const f = document.querySelector("[name=gross]").form; f.requestSubmit(f.querySelector("button.main")); return ""; })()`)
	p.eventually("2 lb 3.1 oz on record", func() bool { return p.bag(codes[1]).Grams == 995.07 })
	p.expect("2 lb 3.1 oz")
}
