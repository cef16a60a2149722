package server

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"
)

func (h *house) batches() []store.Batch {
	h.t.Helper()
	page, err := h.store.Batches(h.t.Context(), store.BatchFilter{})
	if err != nil {
		h.t.Fatal(err)
	}
	return page.Batches
}

// TestLabDay makes two species in one go, the second time like the last one.
func TestLabDay(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	p := b.open("/lab-day").ok()
	p.has(1, "select[name='conditions.flow_hood'] option[value=on][selected]").has(labDayRows, "fieldset[data-row]")
	filled := []string{"steriliser_run", "run 88", "recipe", "oak", "operator", "Ines", "place", "room 2>rack 3",
		"batches[0].species", "pleurotus-eryngii", "batches[0].bags", "18", "batches[0].strain", "black pearl", "batches[0].bag_conditions[0].bags", "7-11", "batches[0].bag_conditions[0].conditions", "flow_hood=off",
		"batches[2].species", "hericium-erinaceus", "batches[2].bags", "6", "batches[2].spawn_lot", "rye 31", "batches[2].bag_conditions[0].bags", "about 2", "batches[2].bag_conditions[0].conditions", "shaken=no"}
	action, v := p.form("form[action='/lab-day']", filled...)
	led := b.submit(action, v).led()
	if !strings.HasPrefix(led, "/print?made=1&lab_day=Lab+Wed+25+Nov+2026") {
		t.Errorf("leads to %s", led)
	}
	if again := b.submit(action, v).led(); again != led || len(b.batches()) != 2 {
		t.Errorf("the same form again: %s, %d batches", again, len(b.batches()))
	}
	b.open(led).ok().says("main", "Now print, then go to the bench").has(1, "form[action='/api/v1/labels.pdf'] input[name=lab_day]")
	king, lion := b.batches()[1], b.batches()[0]
	if king.Species != "pleurotus-eryngii" {
		king, lion = lion, king
	}
	if king.Bags != 18 || *king.Place != "room 2 > rack 3" || *king.SteriliserRun != "run 88" || king.Conditions["gloves"] != "yes" || king.BagConditions[0].Bags != "7-11" {
		t.Errorf("king is %+v", king)
	}
	if lion.Bags != 6 || *lion.SpawnLot != "rye 31" || lion.BagConditions[0].About != 2 || lion.Strain != nil {
		t.Errorf("lion is %+v", lion)
	}
	next := b.open("/lab-day").ok().says("main", "like the last one").has(1, "input[name=recipe][value=oak]").has(1, "input[name=steriliser_run][value='run 88']")
	checkMarkup(t, next)
}

// TestLabDayOfASubstrateLot: a lot of substrate leads to a lab day with it, its
// batches name it and it names them.
func TestLabDayOfASubstrateLot(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	lot := "/L/" + b.post("/api/v1/lots", `{"kind":"substrate","name":"oak 12"}`).want(201).at("lot", "code").(string)
	p := b.open(b.open(lot).ok().has(1, "a[href='/lab-day?substrate_lot=oak%2012']").Find("a[href^='/lab-day?']").AttrOr("href", "")).ok()
	p.has(1, "details[open] input[name=substrate_lot][value='oak 12']")
	b.fill(p, "form[action='/lab-day']", "batches[0].species", "pleurotus-eryngii", "batches[0].bags", "4").led()
	batch := "/batches/" + string(b.batches()[0].Code)
	p = b.open(batch).ok().says("dl", "oak 12").has(1, "a[href='/lots?name=oak%2012']")
	b.open(lot).ok().says("main", "4 bags in 1 batch")
	b.fill(p, "form:has(input[name=substrate_lot])", "substrate_lot", "").led()
	b.open(lot).ok().says("main", "No bag so far")
	b.open(batch).ok().says("main", "substrate lot")
}

// TestLabDayThatCannotBeMade comes back filled, each problem at its own row.
func TestLabDayThatCannotBeMade(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	p := b.fill(b.open("/lab-day").ok(), "form[action='/lab-day']", "batches[0].species", "pleurotus-eryngii", "batches[0].bags", "3",
		"batches[3].species", "hericium-erinaceus", "batches[3].bags", "6", "batches[3].bag_conditions[0].bags", "5-9", "batches[3].bag_conditions[0].conditions", "flow_hood=off")
	p.want(http.StatusBadRequest)
	p.says("#f-batches-3--bag-conditions-0--bags-error", "there is no bag 9").has(1, "input[name='batches[3].bags'][value='6']").has(1, "select[name='batches[3].species'] option[selected][value=hericium-erinaceus]")
	checkMarkup(t, p)
	p = b.fill(b.open("/lab-day").ok(), "form[action='/lab-day']", "batches[1].bags", "x", "inoculated_at", "1999-01-01T10:00")
	p.want(http.StatusBadRequest)
	p.has(1, "select[name='batches[1].species'][aria-invalid=true]").has(1, "select[name='batches[0].species'][aria-invalid=true]")
	p = b.fill(b.open("/lab-day").ok(), "form[action='/lab-day']", "batches[0].species", "pleurotus-eryngii", "batches[0].bags", "4", "inoculated_at", "1999-01-01T10:00")
	p.want(http.StatusBadRequest)
	p.has(1, "input[name=inoculated_at][aria-invalid=true]")
	if len(b.batches()) != 0 {
		t.Error("a refused lab day made batches")
	}
}

func TestOldBags(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	p := b.open("/old-bags").ok()
	bad := b.fill(p, "form[action='/old-bags']", "species", "lentinula-edodes", "bags", "")
	bad.want(http.StatusBadRequest)
	bad.has(1, "#f-bags[aria-invalid=true]").has(1, "#f-made-on[aria-invalid=true]")
	led := b.fill(p, "form[action='/old-bags']", "species", "lentinula-edodes", "bags", "9", "made_on", "2026-10-20", "strain", "3782").led()
	batch := b.batches()[0]
	if led != "/print?made=1&batch="+string(batch.Code) || batch.Bags != 9 || batch.Day != 36 || batch.LabelsLater == nil {
		t.Errorf("leads to %s, made %+v", led, batch)
	}
	if batch.Conditions["flow_hood"] != "" {
		t.Error("what nobody knows was made normal")
	}
	b.open("/").ok().has(0, "main a[href='/due/mark']")
}

// TestBatchOfTheHourTwice: a batch made in the second of the two hours that a
// night has when clocks go back stays there when its form is sent.
func TestBatchOfTheHourTwice(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	for _, made := range []time.Time{time.Date(2026, 10, 25, 0, 30, 0, 0, time.UTC), time.Date(2026, 10, 25, 1, 30, 0, 0, time.UTC)} {
		batch, _, _, err := b.store.CreateBatch(t.Context(), store.Actor{}, grow.BatchDraft{Bags: 1, BatchFields: grow.BatchFields{Species: "pleurotus-eryngii", InoculatedAt: made}})
		if err != nil {
			t.Fatal(err)
		}
		path := "/batches/" + string(batch.Code)
		b.fill(b.open(path).ok(), "form[action='"+path+"']", "note", "seen").led()
		whole, err := b.store.Batch(t.Context(), batch.Code)
		if err != nil || !whole.Batch.InoculatedAt.Equal(made) || len(whole.Changes) != 1 {
			t.Errorf("made at %s, now %s with %d changes: %v", made, whole.Batch.InoculatedAt, len(whole.Changes), err)
		}
	}
}

func TestBatchIsCorrectedByItsForm(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, codes := b.kings("2", `,"recipe":"oak","note":"first"`)
	path := "/batches/" + batch
	b.fill(b.open(path).ok(), "form[action='"+path+"']").led()
	if whole, _ := b.store.Batch(t.Context(), grow.BatchCode(batch)); len(whole.Changes) != 0 {
		t.Errorf("the form as it stands changed %+v", whole.Changes)
	}
	b.fill(b.open(path).ok(), "form[action='"+path+"']", "recipe", "beech", "note", "", "conditions.gloves", "no").led()
	p := b.open(path).ok().says("main", "What was corrected").says("td", "beech")
	whole, err := b.store.Batch(t.Context(), grow.BatchCode(batch))
	if err != nil || *whole.Batch.Recipe != "beech" || whole.Batch.Note != nil || whole.Batch.Conditions["gloves"] != "no" || len(whole.Changes) != 3 {
		t.Errorf("%+v %v", whole, err)
	}
	bad := b.fill(p, "form[action='"+path+"']", "moisture_pct", "162")
	bad.want(http.StatusBadRequest)
	bad.has(1, "details[open] #f-moisture-pct[aria-invalid=true][value='162']")
	blanks, _, err := b.store.CreateBlanks(t.Context(), store.Actor{}, store.LabelsDraft{Count: 3})
	if err != nil {
		t.Fatal(err)
	}
	typed := strings.ToLower(blanks[0].Code.Spaced()) + "\nhttp://X/B/" + string(blanks[1].Code)
	b.fill(p, "form[action='"+path+"/blanks']", "blanks", typed).led()
	if got := b.bag(string(blanks[1].Code)); got.Number != 4 {
		t.Errorf("the second blank is bag %d", got.Number)
	}
	bad = b.fill(b.open(path).ok(), "form[action='"+path+"/blanks']", "blanks", codes[0])
	bad.want(http.StatusBadRequest)
	blank := b.open("/B/"+string(blanks[2].Code)).ok().says("h1", "A blank label")
	b.fill(blank, "main ul form").led()
	if got := b.bag(string(blanks[2].Code)); got.Number != 5 {
		t.Errorf("the third blank is bag %d", got.Number)
	}
}

// TestTwoPeopleCorrectABatch: both have the form open. Other fields go together;
// of the same one both versions are shown, and sent again the last one counts.
func TestTwoPeopleCorrectABatch(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, _ := b.kings("2", `,"recipe":"oak","note":"first","conditions":{"gloves":"no"}`)
	path := "/batches/" + batch
	now := func() store.Batch {
		whole, err := b.store.Batch(t.Context(), grow.BatchCode(batch))
		if err != nil {
			t.Fatal(err)
		}
		return whole.Batch
	}
	form := "form[action='" + path + "']"
	second := b.open(path).ok()
	b.fill(b.open(path).ok(), form, "recipe", "beech", "strain", "K7", "conditions.gloves", "").led()
	b.fill(second, form, "note", "second").led()
	if got := now(); *got.Recipe != "beech" || *got.Strain != "K7" || *got.Note != "second" || got.Conditions["gloves"] != "" {
		t.Errorf("two people's corrections of other fields: %+v", got)
	}
	second = b.open(path).ok()
	b.fill(b.open(path).ok(), form, "recipe", "birch", "note", "").led()
	conflict := b.fill(second, form, "recipe", "hazel", "note", "third", "operator", "Rui")
	conflict.want(http.StatusConflict)
	conflict.has(1, "#f-recipe[aria-invalid=true][value='hazel']").says("#f-recipe-error", `is "birch" by now`).says("#f-note-error", `is empty by now`)
	if got := now(); *got.Recipe != "birch" || got.Note != nil || got.Operator != nil {
		t.Errorf("a conflict kept something: %+v", got)
	}
	b.fill(conflict, form).led()
	if got := now(); *got.Recipe != "hazel" || *got.Note != "third" || *got.Operator != "Rui" {
		t.Errorf("sent again: %+v", got)
	}
}

// TestDueForAll: one tap for all of them, except those unticked.
func TestDueForAll(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("4", `,"place":"room 2"`)
	for _, code := range codes {
		b.saw(code, `"kind":"marked"`)
	}
	b.days(5)
	p := b.open("/due/hunt").ok().says("h2", "room 2").says("form button", "All 4 turned, clean").has(4, "input[name=bag][checked]")
	action, v := p.form("form[action='/due/Hunt']")
	v["bag"] = slices.DeleteFunc(v["bag"], func(s string) bool { return strings.HasPrefix(s, codes[2]) })
	done := b.submit(action, v).ok().says("main", "3 bags logged").says("main", "turned in the hand, clean")
	checkMarkup(t, done)
	if !b.bag(codes[0]).Status.Turned || b.bag(codes[2]).Status.Turned {
		t.Error("the wrong bags were turned")
	}
	b.submit(action, v).ok()
	if n := len(b.bag(codes[0]).Entries); n != 2 {
		t.Errorf("the same form twice made %d entries", n)
	}
	b.fill(done, "form[action='/take-back']").ok().says("h1", "Taken back")
	if b.bag(codes[0]).Status.Turned {
		t.Error("it was not taken back")
	}
	if led := b.submit(action, url.Values{}).led(); led != "/due/hunt" {
		t.Errorf("none ticked leads to %s", led)
	}
	b.submit("/due/out", url.Values{"bag": {codes[0] + " " + id(9)}}).want(http.StatusBadRequest)
}

// TestTodayIsSentences: a mouldy bag on a rack heads them.
func TestTodayIsSentences(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.open("/").ok().has(1, "a[href='/lab-day'].main").has(1, "main a[href='/old-bags']")
	batch, codes := b.kings("5", `,"place":"rack 1"`)
	for _, code := range codes[:4] {
		b.saw(code, `"kind":"marked"`)
	}
	b.days(5)
	b.saw(codes[1], `"kind":"contaminated","what":"green_mould"`)
	p := b.open("/").ok()
	if first := p.Find(".sentences li").First(); !first.HasClass("remove") || first.Find(".verb").Text() != "Out" {
		t.Errorf("today begins with %q", first.Text())
	}
	p.says(".sentences", "Hunt").says("main", "1 of 5 bags, king oyster "+batch)
	b.open("/due/out").ok().has(1, "a[href='/B/"+codes[1]+"/mould']").has(0, "main form").says(".caution", "Do not press or shake it")
}
