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
