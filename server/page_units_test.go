package server

import (
	"flag"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/labels"

	"github.com/PuerkitoBio/goquery"
	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write golden files anew")

// inPounds makes the farm one that writes °F, pounds and ounces, Letter, twelve hours
// and weeks from Sunday.
func (b *browser) inPounds() {
	b.t.Helper()
	b.put("/api/v1/settings", `{"units":"imperial","paper":"letter","clock":"12","week_starts":"sunday"}`).want(200)
}

// Units that a page of such a farm has no place for: degrees Celsius, grams and
// kilograms, and hours without their half of the day.
var otherUnits = regexp.MustCompile(`°C|\d (?:g|kg)\b|\bgrams?\b|\b(?:[01]\d|2[0-3]):[0-5]\d\b`)

// unitsAllowed are times with their half of the day, places that offer both units, and
// what a file may hold.
var unitsAllowed = regexp.MustCompile(`\d{1,2}:\d\d(?::\d\d)? [ap]m|°C °F|°F °C|g and kg oz and lb|°C or °F|14:05 `)

// TestNoPageKeepsToOtherUnits walks through every page of a farm in pounds.
func TestNoPageKeepsToOtherUnits(t *testing.T) {
	t.Parallel()
	b, codes, at := furnished(t)
	b.inPounds()
	b.saw(codes[4], `"kind":"harvest","grams":412.5`)
	for _, p := range append(everyPage(codes, at), struct{ template, path, heading string }{"bag", "/B/" + codes[4], "KING"}) {
		if strings.Contains(p.path, "bag_wet_g=500") { // in grams
			continue
		}
		text := unitsAllowed.ReplaceAllString(shownText(b.open(p.path).ok()), "")
		for _, at := range otherUnits.FindAllStringIndex(text, 3) {
			t.Errorf("%s says %q", p.path, text[max(0, at[0]-40):min(len(text), at[1]+20)])
		}
	}
}

// shownText is what a page says, in one line, a space between elements.
func shownText(p page) string {
	var out []string
	p.Find("main *").Contents().Each(func(_ int, s *goquery.Selection) {
		if goquery.NodeName(s) == "#text" {
			out = append(out, strings.Fields(s.Text())...)
		}
	})
	return strings.Join(out, " ")
}

// TestTypedInPounds: what is typed in ounces, pounds and °F is kept in grams and °C and
// comes back as it was typed. 28.349523125 g an ounce (NIST SP 811, B.8).
func TestTypedInPounds(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.inPounds()
	codes := b.ripe("2")
	weigh := func(code string, fields ...string) page {
		p := b.follow(b.filled(b.open("/harvest").ok(), "#scans", "code", code)).ok()
		return b.follow(b.fill(p, "form:has([name=gross])", fields...)).ok()
	}
	weigh(codes[0], "pounds", "2", "gross", "3.1", "tare", "1.2").says(".did", "2 lb 1.9 oz")
	if got := b.bag(codes[0]).Grams; got != 961.05 { // (35.1 - 1.2) × 28.349523125 = 961.0488
		t.Errorf("kept %v g", got)
	}
	weigh(codes[1], "gross", "35.2").says(".did", "34 oz").says("main", "Today: 2 weighings, 67.9 oz.") // the scale shows no pounds
	b.open("/harvest?code="+codes[0]).ok().has(1, "#f-tare[value='1.2']").says(".tag", "33.9 oz so far")
	b.follow(b.filled(b.open("/harvest").ok(), "#scans", "code", codes[0])).ok()
	bad := b.submit("/harvest", url.Values{"act": {"weigh"}, "id": {id(91)}, "bag": {codes[0]}, "unit": {"oz"}, "gross": {"0.5"}, "tare": {"1.2"}})
	bad.says("[role=alert]", "is less than the tare of 1.2 oz").has(1, "#f-gross[value='0.5']")
	b.open("/B/"+codes[0]).ok().says(".log", "picked 2 lb 1.9 oz, flush 1")
	b.open("/yield").ok().says("main", "4 lb 3.9 oz picked")

	batch := b.open("/batches").ok().Find("b.code").First().Text()
	b.fill(b.open("/batches/"+batch).ok(), "form:has([name=opened])", "bag_wet_g", "5").led()
	b.open("/batches/"+batch).ok().says(".figures", "Bag, wet5 lb").has(1, "#f-bag-wet-g[value='5']")
	if got := b.get("/api/v1/batches/"+batch).want(200).at("batch", "bag_wet_g"); got != 2267.96 {
		t.Errorf("kept %v g", got)
	}
	b.fill(b.open("/batches/"+batch).ok(), "form:has([name=opened])", "note", "one kilogram at the next").led() // the weight comes back untouched
	if got := b.get("/api/v1/batches/"+batch).want(200).at("batch", "bag_wet_g"); got != 2267.96 {
		t.Errorf("untouched, it became %v g", got)
	}
	b.fill(b.open("/species/pleurotus-eryngii").ok(), "main form", "t_low", "68.5", "t_target", "71.6", "t_high", "75").led()
	b.open("/species/pleurotus-eryngii").ok().says("table", "68.5 – 71.6 – 75your farm's own")
}

// TestLateWeightInOunces: the form of a bag's own page, as it comes without its script.
func TestLateWeightInOunces(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.inPounds()
	code := b.ripe("1")[0]
	b.fill(b.open("/B/"+code).ok(), "form:has([name=ounces])", "ounces", "14.3").led()
	b.open("/B/"+code).ok().says(".log", "picked 14.3 oz")
	if got := b.bag(code).Grams; got != 405.4 { // 14.3 × 28.349523125 = 405.398
		t.Errorf("kept %v g", got)
	}
}

// TestLetterFarm: Letter stands first and is the usual sheet, until the farm says
// otherwise; pages print on it.
func TestLetterFarm(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.open("/settings").ok().has(1, "#f-default-sheet option[selected][value='"+usualSheet+"']").has(0, "html[data-paper]")
	b.fill(b.open("/settings").ok(), "form[action='/settings']", "paper", "letter").led()
	p := b.open("/settings").ok().has(1, "#f-default-sheet option[selected][value='"+usualLetterSheet+"']").has(1, "html[data-paper=letter]")
	if first := p.Find("#f-default-sheet option").First().AttrOr("value", ""); !strings.HasPrefix(first, string(grow.Letter)+"-") {
		t.Errorf("the first sheet offered is %s", first)
	}
	if last := p.Find("#f-default-sheet option").Last().AttrOr("value", ""); !strings.HasPrefix(last, string(grow.A4)+"-") {
		t.Errorf("the last sheet offered is %s", last)
	}
	if got := b.get("/api/v1/sheets").want(200).at("sheets", 0, "name"); got != labels.Sheets()[0].Name {
		t.Errorf("the API's list begins with %v", got)
	}
}

// figuresInPounds are temperatures, masses and times as such a farm has them.
var figuresInPounds = regexp.MustCompile(`(?:\d+ lb )?\d[\d.]*(?: to \d[\d.]*)? (?:°F|oz|lb)\b|(?:\w{3} \d+ \w{3} )?\d+:\d\d [ap]m`)

// TestFiguresOfPagesInPounds holds the figures of a furnished farm's pages to what
// somebody worked out beside them.
func TestFiguresOfPagesInPounds(t *testing.T) {
	t.Parallel()
	b, codes, at := furnished(t)
	b.inPounds()
	b.saw(codes[4], `"kind":"harvest","grams":961.05`)
	b.clock.move(time.Minute)
	b.submit("/S/"+at["place"]+"/reading", url.Values{"temp": {"70.3"}, "rh": {"88"}}).led()
	for name, path := range map[string]string{"bag": "/B/" + codes[4], "air": "/S/" + at["place"] + "/air", "report": "/batches/" + at["batch"] + "/report", "substrate": "/substrate?wet0=10&moisture0=8&target_pct=62&bag_wet_g=5&spawn_pct=3", "yield": "/yield"} {
		want, err := os.ReadFile(filepath.Join("testdata", "pounds-"+name+".txt"))
		got := strings.Join(figuresInPounds.FindAllString(shownText(b.open(path).ok()), -1), "\n") + "\n"
		if *update {
			err = os.WriteFile(filepath.Join("testdata", "pounds-"+name+".txt"), []byte(got), 0o644)
			want = []byte(got)
		}
		if diff := cmp.Diff(string(want), got); err != nil || diff != "" {
			t.Errorf("%s: %v (-want +got):\n%s", name, err, diff)
		}
	}
}
