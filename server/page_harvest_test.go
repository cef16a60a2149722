package server

import (
	"math"
	"net/http"
	"net/url"
	"slices"
	"testing"
	"time"

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
	b.follow(b.fill(p, "form:has([name=gross])", "gross", "447,5", "tare", "35")).ok().says(".did", "412.5 g").says(".did", "KING #1, flush 1").says("main", "Today: 1 weighing, 412.5 g.")
	p = scan(codes[0]).says(".tag", "412.5 g so far, 1 flush").has(2, "select[name=flush] option")
	if tare := p.Find("input[name=tare]").AttrOr("value", ""); tare != "35" {
		t.Errorf("the tare is %q", tare)
	}
	p = b.follow(b.fill(p, "form:has([name=gross])", "gross", "135", "flush", "1")).ok().says(".did", "100 g").says("main", "Today: 2 weighings, 512.5 g.")
	if got := b.bag(codes[0]); got.Grams != 512.5 || got.Flush != 1 || got.State != grow.Fruiting {
		t.Errorf("%g g in flush %d, %s", got.Grams, got.Flush, got.State)
	}
	b.clock.move(1000)
	b.follow(b.fill(p, ".did form", "act", "undo")).ok().says("main", "Today: 1 weighing, 412.5 g.")
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
	doubted := b.fill(p, "form:has([name=gross])", "gross", "3450", "tare", "35") // more than the bag itself
	doubted.want(http.StatusBadRequest)
	doubted.says("[role=alert]", "3415 g from one bag of 3000 g, sure?").has(1, "input[name=sure]")
	if g := b.bag(codes[0]).Grams; g != 0 {
		t.Errorf("%g g were logged all the same", g)
	}
	b.follow(b.fill(p, "form:has([value=other])", "act", "other")).ok().says("h1", "Weigh")
	b.follow(b.submit("/harvest", url.Values{"act": {"scan"}, "code": {codes[1]}})).ok().says("h1", "Weigh").says(".note", "KING #2 is culled: nothing can be picked from it.")
	b.submit("/harvest", url.Values{"act": {"scan"}, "code": {"7K3M9QXR"}}).want(http.StatusNotFound)
	b.submit("/harvest", url.Values{"act": {"undo"}}).want(http.StatusConflict)
}

// TestTareOutlivesAWrongScan: a label that is no bag's leaves the bag, what is typed and
// the tare as they were.
func TestTareOutlivesAWrongScan(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	codes := b.ripe("2")
	jar := b.post("/api/v1/lots", `{"kind":"spawn","name":"S-31","jars":1}`).want(201).at("jars", 0, "code").(string)
	scan := func(code string, typed ...string) page {
		t.Helper()
		v := formOf(append(typed, "act", "scan", "code", code)...).values
		return b.submit("/harvest", v)
	}
	p := b.follow(scan(codes[0])).ok()
	b.follow(b.fill(p, "form:has([name=gross])", "gross", "445", "tare", "45")).ok().says(".did", "400 g")
	b.follow(scan(codes[1])).ok()
	for name, code := range map[string]string{"a jar of spawn": jar, "no label": "7K3M9QXR"} {
		for _, typed := range [][]string{nil, {"bag", codes[1], "gross", "345", "tare", "50", "flush", "1"}} {
			p = scan(code, typed...)
			p.want(http.StatusNotFound)
			p.says(".tag h1", "KING").says("[role=alert]", "Nothing was saved")
			want := []string{"", "45"}
			if typed != nil {
				want = []string{"345", "50"}
			}
			if got := []string{p.Find("#f-gross").AttrOr("value", ""), p.Find("#f-tare").AttrOr("value", "")}; !slices.Equal(got, want) {
				t.Errorf("%s: the scale has %q, want %q", name, got, want)
			}
		}
	}
	b.follow(b.fill(b.open("/harvest"), "form:has(#f-gross)", "gross", "345")).ok().says(".did", "300 g")
	b.follow(scan(codes[0])).ok()
	if got := b.open("/harvest").Find("#f-tare").AttrOr("value", ""); got != "45" {
		t.Errorf("the tare remembered is %q", got)
	}
}

// TestWeightNotLoggedWaits: a weight typed before the next bag's scan waits by name
// until it is logged or dropped, and is neither lost nor logged by itself.
func TestWeightNotLoggedWaits(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	codes := b.ripe("3")
	b.follow(b.submit("/harvest", formOf("act", "scan", "code", codes[0]).values)).ok()
	next := func(of, gross, code string) page {
		t.Helper()
		return b.follow(b.submit("/harvest", formOf("act", "scan", "code", code, "bag", of, "gross", gross, "tare", "45", "flush", "1").values)).ok()
	}
	next(codes[0], "345", codes[1])
	next(codes[0], "345", codes[1]).has(1, "[name=was]") // said twice by a phone out of reach
	next(codes[1], "30", codes[1]).has(1, "[name=was]")  // the same bag again is no other
	p := next(codes[1], "30", codes[2]).has(2, "[name=was]").says(".tag h1", "KING").says(".note", "30 g on the scale for KING #2: not logged yet")
	if got := b.bag(codes[0]); got.Grams != 0 {
		t.Fatalf("%g g logged that nobody logged", got.Grams)
	}
	late := b.submit("/harvest", formOf("act", "late", "bag", codes[1], "was", "/30", "gross", "30", "tare", "45", "flush", "1").values)
	late.want(http.StatusBadRequest)
	late.says("[role=alert]", "less than the tare").has(2, "[name=was]")
	b.follow(b.fill(p, "form:has([name=was][value='/345'])", "act", "late")).ok().says(".tag h1", "KING").has(1, "[name=was]")
	if got := b.bag(codes[0]); got.Grams != 300 || got.Flush != 1 {
		t.Errorf("%g g in flush %d, want 300 in 1", got.Grams, got.Flush)
	}
	b.follow(b.fill(p, "form:has([name=was][value='/30'])", "act", "drop")).ok().has(0, "[name=was]").says(".tag .code", grow.Code(codes[2]).Spaced())
	if got := b.bag(codes[1]); got.Grams != 0 {
		t.Errorf("dropped, and %g g are logged", got.Grams)
	}
	pounds := formOf("act", "scan", "code", codes[0], "bag", codes[2], "pounds", "1", "gross", "2.5", "tare", "", "flush", "1", "unit", "oz").values
	p = b.follow(b.submit("/harvest", pounds)).ok().says(".note", "1 lb 2.5 oz on the scale for KING #3")
	b.follow(b.fill(p, "form:has([name=was])", "act", "late")).ok().has(0, "[name=was]")
	if got := b.bag(codes[2]); math.Abs(got.Grams-524.466) > 0.01 { // the pound of 1959 is 453.59237 g
		t.Errorf("%g g logged, want 524.466", got.Grams)
	}
}

// TestFlushOfTheSameDay: more of a bag on the day of its last pick is of the same
// flush; on another day it is the next one's.
func TestFlushOfTheSameDay(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	code := b.ripe("1")[0]
	for _, x := range []struct {
		days int
		want string
	}{{0, "1"}, {0, "1"}, {8, "2"}, {0, "2"}} {
		b.days(x.days)
		b.clock.move(time.Minute)
		b.follow(b.submit("/harvest", formOf("act", "scan", "code", code).values)).ok()
		p := b.open("/harvest").ok().has(1, "a[href^='/sweep?answer=spent']")
		if got := p.Find("select[name=flush] option[selected]").AttrOr("value", ""); got != x.want {
			t.Errorf("after %d days flush %s is offered, want %s", x.days, got, x.want)
		}
		b.follow(b.fill(p, "form:has(#f-gross)", "gross", "100")).ok()
	}
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
