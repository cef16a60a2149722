package server

import (
	"encoding/json"
	"net/url"
	"os"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// TestPagesFitAPhone: no page is wider than the screen, also with letters twice
// as large, in both themes; a finger's targets are large enough.
func TestPagesFitAPhone(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	for _, path := range p.somePages() {
		p.goTo(path)
		for _, size := range []string{"100%", "200%"} {
			wide := p.evaluate(`document.documentElement.style.fontSize = "` + size + `"; document.documentElement.scrollWidth > innerWidth ? [...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > innerWidth + 1).map((e) => e.tagName + "." + e.className).slice(0, 3).join(" ") || "wide" : ""`)
			if wide != "" {
				t.Errorf("%s at %s is wider than the screen: %s", path, size, wide)
			}
		}
	}
}

// somePages are the pages that differ in kind.
func (p *phone) somePages() []string {
	batch, codes := p.kings("6", `,"lab_day":"Lab one","place":"room 2 > rack 3","bag_conditions":[{"bags":"2-4","conditions":{"flow_hood":"off","shaken":"no"}}]`)
	for _, code := range codes[:5] {
		p.saw(code, `"kind":"marked","bench":true`)
	}
	p.days(6)
	p.saw(codes[1], `"kind":"contaminated","what":"green_mould"`)
	p.saw(codes[2], `"kind":"colonised","pct":100`)
	p.saw(codes[3], `"kind":"sign","sign":"pins"`)
	p.act("act", "switch", "key", "flow_hood", "value", "off")
	lot, jar, run, control := p.upstreamOf(codes)
	room := p.rackOf(codes[0])
	p.submit("/sweep", url.Values{"act": {"begin"}, "answer": {"move"}, "place": {"room 2 > rack 3"}, "batch": {batch}})
	p.sees(codes[4])
	return []string{lot, jar, lot + "/recall", "/lots", "/runs", run, control, "/", "/due/hunt", "/B/" + codes[0], "/B/" + codes[1], "/B/" + codes[1] + "/mould", "/B/" + codes[1] + "/trace", "/B/" + codes[2] + "/wrong-label", "/B/" + codes[0] + "/air",
		"/rooms", room, room + "/list", room + "/air", room + "/logger", "/fruiting", "/harvest", "/harvest?code=" + codes[3], "/yield?by=flow_hood", "/week-ahead", "/week-ahead?kg=8&species=pleurotus-eryngii&week=2026-12-28", "/sold", "/batches/" + batch + "/recall", "/substrate?wet0=800&moisture0=8&target_pct=62&bag_wet_g=500&spawn_pct=9",
		"/batches", "/batches/" + batch, "/lab-day", "/old-bags", "/import", "/contamination?by=flow_hood", "/compare?by=flow_hood&event=colonised", "/pair-of-bags", "/batches/" + batch + "/report", "/trials", "/calendar", "/scan", "/bench", "/sweep", "/sweep?answer=clean", "/print", "/print?lab_day=Lab+one", "/people", "/pair", "/settings",
		"/conditions", "/species", "/species/pleurotus-eryngii", "/sheets", "/cautions", "/about", "/first", "/B/" + codes[0] + "#words"}
}

// upstreamOf puts a lot with jars, a short run and its mouldy control on record,
// and gives the pages of a lot, a jar, a run and the control.
func (p *phone) upstreamOf(codes []string) (lot, jar, run, control string) {
	made := p.post("/api/v1/lots", `{"kind":"spawn","name":"S-31","made_from":["C-7"],"made_on":"2026-11-10","jars":3}`).want(201)
	jar = made.at("jars", 0, "code").(string)
	p.saw(codes[0], `"kind":"condition","key":"spawn_jar","value":"`+jar+`"`)
	ran := p.post("/api/v1/runs", `{"name":"R-31","method":"pressure","started_at":"2026-11-22T04:00:00Z","gauge_kpa":103.4,"load":[{"position":"door","bags":12}]}`).want(201)
	r := p.request("POST", "/api/v1/runs/R-31/readings", loggedRun(4))
	r.Header.Set("Content-Type", "text/csv")
	p.send(r).want(201)
	control = p.post("/api/v1/runs/R-31/sterile-bags", `{"control":true}`).want(201).at("bags", 0, "code").(string)
	p.post("/api/v1/sterile-bags/"+control+"/entries", `{"id":"`+id(900)+`","kind":"contaminated","what":"green_mould"}`).want(201)
	return "/L/" + made.at("lot", "code").(string), "/L/" + jar, "/L/" + ran.at("run", "code").(string), "/B/" + control
}

// rackOf is the page of the place that a bag stands at.
func (p *phone) rackOf(code string) string {
	p.t.Helper()
	place := p.bag(code).Place
	rooms, err := p.store.Rooms(p.t.Context())
	if err != nil {
		p.t.Fatal(err)
	}
	for _, r := range rooms {
		if place != nil && r.Name == *place {
			return "/S/" + string(r.Code)
		}
	}
	p.t.Fatalf("no page for the place of %s", code)
	return ""
}

// TestAxe runs axe-core, a published checker of the WCAG rules, over the pages
// in both themes; BAGMARK_AXE names its file.
func TestAxe(t *testing.T) {
	t.Parallel()
	file := os.Getenv("BAGMARK_AXE")
	if file == "" {
		t.Skip("skipped: BAGMARK_AXE does not name axe.min.js")
	}
	axe, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	p := newPhone(t)
	for _, path := range p.somePages() {
		for _, theme := range []string{"light", "dark"} {
			media := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}}}
			if _, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, media); err != nil {
				t.Fatal(err)
			}
			p.goTo(path)
			p.evaluate(string(axe) + `; ""`)
			found := p.evaluate(`axe.run({ runOnly: ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "wcag2aaa"] }).then((r) => JSON.stringify(r.violations.map((v) => v.id + ": " + v.nodes.map((n) => n.target.join(" ")).slice(0, 4).join(" | "))))`)
			var violations []string
			if err := json.Unmarshal([]byte(found), &violations); err != nil {
				t.Fatal(err)
			}
			for _, v := range violations {
				t.Errorf("%s, %s: %s", path, theme, v)
			}
		}
	}
}
