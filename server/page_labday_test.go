package server

import (
	"net/http"
	"strings"
	"testing"
)

// TestLabDayOfSterileBags: what waits is offered in each row, needs no count, and
// keeps its labels; another run in the head is said at the row.
func TestLabDayOfSterileBags(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.open("/lab-day").ok().has(0, `select[name="batches[0].sterile"]`)
	run := b.post("/api/v1/runs", `{"name":"44"}`).want(201).at("run", "code").(string)
	code := b.post("/api/v1/runs/44/sterile-bags", `{"count":3}`).want(201).at("bags", 1, "code").(string)
	row := []string{"batches[0].species", "pleurotus-eryngii", "batches[0].bags", "", "batches[0].sterile", run}
	p := b.open("/lab-day").ok().says(`select[name="batches[7].sterile"]`, "run 44: 3 left, filled today")
	checkMarkup(t, p)
	bad := b.fill(p, "form[action='/lab-day']", append(row, "steriliser_run", "45")...)
	bad.want(http.StatusBadRequest)
	bad.says("#f-batches-0--sterile-error", "steamed in run 44").has(1, `select[name="batches[0].sterile"] option[selected][value="`+run+`"]`)
	b.fill(b.open("/lab-day").ok(), "form[action='/lab-day']", append(row, "steriliser_run", "")...).led()
	made := b.batches()[0]
	if made.Bags != 3 || made.SteriliserRun == nil || *made.SteriliserRun != "44" {
		t.Errorf("made %d bags of run %v", made.Bags, made.SteriliserRun)
	}
	if got := b.get("/api/v1/bags/"+code).at("batch", "code"); got != string(made.Code) {
		t.Errorf("the sterile bag %s is of batch %v", code, got)
	}
}

// TestLabDayNamedAfterItsDay: the offered name follows a backdated day, a name of
// one's own does not.
func TestLabDayNamedAfterItsDay(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	for _, test := range []struct{ name, want string }{{"", "Lab+Fri+20+Nov+2026"}, {"the long one", "the+long+one"}} {
		filled := []string{"batches[0].species", "pleurotus-eryngii", "batches[0].bags", "1", "inoculated_at", "2026-11-20T10:00"}
		if test.name != "" {
			filled = append(filled, "lab_day", test.name)
		}
		if led := b.fill(b.open("/lab-day").ok(), "form[action='/lab-day']", filled...).led(); !strings.HasSuffix(led, "lab_day="+test.want) {
			t.Errorf("leads to %s, want %s", led, test.want)
		}
	}
}

// TestDidYouMean: a run, strain or place that a lab day brought in and that is near
// a known one is asked about, and corrected with one tap; a next number is not.
func TestDidYouMean(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	first := []string{"batches[0].species", "pleurotus-eryngii", "batches[0].bags", "2", "batches[0].strain", "black pearl", "batches[0].spawn_lot", "S-31", "steriliser_run", "R-1", "place", "room 2 > rack 3", "recipe", "oak"}
	b.open(b.fill(b.open("/lab-day").ok(), "form[action='/lab-day']", first...).led()).ok().has(0, "form[action$='/meant']")
	b.days(1)
	b.post("/api/v1/places", `{"name":"room 3"}`)
	second := []string{"batches[0].species", "pleurotus-eryngii", "batches[0].bags", "2", "batches[0].strain", "black perl", "batches[0].spawn_lot", "S-32", "steriliser_run", "R1", "place", "room2 > rack 3", "recipe", "oak"}
	led := b.fill(b.open("/lab-day").ok(), "form[action='/lab-day']", second...).led()
	p := b.open(led).ok().has(3, "form[action$='/meant']").says("main", "R1 is new, as steriliser run of").says("main", "Did you mean R-1?")
	checkMarkup(t, p)
	for range 3 {
		led = b.fill(b.open(led).ok(), "form[action$='/meant']").led()
	}
	b.open(led).ok().has(0, "form[action$='/meant']")
	got := b.batches()[0]
	if *got.SteriliserRun != "R-1" || *got.Strain != "black pearl" || *got.Place != "room 2 > rack 3" || *got.SpawnLot != "S-32" {
		t.Errorf("corrected to run %s, strain %s, place %s, lot %s", *got.SteriliserRun, *got.Strain, *got.Place, *got.SpawnLot)
	}
	b.submit("/batches/"+string(got.Code)+"/meant", map[string][]string{"field": {"species"}, "name": {"x"}}).want(http.StatusBadRequest)
}

// TestSpawnOfAnotherSpecies is said after the lab day, and does not stop it.
func TestSpawnOfAnotherSpecies(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.post("/api/v1/lots", `{"kind":"spawn","name":"S-31","species":"hericium-erinaceus"}`).want(201)
	row := []string{"batches[0].species", "pleurotus-eryngii", "batches[0].bags", "2", "batches[0].spawn_lot", "S-31"}
	p := b.open(b.fill(b.open("/lab-day").ok(), "form[action='/lab-day']", row...).led()).ok()
	p.says(".note", "S-31 is spawn of lion's mane").has(0, "form[action$='/meant']")
	checkMarkup(t, p)
}
