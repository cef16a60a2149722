package server

import (
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"

	"bagmark/grow"
	"bagmark/store"

	"github.com/PuerkitoBio/goquery"
)

// furnished is a farm with a bag in every state, signed in to as its owner.
func furnished(t *testing.T) (b *browser, codes []string, address map[string]string) {
	t.Helper()
	b = newTestBrowser(t)
	batch, codes := b.kings("12", `,"lab_day":"Lab one","place":"room 2 > rack 3","spawn_lot":"rye 31","strain":"black pearl","bag_conditions":[{"bags":"2-4","conditions":{"flow_hood":"off"}},{"about":2,"conditions":{"gloves":"no"}}]`)
	for _, code := range codes[:11] {
		b.saw(code, `"kind":"marked","bench":true`)
	}
	b.days(8)
	for code, entry := range map[string]string{
		codes[0]: `"kind":"colonised","pct":40`, codes[1]: `"kind":"contaminated","what":"green_mould","where":"seal"`, codes[2]: `"kind":"colonised","pct":100`,
		codes[3]: `"kind":"isolate"`, codes[4]: `"kind":"fruiting"`, codes[5]: `"kind":"cull","why":"leak"`, codes[6]: `"kind":"finish","why":"sold"`, codes[7]: `"kind":"watch","because":"<b>odd</b>"`,
		codes[8]: `"kind":"sign","sign":"pins"`,
	} {
		b.saw(code, entry)
	}
	b.air("room 2 > rack 3", 7, 26)
	blanks, _, err := b.store.CreateBlanks(t.Context(), store.Actor{}, store.LabelsDraft{Count: 1})
	if err != nil {
		t.Fatal(err)
	}
	places, _ := b.store.Places(t.Context())
	lots, _ := b.store.Lots(t.Context(), store.LotFilter{})
	cards, err := b.store.Cards(t.Context())
	if err != nil || len(places) == 0 || len(lots.Lots) == 0 {
		t.Fatal("no place or lot", err)
	}
	return b, codes, map[string]string{"batch": batch, "blank": string(blanks[0].Code), "place": string(places[0].Code), "lot": string(lots.Lots[0].Code), "card": string(cards[0].Code)}
}

// everyPage are the pages of a furnished farm with their templates and headings.
func everyPage(codes []string, at map[string]string) []struct{ template, path, heading string } {
	return []struct{ template, path, heading string }{
		{"today", "/", "Today"},
		{"due", "/due/out", "Out: 1"},
		{"due", "/due/hunt", "Hunt"},
		{"lab-day", "/lab-day", "New lab day"},
		{"old-bags", "/old-bags", "Bags already on the racks"},
		{"batches", "/batches", "Batches"},
		{"batch", "/batches/" + at["batch"], "KING"},
		{"bag", "/B/" + codes[0], "KING"},
		{"bag", "/B/" + codes[5], "KING"},
		{"mould", "/B/" + codes[1] + "/mould", "KING"},
		{"trace", "/B/" + codes[1] + "/trace", "KING"},
		{"wrong-label", "/B/" + codes[0] + "/wrong-label", "KING"},
		{"bag-air", "/B/" + codes[0] + "/air", "KING"},
		{"blank", "/B/" + at["blank"], "A blank label"},
		{"place", "/S/" + at["place"], "room 2 > rack 3"},
		{"place-list", "/S/" + at["place"] + "/list", "room 2 > rack 3"},
		{"air", "/S/" + at["place"] + "/air", "room 2 > rack 3: air"},
		{"rooms", "/rooms", "Rooms"},
		{"logger", "/S/" + at["place"] + "/logger", "A logger’s file"},
		{"lot", "/L/" + at["lot"], "rye 31"},
		{"lots", "/lots", "Lots"},
		{"runs", "/runs", "Steriliser runs"},
		{"recall", "/L/" + at["lot"] + "/recall", "Recall of rye 31"},
		{"card", "/C/" + at["card"], "Bench card"},
		{"scan", "/scan", "Scan"},
		{"bench", "/bench", "Bench"},
		{"sweep", "/sweep", "Sweep"},
		{"sweep", "/sweep?answer=hold", "On hold, by scan"},
		{"fruiting", "/fruiting", "To fruiting"},
		{"harvest", "/harvest", "Weigh"},
		{"harvest", "/harvest?code=" + codes[4], "KING"},
		{"sold", "/sold", "Sold and given"},
		{"substrate", "/substrate", "Substrate"},
		{"substrate", "/substrate?wet0=800&moisture0=8&target_pct=62&bag_wet_g=500&spawn_pct=3&oven_before=20&oven_after=7.62", "Substrate"},
		{"recall", "/batches/" + at["batch"] + "/recall", "Recall of"},
		{"week-ahead", "/week-ahead", "Week ahead"},
		{"week-ahead", "/week-ahead?kg=8&species=pleurotus-eryngii&week=2026-12-28", "Week ahead"},
		{"yield", "/yield", "Yield by species"},
		{"yield", "/yield?by=flow_hood&measure=efficiency", "Yield by"},
		{"print", "/print", "Print"},
		{"print", "/print?batch=" + at["batch"], "Print"},
		{"sheets", "/sheets", "Label sheets"},
		{"settings", "/settings", "Settings"},
		{"import", "/import", "Bags from a spreadsheet"},
		{"calendar", "/calendar", "Calendar"},
		{"trials", "/trials", "Trials"},
		{"contamination", "/contamination", "Contamination"},
		{"contamination", "/contamination?by=flow_hood", "Contamination: "},
		{"compare", "/compare", "Compare"},
		{"compare", "/compare?by=flow_hood&event=contaminated", "Compare by"},
		{"two-bags", "/pair-of-bags?a=" + codes[0] + "&b=" + codes[1], "Two bags"},
		{"report", "/batches/" + at["batch"] + "/report", "KING"},
		{"conditions", "/conditions", "Conditions"},
		{"species-list", "/species", "Species"},
		{"species", "/species/pleurotus-eryngii", "king oyster"},
		{"people", "/people", "People and phones"},
		{"pair", "/pair", "A phone joins"},
		{"cautions", "/cautions", "Cautions"},
		{"about", "/about", "About"},
		{"first", "/first", "is ready"},
		{"trust", "/trust", "Let a phone trust this farm"},
	}
}

// TestEveryPageIsDrawn opens every page as its owner, each with its own
// template alone, so that every template is executed by some line here, and
// looks at what a screen reader and a policy against inline code need.
func TestEveryPageIsDrawn(t *testing.T) {
	t.Parallel()
	b, codes, at := furnished(t)
	all := b.server.pages.views
	drawn := map[string]bool{"error": true, "run": true, "sterile": true, "done": true, "trial": true, "sign-in": true, "set-up": true, "join": true} // these have tests of their own
	for _, p := range everyPage(codes, at) {
		b.server.pages.views = views{p.template: all[p.template]}
		got := b.open(p.path).ok().says("h1", p.heading)
		checkMarkup(t, got)
		drawn[p.template] = true
	}
	b.server.pages.views = all
	for _, name := range slices.Sorted(maps.Keys(all)) {
		if !drawn[name] {
			t.Errorf("the template %s is drawn by no test", name)
		}
	}
}

// checkMarkup is what every page keeps: a language, one heading of the first
// rank, a title, labels, names, no code or style in the page.
func checkMarkup(t *testing.T, p page) {
	t.Helper()
	p.has(1, "html[lang=en-GB]").has(1, "h1").has(1, "main#main").has(0, "[style], style, script:not([src]), [onclick], [onload]")
	if p.Find("header.top").Length() > 0 {
		p.says(".onlyprint", "2026")
	}
	if strings.TrimSpace(p.Find("title").Text()) == "" {
		t.Errorf("%s: no title", p.what)
	}
	p.Find("input:not([type=hidden]), select, textarea").Each(func(_ int, s *goquery.Selection) {
		id, _ := s.Attr("id")
		if name, _ := s.Attr("aria-label"); name == "" && s.Closest("label").Length() == 0 && (id == "" || p.Find("label[for='"+id+"']").Length() == 0) {
			html, _ := goquery.OuterHtml(s)
			t.Errorf("%s: no label: %s", p.what, html)
		}
	})
	p.Find("button, a").Each(func(_ int, s *goquery.Selection) {
		if name, _ := s.Attr("aria-label"); name == "" && strings.TrimSpace(s.Text()) == "" {
			html, _ := goquery.OuterHtml(s)
			t.Errorf("%s: no name: %s", p.what, html)
		}
	})
	p.Find("img").Each(func(_ int, s *goquery.Selection) {
		if alt, there := s.Attr("alt"); !there || alt == "" {
			t.Errorf("%s: a picture without words", p.what)
		}
	})
	seen := map[string]bool{}
	p.Find("[id]").Each(func(_ int, s *goquery.Selection) {
		id, _ := s.Attr("id")
		if seen[id] {
			t.Errorf("%s: the id %s stands twice", p.what, id)
		}
		seen[id] = true
	})
	if strings.Contains(string(p.body), "&lt;no value") || strings.Contains(string(p.body), "<b>odd</b>") {
		t.Errorf("%s: something unescaped or missing", p.what)
	}
}

// TestEveryLinkLeadsSomewhere follows the links of every page it can reach.
func TestEveryLinkLeadsSomewhere(t *testing.T) {
	t.Parallel()
	b, codes, _ := furnished(t)
	seen, queue := map[string]bool{}, []string{"/", "/B/" + codes[1]}
	for len(queue) > 0 && len(seen) < 150 {
		path := queue[0]
		queue = queue[1:]
		if seen[path] {
			continue
		}
		seen[path] = true
		got := b.open(path)
		if got.status != http.StatusOK && got.status != http.StatusSeeOther {
			t.Errorf("%s: status %d", path, got.status)
		}
		got.Find("a[href]").Each(func(_ int, s *goquery.Selection) {
			href, _ := s.Attr("href")
			href, _, _ = strings.Cut(href, "#")
			if strings.HasPrefix(href, "/") && !strings.HasPrefix(href, "/static/") {
				queue = append(queue, href)
			}
		})
	}
}

func TestAssetsAreKeptForEver(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	p := b.open("/").ok()
	var weight int
	p.Find("link[href], script[src]").Each(func(_ int, s *goquery.Selection) {
		path, _ := s.Attr("href")
		if src, there := s.Attr("src"); there {
			path = src
		}
		got := b.open(path).ok()
		if c := got.header.Get("Cache-Control"); !strings.Contains(c, "immutable") {
			t.Errorf("%s: Cache-Control %q", path, c)
		}
		weight += len(got.body)
	})
	if weight == 0 {
		t.Error("the page has no assets")
	}
	for _, path := range []string{"/static/0123456789abcdef/css/base.css", strings.Replace(p.Find("link[rel=stylesheet]").First().AttrOr("href", ""), "tokens.css", "../embed.go", 1)} {
		if got := b.open(path); got.status != http.StatusNotFound {
			t.Errorf("%s: status %d, want 404", path, got.status)
		}
	}
}

// TestBagPageIsLight: a phone at the edge of the Wi-Fi opens it in a few
// seconds. All it fetches, uncompressed, is at most 60 kB; what a tap needs of
// scripts counts, also out of reach of the farm, what other pages need does not.
func TestBagPageIsLight(t *testing.T) {
	t.Parallel()
	b, codes, _ := furnished(t)
	p := b.open("/B/" + codes[0]).ok()
	weight := len(p.body)
	fetch := func(path string) { weight += len(b.open(path).ok().body) }
	var base string
	p.Find("link[href], script[src]").Each(func(_ int, s *goquery.Selection) {
		path := s.AttrOr("href", s.AttrOr("src", ""))
		base, _, _ = strings.Cut(path, "/css/")
		if !strings.HasSuffix(path, ".png") { // fetched only when the page is put on a home screen
			fetch(path)
		}
	})
	base, _, _ = strings.Cut(p.Find("script[src]").AttrOr("src", ""), "/js/")
	for _, name := range []string{"lib/enhance", "lib/entry", "lib/outbox", "lib/send", "lib/signal", "ui/tap", "ui/waiting", "ui/keys", "ui/next", "ui/photo", "lib/away", "lib/code", "lib/kept"} {
		fetch(base + "/js/" + name + ".js")
	}
	t.Logf("%d bytes", weight)
	if most := 60_000; weight > most {
		t.Errorf("the bag's page weighs %d bytes, at most %d", weight, most)
	}
}

func TestLegendShowsWhatIsThere(t *testing.T) {
	t.Parallel()
	b, _, at := furnished(t)
	p := b.open("/batches/" + at["batch"]).ok()
	p.has(12, ".grid .cell").says(".legend", "on watch").says(".legend", "out").says(".legend", "fruiting").says(".legend", "something was different")
	p.says("main", "1 bag has no label scanned on it yet")
	if got := p.Find(".grid .cell").Eq(1).AttrOr("aria-label", ""); got != "bag 2: mould, growing, HOOD OFF" {
		t.Errorf("cell 2 says %q", got)
	}
	p.Find(".legend li").Each(func(_ int, s *goquery.Selection) {
		if strings.TrimSpace(s.Text()) == "" {
			t.Error("a drawing of the legend has no word")
		}
	})
}

// Every drawing that a bag can have has a symbol in the sprite and a word.
func TestShapesHaveWordsAndDrawings(t *testing.T) {
	t.Parallel()
	b, codes, at := furnished(t)
	bag := b.open("/B/" + codes[0]).ok() // carries only what it draws itself
	bag.Find("use").Each(func(_ int, u *goquery.Selection) {
		if bag.Find("symbol"+u.AttrOr("href", "")).Length() != 1 {
			t.Errorf("the bag's page lacks %s", u.AttrOr("href", ""))
		}
	})
	p := b.open("/batches/" + at["batch"]).ok()
	half := 50.0
	for _, state := range grow.States {
		for _, f := range []bagFacts{{State: state}, {State: state, Ready: true}, {State: state, Ripening: true}, {State: state, Pct: &half}, {State: state, Mouldy: true, Late: true, Watched: true}, {State: state, Late: true, Watched: true}} {
			s := shapeOf(f)
			if s.Word == "" {
				t.Errorf("%+v has no word", f)
			}
			for _, layer := range s.Layers {
				if p.Find("symbol#s-"+layer).Length() != 1 || layerWords[layer] == "" {
					t.Errorf("%s has no drawing or no word", layer)
				}
			}
		}
	}
}

func TestViewersGetNoForms(t *testing.T) {
	t.Parallel()
	b, codes, at := furnished(t)
	for _, path := range []string{"/B/" + codes[0], "/batches/" + at["batch"], "/due/hunt", "/print"} {
		r := b.as(store.Viewer, b.request("GET", path, ""))
		got := b.send(r).want(http.StatusOK)
		doc, err := goquery.NewDocumentFromReader(strings.NewReader(string(got.body)))
		if err != nil {
			t.Fatal(err)
		}
		doc.Find("form[method=post]").Each(func(_ int, s *goquery.Selection) {
			if action := s.AttrOr("action", ""); action != "/theme" && action != "/sign-out" {
				t.Errorf("%s offers a viewer the form %s", path, action)
			}
		})
	}
}
