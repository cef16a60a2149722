package server

import (
	"bytes"
	"crypto/rand"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"
)

// act does one thing at the bench, with a fresh form id.
func (b *browser) act(pairs ...string) page {
	b.t.Helper()
	fresh, err := newID()
	if err != nil {
		b.t.Fatal(err)
	}
	v := url.Values{"id": {string(fresh)}}
	for i := 0; i+1 < len(pairs); i += 2 {
		v.Set(pairs[i], pairs[i+1])
	}
	return b.follow(b.submit("/bench", v))
}

// follow goes where an answer leads, as a browser does.
func (b *browser) follow(p page) page {
	b.t.Helper()
	if p.status != http.StatusSeeOther {
		return p
	}
	return b.open(p.led())
}

// filled fills a form and follows.
func (b *browser) filled(p page, selector string, changes ...string) page {
	b.t.Helper()
	return b.follow(b.fill(p, selector, changes...))
}

func value(b *browser, code, key string) string {
	b.t.Helper()
	for _, c := range b.bag(code).Conditions {
		if c.Key == key && c.Value != nil {
			return *c.Value
		}
	}
	return grow.Unknown
}

// TestBenchMarksWithWhatTheSwitchesSay: hood off for some bags, then on again.
func TestBenchMarksWithWhatTheSwitchesSay(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, codes := b.kings("6", "")
	b.open("/bench?batch="+batch).ok().says("main", "Which batch are you making?").has(1, "button[name=batch][value='"+batch+"']")
	b.act("act", "pick", "batch", batch).ok().says("main", "0 of 6 marked")
	p := b.act("act", "scan", "code", strings.ToLower(codes[0])).ok().says(".marked-last", "KING #1").says("main", "1 of 6 marked").says("main", "Not yet: 2-6")
	if p.Find("body").HasClass("bench-off") || p.Find("[data-ui~=stay]").AttrOr("data-sound", "") != "logged" {
		t.Error("something seems to be off")
	}
	p = b.act("act", "switch", "key", "flow_hood", "value", "off").ok().says("main", "Cross HOOD on the bag").says(".says", "HOOD OFF: 0 bags")
	if !p.Find("body").HasClass("bench-off") {
		t.Error("the screen does not say that the hood is off")
	}
	p = b.act("act", "scan", "code", "http://x/B/"+codes[1]).ok().says(".says", "HOOD OFF: 1 bag").says(".did .block", "HOOD OFF")
	if p.Find("[data-ui~=stay]").AttrOr("data-sound", "") != "off" {
		t.Error("no tone says that the hood is off")
	}
	checkMarkup(t, b.open("/bench").ok().says(".says", "HOOD OFF: 1 bag")) // a reload loses nothing
	b.act("act", "switch", "key", "flow_hood", "value", "on").ok().has(0, ".says")
	b.act("act", "scan", "code", codes[2]).ok()
	for i, want := range []string{grow.Unknown, "off", grow.Unknown} {
		if got := value(b, codes[i], "flow_hood"); got != want || b.bag(codes[i]).Status.BenchAt == nil {
			t.Errorf("bag %d: hood %s, want %s", i+1, got, want)
		}
	}
	b.act("act", "undo").ok().says(".marked-last", "KING #2")
	if b.bag(codes[2]).MarkedAt != nil {
		t.Error("the last scan was not taken back")
	}
	b.act("act", "done").ok().says("main", "Which batch are you making?")
}

// TestUndoAfterUndoElsewhere: what the bag's own page took back does not stand
// in the way of an undo at the bench or of a sweep.
func TestUndoAfterUndoElsewhere(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, codes := b.kings("2", "")
	b.act("act", "switch", "key", "flow_hood", "value", "off").ok()
	for _, code := range codes {
		b.act("act", "scan", "code", code).ok()
	}
	void := func(e grow.Entry) { b.saw(string(e.Bag), `"kind":"void","entry":"`+string(e.ID)+`"`) }
	void(b.bag(codes[1]).Entries[0]) // the mark, not the condition
	b.act("act", "undo").ok().says(".marked-last", "KING #1")
	if got := value(b, codes[1], "flow_hood"); got != grow.Unknown {
		t.Errorf("what was left of the scan was not taken back: the hood is %s", got)
	}
	b.act("act", "undo").ok().has(0, ".marked-last")

	p := b.filled(b.open("/sweep?batch="+batch).ok(), "main form", "answer", "turned").ok()
	p = b.filled(p, "main form:has(#code)", "code", codes[0]).ok().says(".far", "1 of 2 seen")
	void(b.bag(codes[0]).Entries[0])
	b.filled(p, "form:has([value=undo])").ok().says(".far", "0 of 2 seen")
}

// TestBenchScansOnce: a form sent twice is one scan.
func TestBenchScansOnce(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("1", "")
	v := url.Values{"act": {"scan"}, "code": {codes[0]}, "id": {id(5)}}
	b.submit("/bench", v).led()
	b.submit("/bench", v).led()
	if n := len(b.bag(codes[0]).Entries); n != 1 {
		t.Errorf("%d entries of one scan", n)
	}
	strange, err := grow.NewCode(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	for code, words := range map[string]string{"7K3M-9QXX": "check character", "": "A code has 8", string(strange): "no label"} {
		p := b.act("act", "scan", "code", code)
		if p.status < 400 {
			t.Errorf("%q: status %d", code, p.status)
		}
		p.says("[role=alert]", words)
		if p.Find("[data-ui~=stay]").AttrOr("data-sound", "") != "refused" {
			t.Errorf("%q: no sound of a refusal", code)
		}
	}
}

// TestBenchAsksAgain: a switch left off must not go on for ever.
func TestBenchAsksAgain(t *testing.T) {
	t.Parallel()
	ask := "HOOD OFF: still so?"
	asks := func(p page) bool { return strings.Contains(p.Find("main").Text(), ask) }
	t.Run("after ten bags", func(t *testing.T) {
		t.Parallel()
		b := newTestBrowser(t)
		_, codes := b.kings("12", "")
		b.act("act", "switch", "key", "flow_hood", "value", "off").ok()
		for i, code := range codes[:10] {
			if p := b.act("act", "scan", "code", code).ok(); asks(p) != (i == 9) {
				t.Errorf("bag %d: asks %v", i+1, asks(p))
			}
		}
		if p := b.act("act", "still", "still", "yes").ok(); asks(p) {
			t.Error("asks after the answer")
		}
		b.act("act", "scan", "code", codes[10]).ok().says(".says", "HOOD OFF: 11 bags")
	})
	t.Run("after ten minutes", func(t *testing.T) {
		t.Parallel()
		b := newTestBrowser(t)
		b.act("act", "switch", "key", "flow_hood", "value", "off").ok()
		b.clock.move(9 * time.Minute)
		if p := b.open("/bench").ok(); asks(p) || p.Find("[data-refresh-in='60']").Length() != 1 {
			t.Error("asks too early, or does not know when it will")
		}
		b.clock.move(time.Minute)
		if p := b.open("/bench").ok(); !asks(p) {
			t.Error("does not ask")
		}
		b.act("act", "still", "still", "no").ok().has(0, ".says")
	})
	t.Run("after a rest, before the next scan", func(t *testing.T) {
		t.Parallel()
		b := newTestBrowser(t)
		_, codes := b.kings("3", "")
		b.act("act", "switch", "key", "flow_hood", "value", "off").ok()
		b.act("act", "scan", "code", codes[0]).ok()
		b.clock.move(30 * time.Minute)
		p := b.act("act", "scan", "code", codes[1]).ok().says("main", "The bench has rested")
		if b.bag(codes[1]).MarkedAt != nil {
			t.Fatal("a bag was marked before the answer")
		}
		b.filled(p, "form:has([name=still][value=no])").ok().says(".marked-last", "KING #2").has(0, ".says")
		if got := value(b, codes[1], "flow_hood"); got != grow.Unknown {
			t.Errorf("hood %s for the bag after the rest", got)
		}
	})
}

// TestBenchReachesBack: somebody notices late.
func TestBenchReachesBack(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, codes := b.kings("5", "")
	for _, code := range codes[:4] {
		b.act("act", "scan", "code", code).ok()
	}
	b.act("act", "also", "last", "2").want(http.StatusBadRequest)
	b.act("act", "switch", "key", "gloves", "value", "no").ok().has(4, ".lastfew button[name=last]")
	b.act("act", "also", "last", "2").ok().says(".says", "NO GLOVES: 2 bags")
	for i, want := range []string{grow.Unknown, grow.Unknown, "no", "no"} {
		if got := value(b, codes[i], "gloves"); got != want {
			t.Errorf("bag %d: gloves %s, want %s", i+1, got, want)
		}
	}
	b.act("act", "about", "batch", batch, "key", "flow_hood", "about", "9").want(http.StatusBadRequest)
	b.act("act", "about", "batch", batch, "key", "flow_hood", "about", "3").ok()
	b.open("/B/"+codes[4]).ok().says(".unknown", "flow hood: unknown")
	if got := value(b, codes[3], "gloves"); got != "no" {
		t.Errorf("bag 4 was scanned without gloves and now has %s", got)
	}
	b.act("act", "about", "batch", batch, "key", "gloves", "about", "2").ok()
	for i, want := range []string{grow.Unknown, grow.Unknown, "no", "no", grow.Unknown} {
		if got := value(b, codes[i], "gloves"); got != want {
			t.Errorf("after about two more, bag %d: gloves %s, want %s", i+1, got, want)
		}
	}
	if note := b.bag(codes[4]).Batch.Note; note == nil || !strings.Contains(*note, "about 3 bags, not known which") {
		t.Errorf("the batch's note is %v", note)
	}
}

// TestBenchCards do it without a touch.
func TestBenchCards(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("3", "")
	cards := map[string]string{}
	list, err := b.store.Cards(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range list {
		cards[c.Does] = string(c.Code)
	}
	b.act("act", "scan", "code", codes[0]).ok()
	b.act("act", "scan", "code", cards["flow_hood off"]).ok().says(".says", "HOOD OFF: 0 bags")
	b.act("act", "scan", "code", cards["last bag too"]).ok().says(".says", "HOOD OFF: 1 bag")
	b.act("act", "scan", "code", codes[1]).ok().says(".says", "HOOD OFF: 2 bags")
	b.act("act", "scan", "code", cards["undo"]).ok().says(".says", "HOOD OFF: 1 bag")
	b.act("act", "scan", "code", cards["flow_hood on"]).ok().has(0, ".says")
	p := b.open("/C/" + cards["flow_hood off"]).ok()
	b.filled(p, "main form").ok().says(".says", "HOOD OFF")
	b.act("act", "scan", "code", cards["done"]).ok().has(0, ".says")
	if value(b, codes[0], "flow_hood") != "off" || b.bag(codes[1]).MarkedAt != nil {
		t.Error("the cards did something else")
	}
}

func TestBenchPhoto(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("2", "")
	b.act("act", "scan", "code", codes[0]).ok()
	picture, _, _ := drawnShelf(t, 8, "http://192.168.1.20:8080/B/"+codes[1], "https://elsewhere.example/")
	p := b.upload("/bench/photo", picture).ok().says("main", "On the photo")
	b.filled(p, "form:has(button[aria-label^='Mark '])").ok().says(".marked-last", "KING #2")
	b.upload("/bench/photo", jpegOf(t, 60, 60)).want(http.StatusBadRequest)
}

// TestSweep: one answer, bag after bag, and the missing by name.
func TestSweep(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, codes := b.kings("4", `,"place":"room 2"`)
	for _, code := range codes {
		b.saw(code, `"kind":"marked"`)
	}
	b.saw(codes[3], `"kind":"cull"`)
	p := b.filled(b.open("/sweep?batch="+batch).ok().has(1, "option[selected][value='"+batch+"']"), "main form", "answer", "turned").ok()
	p.says(".far", "0 of 3 seen").says("main", "Not yet:").says("main .lines", "KING #1, KING #2, KING #3").says("main .lines .hint", "room 2")
	for i, code := range codes[:2] {
		p = b.filled(p, "main form:has(#code)", "code", code).ok()
		p.says(".marked-last", "KING #"+string(rune('1'+i)))
	}
	p.says(".far", "2 of 3 seen").says("main .lines", "KING #3")
	b.filled(p, "main form:has(#code)", "code", codes[0]).ok().says(".far", "2 of 3 seen").says(".note", "KING #1 has been seen already; it counts once.")
	if bag := b.bag(codes[0]); len(bag.Entries) != 2 || !bag.Status.Turned {
		t.Errorf("entries %v", kinds(bag))
	}
	p = b.filled(p, "form:has([value=undo])").ok().says(".far", "1 of 3 seen")
	b.filled(p, "main form:has(#code)", "code", "nonsense").want(http.StatusBadRequest)
	b.open("/sweep").ok().says(".far", "1 of 3 seen") // a reload loses nothing
	b.filled(b.open("/sweep"), "form:has([value=done])").ok().says("h1", "Sweep")
	place, _ := b.store.Places(t.Context())
	p = b.filled(b.open("/sweep").ok(), "main form:has([name=answer])", "answer", "move", "place", "room 7", "at", string(place[0].Code)).ok().says("[data-count]", "0 of 3 moved")
	b.filled(p, "main form:has(#code)", "code", codes[1]).ok().says("[data-count]", "1 of 3 moved")
	if got := b.bag(codes[1]).Place; got == nil || *got != "room 7" {
		t.Errorf("the bag stands at %v", got)
	}
}

// TestScanPage opens what is typed, finds what is like it, and reads photos.
func TestScanPage(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, codes := b.kings("2", `,"place":"room 2"`)
	places, _ := b.store.Places(t.Context())
	for typed, want := range map[string]string{
		codes[0]: "/B/" + codes[0], strings.ToLower(codes[0][:4]) + " " + codes[0][4:]: "/B/" + codes[0], "HTTP://OLD:1/B/" + codes[1]: "/B/" + codes[1],
		"httpö--10.0.0.2Ö8080-B-" + codes[1]: "/B/" + codes[1], string(places[0].Code): "/S/" + string(places[0].Code),
	} {
		if got := b.open("/scan?code=" + url.QueryEscape(typed)); got.status != http.StatusSeeOther || got.led() != want {
			t.Errorf("%q: %d", typed, got.status)
		}
	}
	b.open("/scan?code="+batch).ok().has(2, ".hits li").says(".hits", "KING #1")
	b.open("/scan?code=king").ok().has(2, ".hits li")
	p := b.open("/scan?code=zz")
	p.want(http.StatusBadRequest)
	p.has(1, "[role=alert]").has(1, "#code[value=zz]")
	picture, _, _ := drawnShelf(t, 8, "http://192.168.1.20:8080/B/"+codes[1], "HTTP://X/S/"+string(places[0].Code), "https://elsewhere.example/")
	p = b.upload("/scan", picture).ok().says("main", "3 labels on the photo")
	p.has(1, "a[href='/B/"+codes[1]+"']").has(1, "a[href='/S/"+string(places[0].Code)+"']").says("main", "Something else")
	checkMarkup(t, p)
	b.upload("/scan", jpegOf(t, 60, 60)).ok().says("main", "No label found on the photo")
	b.upload("/scan", []byte("no picture")).want(http.StatusUnsupportedMediaType)
}

// TestControlAtAnEmptyBench: the control bag scanned before any bag stays closed; an ordinary
// sterile bag asks first which batch is being made.
func TestControlAtAnEmptyBench(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.post("/api/v1/runs", `{"name":"R-31","method":"pressure"}`).want(201)
	control := b.post("/api/v1/runs/R-31/sterile-bags", `{"count":1,"control":true}`).want(201).at("bags", 0, "code").(string)
	bag := b.post("/api/v1/runs/R-31/sterile-bags", `{"count":1}`).want(201).at("bags", 0, "code").(string)
	for code, want := range map[string]string{control: "it stays closed and is never inoculated", bag: "say first which batch is being made"} {
		p := b.submit("/bench", url.Values{"act": {"scan"}, "code": {code}})
		p.want(http.StatusConflict)
		p.says("[role=alert]", want)
	}
}

// TestUndoGivesASterileBagBack: a sterile bag scanned at the bench by mistake is taken back: it
// waits again and counts nowhere; scanned again it is the same number.
// A bag of which more was said stays, and the page says so.
func TestUndoGivesASterileBagBack(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, codes := b.kings("2", "")
	b.post("/api/v1/runs", `{"name":"R-31","method":"pressure"}`).want(201)
	bag := b.post("/api/v1/runs/R-31/sterile-bags", `{"count":1,"recipe":"oak"}`).want(201).at("bags", 0, "code").(string)
	b.act("act", "scan", "code", codes[0]).ok()
	b.act("act", "switch", "key", "flow_hood", "value", "off").ok()
	for range 2 {
		b.clock.move(time.Minute)
		b.act("act", "scan", "code", bag).ok().says(".did", "KING #3").says("main", "2 of 3 marked")
		b.clock.move(time.Minute)
		b.act("act", "undo").ok().says(".did", "KING #1").says("main", "1 of 2 marked").has(0, "[role=alert]")
		got := b.get("/api/v1/batches/" + batch).want(200)
		if got.at("batch", "bags") != 2. {
			t.Fatalf("the batch keeps something: %s", got.body)
		}
		if state := b.get("/api/v1/sterile-bags/"+bag).want(200).at("bag", "state"); state != "waiting" {
			t.Fatalf("the sterile bag is %v", state)
		}
	}
	b.open("/B/"+bag).ok().says("h1", "Sterile bag").says("#log", "Scanned at the bench by mistake as "+batch+" #3, and given back.")
	for path, want := range map[string]string{"/yield": "2 bags made", "/contamination": "", "/batches/" + batch: batch, "/": ""} {
		p := b.open(path).ok().says("main", want)
		if text := p.Find("main").Text(); strings.Contains(text, "#3") || strings.Contains(text, "2000") || strings.Contains(text, "mistake") {
			t.Errorf("%s shows the bag that never was", path)
		}
	}
	var csv bytes.Buffer
	if err := b.store.ExportBags(t.Context(), &csv); err != nil || strings.Count(csv.String(), "\n") != 3 {
		t.Errorf("exported %q: %v", csv.String(), err)
	}
	report, err := store.Check(t.Context(), b.dir)
	if err != nil || len(report.Problems) > 0 {
		t.Errorf("check found %v: %v", report, err)
	}
	b.clock.move(time.Minute)
	b.act("act", "scan", "code", bag).ok().says(".did", "KING #3")
	b.saw(bag, `"kind":"look"`)
	b.act("act", "undo").ok().says("[role=alert]", "stays in the batch").says("main", "2 of 3 marked")
}
