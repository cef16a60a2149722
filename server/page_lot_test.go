package server

import (
	"net/url"
	"strings"
	"testing"
)

// TestLotPages makes a lot by its form, logs on a jar, goes from a mouldy bag up
// to its jar and down to all that came from it: three taps.
func TestLotPages(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	p := b.fill(b.open("/lots").ok(), `form[action="/lots"]`, "name", "S-31", "made_from", "C-7, C-8", "jars", "3")
	lot, _, _ := strings.Cut(p.led(), "?")
	p = b.open(lot).ok().says("h1", "S-31").has(3, `a[href^="/L/"] b:contains("Jar ")`).says("main", "C-8")
	checkMarkup(t, p)
	b.fill(b.open("/lots").ok(), `form[action="/lots"]`, "name", "s-31").says("[role=alert]", "There is a lot S-31 already") // refused, with what was typed

	jar, _ := p.Find(`a:contains("Jar 2")`).Attr("href")
	b.fill(b.open(jar).ok(), `form:has(input[value=shake])`).led()
	b.fill(b.open(jar).ok(), `form:has(input[value=contaminated])`, "what", "green_mould").led()
	p = b.open(jar).ok().says("h1", "S-31 jar 2").says("main", "Mould: green mould").has(2, "#log li")
	b.fill(p, "#log li form").led()
	b.open(jar).says("main", "Growing")
	b.fill(b.open(jar).ok(), `form:has(input[value=note])`, "text", strings.Repeat("x", 2001)).says("[role=alert]", "Nothing was saved")

	_, bags := b.kings("4", `,"spawn_lot":"S-31"`)
	b.saw(bags[0], `"kind":"condition","key":"spawn_jar","value":"`+strings.TrimPrefix(jar, "/L/")+`"`)
	b.saw(bags[0], `"kind":"contaminated","what":"green_mould"`)
	p = b.open("/B/" + bags[0] + "/mould").ok()
	up, _ := p.Find(`a:contains("Its spawn")`).Attr("href")
	if up != jar {
		t.Fatalf("up from the bag leads to %q", up)
	}
	p = b.open(up).ok().says("main", "1 bag in 1 batch: 1 mouldy, 0 alive")
	down, _ := p.Find(`a:contains("Where is all")`).Attr("href")
	b.open(down).ok().says("h1", "Recall of S-31 jar 2").has(1, `a[href="/B/`+bags[0]+`"]`)
	p = b.open("/B/" + bags[1]).ok()
	up, _ = p.Find(`a:contains("Its spawn lot")`).Attr("href")
	if led := b.open(up).led(); led != lot {
		t.Errorf("a bag without a jar leads to %q, want %q", led, lot)
	}
	b.fill(b.open(lot).ok(), `form:has(button:contains("Correct the lot"))`, "made_from", "S-31").says("[role=alert]", "Nothing was saved")
	b.fill(b.open(lot).ok(), `form:has(button:contains("Correct the lot"))`, "made_from", "C-7", "note", "rye").led()
	b.open(lot).ok().says("main", "What was corrected")
	b.fill(b.open(lot).ok(), `form[action$="/jars"]`, "count", "2").led()
	b.open(lot).has(5, `a[href^="/L/"] b:contains("Jar ")`)
}

// TestJarAtTheBench: a scanned jar is the spawn of the bags that follow, until
// another is scanned, and is kept over a reload.
func TestJarAtTheBench(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	made := b.post("/api/v1/lots", `{"kind":"spawn","name":"S-31","jars":2}`).want(201)
	one, two := made.at("jars", 0, "code").(string), made.at("jars", 1, "code").(string)
	_, bags := b.kings("4", ``)
	scan := func(code string) page {
		t.Helper()
		return b.submit("/bench", url.Values{"act": {"scan"}, "code": {code}})
	}
	scan(bags[0]).led()
	scan(one).led()
	b.open("/bench").ok().says("[data-spawn]", "Spawn from S-31 jar 1")
	scan("http://10.0.0.1/L/" + one).led() // as a hand-held scanner types the symbol
	scan(bags[1]).led()
	scan(two).led()
	scan(bags[2]).led()
	b.submit("/bench", url.Values{"act": {"spawn"}, "unit": {""}}).led()
	scan(bags[3]).led()
	for i, want := range []string{"", "S-31 jar 1", "S-31 jar 2", ""} {
		got := ""
		if u := b.bag(bags[i]).SpawnJar; u != nil {
			got = u.Name
		}
		if got != want {
			t.Errorf("bag %d has its spawn from %q, want %q", i+1, got, want)
		}
	}
	b.submit("/bench", url.Values{"act": {"undo"}}).led()
	b.submit("/bench", url.Values{"act": {"undo"}}).led()
	if u := b.bag(bags[2]).SpawnJar; u != nil {
		t.Errorf("undone, and still from %s", u.Name)
	}
	b.post("/api/v1/lots/"+one+"/entries", `{"id":"`+id(1)+`","kind":"contaminated","what":"green_mould"}`).want(201)
	scan(one).led()
	b.open("/bench").ok().says("[role=alert]", "S-31 jar 1 was found mouldy")
	scan(bags[3]).led()
	if u := b.bag(bags[3]).SpawnJar; u == nil || u.Name != "S-31 jar 1" {
		t.Errorf("what was used is not on record: %v", u)
	}
}

// TestPartOfAJar: 2.7 jars are refused at their field, never made two.
func TestPartOfAJar(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	p := b.submit("/lots", url.Values{"kind": {"spawn"}, "name": {"S-9"}, "jars": {"2.7"}})
	if p.status != 400 || !strings.Contains(string(p.body), "must be a whole number") {
		t.Errorf("2.7 jars: %d", p.status)
	}
	b.get("/api/v1/lots/S-9").refused(404, "not_found")
}
