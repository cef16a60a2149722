package server

import (
	"net/http"
	"strings"
	"testing"

	"bagmark/store"
)

// A trial is begun, looked at early, and answered once.
func TestTrialPages(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	start := b.open("/trials").ok().has(1, "details[open]")
	path := b.fill(start, `form[action="/trials"]`, "question", "Does the hood <b>matter</b>?", "pair", "flow_hood=off=on", "species", "pleurotus-eryngii", "each", "6", "day", "28").led()
	p := b.open(path).ok()
	checkMarkup(t, p)
	p.says(".tag", "Does the hood <b>matter</b>?").says(".lead", "Day 0 of 28. The answer comes on Wed 23 Dec 2026").has(2, ".figures dt").says(".figures", "flow hood off")
	// The same form again is the same trial, not another.
	if again := b.fill(start, `form[action="/trials"]`, "question", "Does the hood <b>matter</b>?", "pair", "flow_hood=off=on", "species", "pleurotus-eryngii", "each", "6", "day", "28").led(); again != path {
		t.Errorf("sent twice it leads to %s and %s", path, again)
	}
	code := strings.TrimPrefix(path, "/trials/")
	b.open("/batches/"+code).ok().has(12, ".grid .cell")
	whole := b.get("/api/v1/batches/" + code).want(200)
	b.days(9)
	bad := 0
	for i := range 12 {
		bag := whole.at("bags", i, "code").(string)
		if hood := *b.bag(bag).Conditions[conditionAt(b.bag(bag), "flow_hood")].Value; hood == "off" && bad < 5 {
			b.saw(bag, `"kind":"contaminated","what":"green_mould"`)
			bad++
		} else {
			b.saw(bag, `"kind":"look"`)
		}
	}
	early := b.fill(b.open(path).ok(), `form[action$="/look"]`).ok()
	early.says(".note", "An early look, no answer").says(".note", "Looked at early 1 time").has(0, "h2:contains('The answer')")
	if got := b.submit(path+"/answer", nil); got.status != http.StatusConflict || !strings.Contains(got.Find("[role=alert]").Text(), "not before") {
		t.Errorf("answered early: %d", got.status)
	}
	b.days(20)
	for i := range 12 {
		b.saw(whole.at("bags", i, "code").(string), `"kind":"look"`)
	}
	b.open("/trials").ok().says(".hit", "its answer is due")
	b.fill(b.open(path).ok().has(0, `form[action$="/look"]`), `form[action$="/answer"]`).led()
	b.open(path).ok().says("main", "5 of 6 against 0 of 6").says("main", "looked at early 1 time").has(0, "main form[method=post]")
	b.open("/trials").ok().says(".hit", "answered")
	if got := b.submit(path+"/look", nil); got.status != http.StatusConflict {
		t.Errorf("looked at early after the answer: %d", got.status)
	}
}

func conditionAt(b store.Bag, key string) int {
	for i, c := range b.Conditions {
		if c.Key == key {
			return i
		}
	}
	return -1
}

func TestTrialPageRefuses(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	for name, change := range map[string][]string{
		"question": {"question", ""}, "pair": {"pair", ""}, "each": {"each", "1"}, "day": {"day", "x"},
	} {
		fields := append([]string{"question", "Q", "pair", "flow_hood=off=on", "species", "pleurotus-eryngii"}, change...)
		got := b.fill(b.open("/trials").ok(), `form[action="/trials"]`, fields...)
		got.want(http.StatusBadRequest)
		got.has(1, "#f-"+name+"-error")
	}
	b.open("/trials/NONE-1").want(http.StatusNotFound)
	if got := b.open("/batches").ok(); got.Find("main a[href^='/batches/']").Length() != 0 {
		t.Error("a refused trial left a batch")
	}
}

func TestTrialOfGrowthIsDrawn(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	path := b.fill(b.open("/trials").ok(), `form[action="/trials"]`, "question", "Q", "pair", "shaken=no=yes", "species", "pleurotus-eryngii", "each", "2", "day", "14", "event", "colonised").led()
	whole := b.get("/api/v1/batches/" + strings.TrimPrefix(path, "/trials/")).want(200)
	b.days(14)
	for i := range 4 {
		b.saw(whole.at("bags", i, "code").(string), `"kind":"colonised","pct":100`)
	}
	b.fill(b.open(path).ok(), `form[action$="/answer"]`).led()
	p := b.open(path).ok().has(1, ".chart svg[role=img]").has(2, ".chart .curve")
	checkMarkup(t, p)
}
