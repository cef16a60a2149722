package server

import (
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bagmark/grow"
)

// TestSoldByScan: to whom once, then bag after bag; the list, the recall and the
// export know of it. A second scan counts once.
func TestSoldByScan(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, codes := b.kings("4", "")
	b.days(20)
	p := b.open("/sold").ok().says("main", "What leaves the farm whole stands here").says(".caution", "A log of bags is not a food safety system")
	b.follow(b.fill(p, "form[action='/sweep']", "answer", "sold", "to", "Saturday market")).ok().says("h1", "Sold to Saturday market")
	b.sees(codes[0]).ok()
	b.sees(codes[1]).ok()
	b.sees(codes[1]).ok().says(".note", "has been seen already")
	b.submit("/sweep", url.Values{"act": {"begin"}, "answer": {"given"}, "to": {"neighbour"}})
	b.sees(codes[2]).ok()
	b.sees(codes[0]).says("[role=alert]", "This bag is finished")
	if got := b.bag(codes[0]); got.State != grow.Finished || got.Status.EndedWhy != "sold" {
		t.Errorf("%s, %s", got.State, got.Status.EndedWhy)
	}
	b.open("/sold").ok().says("summary", "1 king oyster, given to neighbour").says(".lines", "2 king oyster, sold to Saturday market")
	b.open("/sold").ok().has(1, "#f-to[required]").has(3, "#f-to-list option").has(1, "#f-to-list option[value='at the gate']")
	b.saw(codes[3], `"kind":"harvest","grams":250`)
	b.open("/batches/"+batch+"/recall").ok().says("main", "Picked from these: 250 g, on ").says("main", "Left the farm: sold, to Saturday market: 2 bags").says("main", "Left the farm: given, to neighbour: 1 bag").says("main", "Still here: no place said: 1 bag")
	if to := b.get("/api/v1/batches/"+strings.ToLower(batch)+"/recall").want(200).at("bags", 1, "to"); to != "Saturday market" {
		t.Errorf("the first that left went to %v", to)
	}
	if n := len(b.get("/api/v1/sold?from=2026-12-01").want(200).at("partings").([]any)); n != 2 {
		t.Errorf("%d partings, want 2", n)
	}
	if n := len(b.get("/api/v1/sold?to=2026-12-01").want(200).at("partings").([]any)); n != 0 {
		t.Errorf("%d before any", n)
	}
	b.get("/api/v1/batches/NONE-1/recall").refused(404, "not_found")
}

// TestSoldLongAgo: the page leads to the newest bags only and goes on by pages; the
// API gives each parting once.
func TestSoldLongAgo(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("120", "")
	for i, code := range codes {
		if i%2 == 0 {
			b.days(1)
		}
		b.saw(code, `"kind":"finish","why":"sold","to":"stall `+string(rune('A'+i%2))+`. of the market"`)
	}
	p := b.open("/sold").ok().has(50, ".lines > li").has(50, ".lines a[href^='/B/']").says("summary", "1 king oyster, sold to stall A. of the market")
	next, _ := p.Find("a[href^='/sold?after']").Attr("href")
	b.open(next).ok().has(50, ".lines > li")
	seen, after := map[string]bool{}, ""
	for range 4 {
		page := b.get("/api/v1/sold?limit=40&after=" + url.QueryEscape(after)).want(200)
		for _, p := range page.at("partings").([]any) {
			p := p.(map[string]any)
			seen[p["on"].(string)+p["to"].(string)] = true
		}
		if after, _ = page.at("next").(string); after == "" {
			break
		}
	}
	if len(seen) != 120 || after != "" {
		t.Errorf("%d partings, cursor %q; want 120 and none", len(seen), after)
	}
	_, many := b.kings("120", "")
	for _, code := range many {
		b.saw(code, `"kind":"finish","why":"given"`)
	}
	b.open("/sold").ok().has(50, ".lines > li").has(100, ".lines a[href^='/B/']").says("details", "And 20 more.")
	b.get("/api/v1/sold?after=yesterday").refused(400, "invalid", "after")
}

// TestMouldyBagsStay: a bag that is mouldy is neither sold nor put onto a trolley by
// scan, gets no buyer's label, and the scale says what it is.
func TestMouldyBagsStay(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	codes := b.ripe("2")
	b.saw(codes[0], `"kind":"contaminated","what":"green_mould"`)
	for _, answer := range []string{"sold", "given", "fruiting"} {
		b.submit("/sweep", url.Values{"act": {"begin"}, "answer": {answer}})
		b.sees(codes[0]).says("[role=alert]", "is mouldy, so it stays")
		if got := b.bag(codes[0]).State; got != grow.Colonised {
			t.Errorf("%s: the bag is %s", answer, got)
		}
	}
	b.sees(codes[1]).ok()
	if got := b.bag(codes[1]).State; got != grow.Fruiting {
		t.Errorf("its clean sister is %s", got)
	}
	b.get("/api/v1/buyer-labels.pdf?codes="+codes[0]+","+codes[1]).refused(400, "invalid", "codes")
	b.follow(b.submit("/harvest", url.Values{"act": {"scan"}, "code": {codes[0]}})).ok().says("[role=alert]", "Mould was logged on this bag")
	b.follow(b.submit("/harvest", url.Values{"act": {"scan"}, "code": {codes[1]}})).ok().has(0, "[role=alert]")
}

// TestBuyersLabelTypedWrong: the form comes back with what was typed and what is
// wrong with it at its field.
func TestBuyersLabelTypedWrong(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	for name, typed := range map[string]string{"grams": "much", "copies": "-3", "start": "999999999999", "open_by": "soon", "species": "no-such-mushroom"} {
		v := url.Values{"species": {"pleurotus-djamor"}, "grams": {"400"}, "copies": {"1"}, "start": {"1"}}
		v.Set(name, typed)
		p := b.open("/sold/labels.pdf?" + v.Encode())
		if p.status != 400 || p.Find(".error").Length() != 1 {
			t.Errorf("%s %s: %d with %d messages at fields", name, typed, p.status, p.Find(".error").Length())
		}
		if got, _ := p.Find("[name=" + name + "]:not(select)").Attr("value"); name != "species" && got != typed {
			t.Errorf("%s comes back as %q, typed was %q", name, got, typed)
		}
	}
}

// TestBuyersLabel is read back from the PDF by another program: what it must say
// and what it must not.
func TestBuyersLabel(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("1", `,"bag_wet_g":2500,"bag_conditions":[{"bags":"1","conditions":{"flow_hood":"off"}}]`)
	b.send(b.as("owner", b.request("PUT", "/api/v1/settings", `{"buyer_lines":"Hill farm, Invented Lane 3"}`))).want(200)
	for sheet, path := range map[string]string{
		"a4-3x7-63.5x38.1": "codes=" + codes[0] + "&open_by=2026-12-08",
		"roll-57x32":       "species=pleurotus-djamor&grams=400&open_by=2026-12-08&packed_on=2026-12-01",
	} {
		text := pdfText(t, b.get("/api/v1/buyer-labels.pdf?sheet="+sheet+"&"+path).want(200).body)
		want := []string{"KING OYSTER", "25 NOV", "2.5 kg", "Keep cool, open by 8 Dec 2026.", "If anything green or pink grows in it: keep it shut and put it in the bin.", "Hill farm, Invented Lane 3"}
		if sheet == "roll-57x32" {
			want = []string{"PINK OYSTER", "1 DEC", "400 g", "green or black"}
		}
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s lacks %q: %s", sheet, w, text)
			}
		}
		for _, w := range []string{"HOOD", codes[0], grow.Code(codes[0]).Spaced(), "1/1"} {
			if strings.Contains(text, w) {
				t.Errorf("%s says %q", sheet, w)
			}
		}
	}
	b.get("/api/v1/buyer-labels.pdf").refused(400, "invalid", "species")
	b.get("/api/v1/buyer-labels.pdf?species=boletus").refused(400, "invalid", "species")
	b.get("/api/v1/buyer-labels.pdf?species=pleurotus-eryngii&packed_on=2026-12-08&open_by=2026-12-01").refused(400, "invalid", "open_by")
}

// pdfText is the words of a PDF on one line, by poppler.
func pdfText(t *testing.T, pdf []byte) string {
	t.Helper()
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		if os.Getenv("BAGMARK_REQUIRE_TOOLS") == "1" {
			t.Fatal("no pdftotext, and BAGMARK_REQUIRE_TOOLS=1 asks for it")
		}
		t.Skip("skipped: needs pdftotext (poppler-utils)")
	}
	path := filepath.Join(t.TempDir(), "label.pdf")
	if err := os.WriteFile(path, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, path, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(string(out)), " ")
}
