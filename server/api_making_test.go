package server

import (
	"fmt"
	"testing"
)

// TestMakingTwiceMakesOnce: labels sent for again under the same id are those
// made before; another body under the id, or the id over another route, is a
// conflict; without an id each sending makes new ones.
func TestMakingTwiceMakesOnce(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.post("/api/v1/lots", `{"kind":"spawn","name":"S-31","jars":1}`).want(201)
	h.post("/api/v1/lots", `{"kind":"spawn","name":"S-32","jars":1}`).want(201)
	h.post("/api/v1/runs", `{"name":"R-1"}`).want(201)
	batch, _ := h.kings("2", ``)
	blanks := h.post("/api/v1/blanks", `{"count":3}`).want(201)
	a, b := blanks.at("bags", 0, "code").(string), blanks.at("bags", 1, "code").(string)
	for i, test := range []struct{ path, body, other, list string }{
		{"/api/v1/lots/S-31/jars", `"count":2`, `"count":3`, "jars"},
		{"/api/v1/runs/R-1/sterile-bags", `"count":2,"recipe":"oak"`, `"count":2`, "bags"},
		{"/api/v1/runs/R-1/sterile-bags", `"control":true`, `"count":1`, "bags"},
		{"/api/v1/blanks", `"count":4`, `"count":5`, "bags"},
		{"/api/v1/batches/" + batch + "/blanks", `"blanks":["` + a + `"]`, `"blanks":["` + b + `"]`, "bags"},
	} {
		own := fmt.Sprintf(`{"id":"%s",`, id(100+i))
		first := h.post(test.path, own+test.body+"}").want(201)
		again := h.post(test.path, own+test.body+"}").want(200)
		if got, want := fmt.Sprint(again.at(test.list)), fmt.Sprint(first.at(test.list)); got != want {
			t.Errorf("%s again gives %s, want %s", test.path, got, want)
		}
		h.post(test.path, own+test.other+"}").refused(409, "conflict")
		h.post(test.path, `{"id":"7",`+test.body+"}").refused(400, "invalid", "id")
	}
	h.post("/api/v1/lots/S-32/jars", `{"id":"`+id(100)+`","count":2}`).refused(409, "conflict")
	h.post("/api/v1/blanks", `{"id":"`+id(100)+`","count":2}`).refused(409, "conflict")
	for range 2 {
		h.post("/api/v1/lots/S-31/jars", `{"count":1}`).want(201)
	}
	if got := h.get("/api/v1/lots/S-31").at("lot", "jars"); got != 5.0 {
		t.Errorf("%v jars, want 1 + 2 + 1 + 1", got)
	}
	if got := h.get("/api/v1/batches/"+batch).at("batch", "bags"); got != 3.0 {
		t.Errorf("the batch has %v bags, want 3", got)
	}
}

// TestFormsTappedTwice sends each form that makes labels twice as it stands, as a
// second tap does.
func TestFormsTappedTwice(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	lot := b.post("/api/v1/lots", `{"kind":"spawn","name":"S-31"}`).want(201).at("lot", "code").(string)
	run := b.post("/api/v1/runs", `{"name":"R-1"}`).want(201).at("run", "code").(string)
	for _, test := range []struct{ page, form string }{
		{"/L/" + lot, `form[action$="/jars"]`},
		{"/L/" + run, `form[action$="/sterile"]:has(input[name=count])`},
		{"/L/" + run, `form[action$="/sterile"]:has(input[name=control])`},
		{"/print", `form[action="/print/blanks"]`},
	} {
		p := b.open(test.page).ok()
		var typed []string
		if p.Find(test.form+" input[name=count]").Length() > 0 {
			typed = []string{"count", "3"}
		}
		if one, two := b.fill(p, test.form, typed...).led(), b.fill(p, test.form, typed...).led(); one != two {
			t.Errorf("%s of %s tapped twice leads to %s, then %s", test.form, test.page, one, two)
		}
	}
	if got := b.get("/api/v1/lots/S-31").at("lot", "jars"); got != 3.0 {
		t.Errorf("%v jars, want 3", got)
	}
}
