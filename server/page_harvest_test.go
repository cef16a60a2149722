package server

import (
	"net/http"
	"net/url"
	"testing"

	"bagmark/grow"
)

// TestWeighing: a scan chooses the bag, the tare is taken off and remembered, the
// flush is the next or the same again, and the last weight is taken back. No
// script runs.
func TestWeighing(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	codes := b.ripe("2")
	scan := func(code string) page {
		t.Helper()
		return b.follow(b.filled(b.open("/harvest").ok(), "#scans", "code", code)).ok()
	}
	p := scan(codes[0]).says(".tag", "nothing picked yet").has(1, "input[name=gross]").has(1, "select[name=flush] option")
	if n := len(b.bag(codes[0]).Entries); n != 1 {
		t.Fatalf("a scan logged something: %d entries", n)
	}
	b.follow(b.fill(p, "form:has([name=gross])", "gross", "447,5", "tare", "35")).ok().says(".did", "412.5 g").says(".did", "KING #1, flush 1").says("main", "Today: 1 bag, 412.5 g.")
	p = scan(codes[0]).says(".tag", "412.5 g so far, 1 flush").has(2, "select[name=flush] option")
	if tare := p.Find("input[name=tare]").AttrOr("value", ""); tare != "35" {
		t.Errorf("the tare is %q", tare)
	}
	p = b.follow(b.fill(p, "form:has([name=gross])", "gross", "135", "flush", "1")).ok().says(".did", "100 g").says("main", "Today: 2 bags, 512.5 g.")
	if got := b.bag(codes[0]); got.Grams != 512.5 || got.Flush != 1 || got.State != grow.Fruiting {
		t.Errorf("%g g in flush %d, %s", got.Grams, got.Flush, got.State)
	}
	b.clock.move(1000)
	b.follow(b.fill(p, ".did form", "act", "undo")).ok().says("main", "Today: 1 bag, 412.5 g.")
	if got := b.bag(codes[0]).Grams; got != 412.5 {
		t.Errorf("taken back, %g g", got)
	}
	b.days(1)
	b.open("/harvest").ok().has(0, "main > .stack > .lead")
}

// TestWeightsThatCannotBe: what is refused stays typed, and the bag chosen.
func TestWeightsThatCannotBe(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	codes := b.ripe("2")
	b.saw(codes[1], `"kind":"cull","why":"leak"`)
	p := b.follow(b.submit("/harvest", url.Values{"act": {"scan"}, "code": {codes[0]}})).ok()
	for gross, want := range map[string]string{"": "is missing", "20": "is less than the tare of 35 g", "a lot": "must be a number", "200000": "must be 0 to 100000"} {
		got := b.fill(p, "form:has([name=gross])", "gross", gross, "tare", "35")
		got.want(http.StatusBadRequest)
		got.says("[role=alert]", want).says(".tag h1", "KING")
	}
	b.follow(b.fill(p, "form:has([value=other])", "act", "other")).ok().says("h1", "Weigh")
	b.follow(b.submit("/harvest", url.Values{"act": {"scan"}, "code": {codes[1]}})).ok().says(".note", "KING #2 is culled: nothing can be picked from it.")
	b.submit("/harvest", url.Values{"act": {"scan"}, "code": {"7K3M9QXR"}}).want(http.StatusNotFound)
	b.submit("/harvest", url.Values{"act": {"undo"}}).want(http.StatusConflict)
}

// TestYieldPage: what was weighed, per bag made, with what is not counted.
func TestYieldPage(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("3", `,"bag_wet_g":2500,"moisture_pct":62,"recipe":"oak"`)
	b.days(30)
	b.saw(codes[0], `"kind":"harvest","grams":570`)
	b.saw(codes[0], `"kind":"finish","why":"spent"`)
	b.saw(codes[1], `"kind":"cull","why":"leak"`)
	b.saw(codes[2], `"kind":"finish","why":"sold","to":"market"`)
	p := b.open("/yield").ok().says("main", "570 g picked from 3 bags made. 2 bags of 1 batch are done and counted.").says("main", "Not counted: 1 were sold").
		says(".part h2", "king oyster").says(".part", "285 g a bag").says(".part", "biological efficiency 30 %").says("main", "About 570 g").says("main", "dry substrate at filling, without the spawn")
	p.has(1, "tbody tr")
	b.open("/yield?by=recipe&measure=efficiency").ok().says("h1", "Yield by recipe").says(".part", "30 % efficiency").says(".tracing", "Nothing to compare: every bag that counts had it.")
	bad := b.open("/yield?by=moon")
	bad.want(http.StatusBadRequest)
	bad.says("[role=alert]", "is not a condition")
	got := b.get("/api/v1/yield?by=recipe&measure=efficiency").want(200)
	if be := got.at("all", "efficiency_pct"); be != 30. {
		t.Errorf("efficiency %v, want 30: 570 g on 950 g dry, twice", be)
	}
	b.get("/api/v1/yield?measure=spoons&from=soon").refused(400, "invalid", "from")
}
