package server

import (
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/PuerkitoBio/goquery"
)

// hooded is a batch of 24 king oysters whose first five were made with the flow
// hood off; so many of these and one other were found mouldy on day 9. All were
// seen on day 30, past the species' range.
func hooded(b *browser, bad int) (batch string, codes []string) {
	b.t.Helper()
	batch, codes = b.kings("24", `,"conditions":{"flow_hood":"on"},"bag_conditions":[{"bags":"1-5","conditions":{"flow_hood":"off"}}],"bag_wet_g":2000,"moisture_pct":60`)
	b.days(6)
	for _, code := range append(append([]string{}, codes[:bad]...), codes[20]) {
		b.saw(code, `"kind":"contaminated","what":"green_mould","where":"seal"`)
	}
	b.days(10)
	for i, code := range codes[bad:20] {
		b.saw(code, `"kind":"colonised","pct":`+strconv.Itoa(60+40*(i%2)))
	}
	b.days(11)
	for _, code := range codes {
		b.saw(code, `"kind":"look"`)
	}
	return batch, codes
}

func TestContaminationPage(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, _ := hooded(b, 4)
	p := b.open("/contamination?by=flow_hood").ok()
	p.says("h1", "Contamination: flow hood").says(".tracing", "Points to flow hood off: 4 of 5 against 1 of 19 in the same batch").has(1, ".tracing.points")
	p.says("table", "4 of 5 contaminated (95 % range").says("table", "1 of 19 contaminated").has(1, `select[name=by] option[value=flow_hood][selected]`)
	p.says("main", "Eight weeks of twenty bags")
	for _, word := range []string{"caused", "proved", "safe"} {
		if strings.Contains(strings.ToLower(p.Find("main").Text()), word) {
			t.Errorf("the page says %q", word)
		}
	}
	b.open("/contamination?by=flow_hood&species=hericium-erinaceus").ok().says(".lead", "Nothing to compare yet")
	b.open("/contamination?by=moon").want(http.StatusBadRequest)
	b.open("/contamination?by=flow_hood&from=x").says("[role=alert]", "date")
	b.open("/batches/"+batch).ok().has(1, `a[href="/batches/`+batch+`/report"]`)
}

// TestTraceKeepsOthersApart holds a bag's own conditions and those of other bags
// under headings of their own, however strongly the latter point.
func TestTraceKeepsOthersApart(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := hooded(b, 4)
	off := b.open("/B/" + codes[0] + "/trace").ok()
	checkMarkup(t, off)
	off.has(1, "article.tracing").says("article.tracing", "flow hood: off").says("article.tracing h2", "this bag").says("article.tracing th", "with flow hood off")
	on := b.open("/B/" + codes[20] + "/trace").ok()
	checkMarkup(t, on)
	on.has(0, "article.tracing").says("main", "Nothing was different about this bag, and nothing that it shares stands out")
	others := on.Find("section:contains('Not this bag: elsewhere on the farm')")
	if got := others.Find("li > details:not([open]) > summary").Text(); got != "flow hood: off" || !strings.Contains(others.Text(), "Points to flow hood off: 4 of 5") {
		t.Errorf("under other bags: %s", others.Text())
	}
}

func TestMadeNearWords(t *testing.T) {
	t.Parallel()
	for steps, want := range map[int]string{1: "made next to it", -1: "made next to it", -2: "made within five bags of it", 5: "made within five bags of it", 6: "made within fifteen minutes of it", -11: "made within fifteen minutes of it"} {
		if got := madeNearWords(steps); got != want {
			t.Errorf("%d places away: %s, want %s", steps, got, want)
		}
	}
}

func TestComparePage(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	hooded(b, 1)
	p := b.open("/compare?by=flow_hood&event=colonised").ok()
	checkMarkup(t, p)
	p.says("h1", "Compare by flow hood").says(".lead", "Flow hood on: 7 of 19 bags grown over so far").has(3, "table tr")
	svg := p.Find(".chart svg[role=img]")
	if svg.Length() != 1 || svg.Find("title").Text() == "" || svg.Find("desc").Text() == "" || svg.Find(".curve").Length() != 2 {
		html, _ := goquery.OuterHtml(svg)
		t.Errorf("the drawing is %s", html)
	}
	if words := p.Find("main").Text(); !regexp.MustCompile(`p [01]\.\d{3}, from exchanging`).MatchString(words) {
		t.Errorf("no p in %q", words)
	}
	// Every line has its name at its end, and no two share their dashes.
	if svg.Find(".dash-0").Length() != 1 || svg.Find(".dash-1").Length() != 1 || svg.Find(".name").Text() != "onoff" {
		t.Errorf("the lines are named %q", svg.Find(".name").Text())
	}
	b.open("/compare?by=flow_hood&event=colonised&batch=none-1").want(http.StatusNotFound)
	b.open("/compare?by=flow_hood").want(http.StatusBadRequest)
}

func TestTwoBagsPage(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := hooded(b, 1)
	b.saw(codes[0], `"kind":"note","text":"not this"`)
	undone := b.bag(codes[0]).Entries[0].ID
	b.saw(codes[0], `"kind":"void","entry":"`+string(undone)+`"`)
	p := b.open("/pair-of-bags?a=" + strings.ToLower(codes[0]) + "&b=" + codes[6]).ok()
	p.says(".lead", "One bag of each: what happened here, not a rule").says("thead, table tr:first-child", "HOOD OFF").says("table", "green mould").says("table", "grown over")
	if strings.Contains(p.Find("table").Text(), "not this") {
		t.Error("what was taken back is shown")
	}
	if days := p.Find("table th[scope=row]").Text(); days != "91930" {
		t.Errorf("the days are %s", days)
	}
	bad := b.open("/pair-of-bags?a=" + codes[0] + "&b=7K3M9QX0")
	bad.want(http.StatusBadRequest)
	bad.has(1, "#f-b-error")
	b.open("/pair-of-bags").ok().has(0, "table")
}

func TestReportPage(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, codes := hooded(b, 4)
	b.saw(codes[10], `"kind":"harvest","grams":400`)
	p := b.open("/batches/" + batch + "/report").ok()
	checkMarkup(t, p)
	p.says(".report", "HOOD OFF bags 1-5").says(".report", "5 mouldy so far").says("caption", "Bags found mouldy").says(".tracing", "Points to flow hood off")
	p.says(".report", "400 g picked from 1 bag: 50 g for each 100 g of dry substrate").says(".report", "Half of 24 bags grown over between day 0 and 19.")
	if got := p.Find("table").First().Find("tr").Length(); got != 6 {
		t.Errorf("%d rows of mouldy bags, want 5 and the heads", got)
	}
	p.says("table tr:nth-child(2)", "19green mould, at the seal")
	b.open("/batches/NONE-1/report").want(http.StatusNotFound)
}

// TestLateListGrownOver: bags that are late are still bare or, by now, grown over; either goes with
// one tap, the commoner one lowest.
func TestLateListGrownOver(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("3", "")
	for _, code := range codes {
		b.saw(code, `"kind":"marked"`)
		b.saw(code, `"kind":"look","seen":"turned"`)
	}
	b.days(45)
	p := b.open("/due/late").ok().says("h1", "Late: 3").says(".stays button:first-child", "All 3 grown over").says(".stays button:last-child", "All 3 still bare")
	b.filled(p, "main form.stack", "answer", "1").ok().says("h1", "grown over")
	for _, code := range codes {
		if got := b.bag(code); got.State != grow.Colonised {
			t.Errorf("%s is %s", code, got.State)
		}
	}
	b.submit("/due/late", url.Values{"answer": {"9"}, "bag": {codes[0] + " " + id(99)}}).want(400)
}
