package server

import (
	"encoding/csv"
	"slices"
	"strings"
	"testing"

	"bagmark/store"

	"github.com/google/go-cmp/cmp"
)

func (h *house) put(path, body string) *reply {
	h.t.Helper()
	return h.send(h.as(store.Owner, h.request("PUT", path, body)))
}

func TestPlaces(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.kings("1", `,"place":"incubator"`)
	made := h.post("/api/v1/places", `{"name":"room 2 > rack 3"}`).want(201)
	again := h.post("/api/v1/places", `{"name":"Room 2>RACK 3"}`).want(200)
	if diff := cmp.Diff(made.at("place"), again.at("place")); diff != "" {
		t.Errorf("the same name in other letters: %s", diff)
	}
	var names []string
	for _, raw := range h.get("/api/v1/places").want(200).at("places").([]any) {
		p := raw.(map[string]any)
		names = append(names, p["name"].(string))
		if !strings.HasSuffix(p["payload"].(string), "/S/"+p["code"].(string)) {
			t.Errorf("payload %v of %v", p["payload"], p["code"])
		}
	}
	if diff := cmp.Diff([]string{"incubator", "room 2 > rack 3"}, names); diff != "" {
		t.Error(diff)
	}
	for _, body := range []string{`{}`, `{"name":""}`, `{"name":" > "}`, `{"name":"` + strings.Repeat("x", 61) + `"}`} {
		h.post("/api/v1/places", body).refused(400, "invalid", "name")
	}
}

func TestCards(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	var does []string
	for _, raw := range h.get("/api/v1/cards").want(200).at("cards").([]any) {
		c := raw.(map[string]any)
		does = append(does, c["does"].(string))
		if !strings.HasSuffix(c["payload"].(string), "/C/"+c["code"].(string)) {
			t.Errorf("payload %v of %v", c["payload"], c["code"])
		}
	}
	for _, want := range []string{"flow_hood off", "flow_hood on", "undo", "done", "last bag too"} {
		if !slices.Contains(does, want) {
			t.Errorf("no card does %q", want)
		}
	}
}

func TestConditionsAreAddedAndChanged(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	got := h.put("/api/v1/conditions/moon", `{"label":"moon","level":"batch","values":["full","new"],"normal":null,"short":"MOON"}`).want(200)
	if got.at("condition", "key") != "moon" || got.at("condition", "normal") != nil {
		t.Errorf("added: %s", got.body)
	}
	h.put("/api/v1/conditions/moon", `{"key":"moon","label":"the moon","level":"batch","values":["full","new"],"normal":"new","shorts":{"full":"FULL MOON"}}`).want(200)
	found := false
	for _, raw := range h.get("/api/v1/conditions").want(200).at("conditions").([]any) {
		c := raw.(map[string]any)
		found = found || c["key"] == "moon" && c["label"] == "the moon" && c["normal"] == "new"
	}
	if !found {
		t.Error("the condition is not listed as it was changed")
	}
	for _, test := range []struct{ key, body, field string }{
		{"moon", `{"key":"sun","label":"moon","level":"batch","values":["full"]}`, "key"},
		{"strain", `{"label":"strain","level":"batch","values":["a"]}`, "key"},
		{"moon", `{"label":"moon","level":"sky","values":["full"]}`, "level"},
		{"moon", `{"label":"moon","level":"batch","values":[]}`, "values"},
		{"moon", `{"label":"moon","level":"batch","values":["full"],"normal":"new"}`, "normal"},
		{"moon", `{"label":"moon","level":"batch","values":["full"],"short":"FIFTEEN LETTERS"}`, "short"},
	} {
		h.put("/api/v1/conditions/"+test.key, test.body).refused(400, "invalid", test.field)
	}
}

func TestSpeciesGetTheFarmsOwnFigures(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	got := h.put("/api/v1/species/pleurotus-eryngii", `{"spawn_run":{"days":[13,17,25]}}`).want(200)
	if diff := cmp.Diff([]any{13.0, 17.0, 25.0}, got.at("species", "spawn_run", "days")); diff != "" {
		t.Error(diff)
	}
	temp := got.at("species", "spawn_run", "temp_c")
	got = h.put("/api/v1/species/pleurotus-eryngii", `{"strain":"KE-3","ripening_days":[5,9],"spawn_run":{"days":[10,12,14]}}`).want(200)
	if diff := cmp.Diff(temp, got.at("species", "spawn_run", "temp_c")); diff != "" {
		t.Errorf("what was left out changed: %s", diff)
	}
	all := h.get("/api/v1/species").want(200)
	if all.at("strains", 0, "strain") != "KE-3" || all.at("strains", 0, "ripening_days", "high") != 9.0 {
		t.Errorf("strains: %v", all.at("strains"))
	}
	for _, raw := range all.at("species").([]any) {
		if s := raw.(map[string]any); s["slug"] == "pleurotus-eryngii" && !cmp.Equal(s["spawn_run"].(map[string]any)["days"], any([]any{13.0, 17.0, 25.0})) {
			t.Errorf("the species itself: %v", s["spawn_run"])
		}
	}
	h.put("/api/v1/species/pleurotus-eryngii", `{"ripening_days":{"low":5,"high":9}}`).want(200)
	for body, field := range map[string]string{
		`{"spawn_run":{"days":[17,13,25]}}`: "spawn_run.days", `{"spawn_run":{"days":[1,2]}}`: "spawn_run.days", `{"slug":"hericium-erinaceus"}`: "slug",
		`{"short":"toolong"}`: "short", `{"ripening_days":[9]}`: "ripening_days", `{"ready":"soon"}`: "ready", `{"spawn_run":{"hours":1}}`: "spawn_run.hours",
	} {
		h.put("/api/v1/species/pleurotus-eryngii", body).refused(400, "invalid", field)
	}
	h.put("/api/v1/species/our-own", `{"name":"our own"}`).refused(400, "invalid", "spawn_run.days", "short")
	made := h.put("/api/v1/species/our-own", `{"name":"our own","short":"OURS","latin":"Pleurotus inventus","spawn_run":{"days":[10,14,20],"temp_c":[20,22,24]}}`).want(200)
	if made.at("species", "latin") != "Pleurotus inventus" {
		t.Errorf("made: %s", made.body)
	}
	h.put("/api/v1/species/our-own", `{"latin":""}`).refused(400, "invalid", "latin")
}

func TestSettings(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	before := h.get("/api/v1/settings").want(200)
	for field, want := range map[string]any{"time_zone": "Europe/Lisbon", "public": "", "margin": 0.05, "first_look_day": 7.0, "units": "metric"} {
		if got := before.at(field); got != want {
			t.Errorf("%s is %v at first, want %v", field, got, want)
		}
	}
	h.put("/api/v1/settings", string(before.body)).want(200)
	after := h.put("/api/v1/settings", `{"public":"http://farm.local:8080","first_look_day":6}`).want(200)
	if after.at("public") != "http://FARM.LOCAL:8080" || after.at("first_look_day") != 6.0 || after.at("time_zone") != "Europe/Lisbon" {
		t.Errorf("changed: %s", after.body)
	}
	_, bags := h.kings("1", "")
	if got := h.get("/api/v1/bags/" + bags[0]).at("payload"); got != "http://FARM.LOCAL:8080/B/"+bags[0] {
		t.Errorf("payload %v", got)
	}
	for body, field := range map[string]string{
		`{"time_zone":"Moon"}`: "time_zone", `{"public":"farm"}`: "public", `{"margin":1}`: "margin", `{"first_look_day":0}`: "first_look_day", `{"units":"cubits"}`: "units", `{"zone":"UTC"}`: "zone",
	} {
		h.put("/api/v1/settings", body).refused(400, "invalid", field)
	}
}

// TestUnitsInSettings: units alone say the temperature and the weight too; each can
// be said apart, and how pages are written changes no answer of the API.
func TestUnitsInSettings(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	for _, step := range []struct {
		body string
		want [6]string
	}{
		{`{}`, [6]string{"metric", "c", "metric", "a4", "24", "monday"}},
		{`{"units":"imperial"}`, [6]string{"imperial", "f", "imperial", "a4", "24", "monday"}},
		{`{"temperature":"c"}`, [6]string{"imperial", "c", "imperial", "a4", "24", "monday"}},
		{`{"first_look_day":6,"units":null}`, [6]string{"imperial", "c", "imperial", "a4", "24", "monday"}},
		{`{"units":"metric","weight":"imperial"}`, [6]string{"metric", "c", "imperial", "a4", "24", "monday"}},
		{`{"paper":"letter","clock":"12","week_starts":"sunday"}`, [6]string{"metric", "c", "imperial", "letter", "12", "sunday"}},
	} {
		got := h.put("/api/v1/settings", step.body).want(200)
		for i, field := range []string{"units", "temperature", "weight", "paper", "clock", "week_starts"} {
			if got.at(field) != step.want[i] {
				t.Errorf("after %s %s is %v, want %s", step.body, field, got.at(field), step.want[i])
			}
		}
	}
	for body, field := range map[string]string{`{"temperature":"k"}`: "temperature", `{"weight":"stone"}`: "weight", `{"paper":"a5"}`: "paper", `{"clock":"10"}`: "clock", `{"clock":12}`: "clock", `{"week_starts":"friday"}`: "week_starts"} {
		h.put("/api/v1/settings", body).refused(400, "invalid", field)
	}
}

func TestDue(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	_, bags := h.kings("3", "")
	h.post("/api/v1/bags/"+bags[2]+"/entries", `{"id":"`+id(1)+`","kind":"contaminated","what":"green_mould"}`).want(201)
	first := h.get("/api/v1/due?limit=2").want(200)
	if first.at("items", 0, "bag") != bags[2] || first.at("items", 0, "why") != "remove" || first.at("items", 1, "why") != "unmarked" || first.at("next") == nil {
		t.Errorf("first page: %s", first.body)
	}
	want := map[string]any{"remove": 1.0, "again": 0.0, "watch": 0.0, "unmarked": 2.0, "overdue": 0.0, "ready": 0.0, "first_look": 0.0, "check": 0.0}
	if diff := cmp.Diff(want, first.at("counts")); diff != "" {
		t.Error(diff)
	}
	second := h.get("/api/v1/due?limit=2&after=" + first.at("next").(string)).want(200)
	if len(second.at("items").([]any)) != 1 || second.at("next") != nil {
		t.Errorf("second page: %s", second.body)
	}
	h.get("/api/v1/due?after=x").refused(400, "invalid", "after")
	h.get("/api/v1/due?limit=0").refused(400, "invalid", "limit")
}

func TestTraceAndContamination(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	batch, bags := h.kings("6", `,"bag_conditions":[{"bags":"1-3","conditions":{"flow_hood":"off"}},{"bags":"4-6","conditions":{"flow_hood":"on"}}]`)
	h.post("/api/v1/bags/"+bags[0]+"/entries", `{"id":"`+id(1)+`","kind":"contaminated","what":"green_mould"}`).want(201)
	trace := h.get("/api/v1/bags/" + bags[0] + "/trace").want(200)
	now := map[string]any{"bags": 6.0, "contaminated": 1.0, "alive": 6.0}
	if diff := cmp.Diff(now["contaminated"], trace.at("batch_now", "contaminated")); diff != "" || trace.at("conditions", 0, "key") != "flow_hood" || trace.at("bag", "payload") == "" {
		t.Errorf("trace: %s", trace.body)
	}
	var risky []any
	for _, raw := range trace.at("at_risk").([]any) {
		risky = append(risky, raw.(map[string]any)["bag"])
	}
	if !slices.Contains(risky, any(bags[1])) || slices.Contains(risky, any(bags[0])) {
		t.Errorf("at risk: %v", risky)
	}
	table := h.get("/api/v1/contamination?by=flow_hood&batch=" + batch).want(200)
	if table.at("by") != "flow_hood" || table.at("rows", 0, "value") != "off" {
		t.Errorf("contamination: %s", table.body)
	}
	times := h.get("/api/v1/compare?by=flow_hood&event=contaminated&batch=" + strings.ToLower(batch)).want(200)
	if times.at("event") != "contaminated" || times.at("groups") == nil {
		t.Errorf("compare: %s", times.body)
	}
	h.get("/api/v1/compare").refused(400, "invalid", "by", "event")
	h.get("/api/v1/compare?by=flow_hood&event=harvest").refused(400, "invalid", "event")
	h.get("/api/v1/contamination").refused(400, "invalid", "by")
	h.get("/api/v1/contamination?by=moon").refused(400, "invalid", "by")
	h.get("/api/v1/contamination?by=flow_hood&from=x").refused(400, "invalid", "from")
	h.get("/api/v1/contamination?by=flow_hood&batch=NONE-1").refused(404, "not_found")
	h.get("/api/v1/bags/7K3M9QXR/trace").refused(404, "not_found")
}

// TestExports are CSV by RFC 4180.
func TestExports(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.kings("3", "")
	for what, rows := range map[string]int{"batches": 2, "bags": 4, "entries": 1} {
		got := h.get("/api/v1/export/" + what + ".csv").want(200)
		if got.header.Get("Content-Type") != "text/csv; charset=utf-8" || got.header.Get("Content-Disposition") != `attachment; filename="`+what+`-2026-11-25.csv"` {
			t.Errorf("%s: headers %v", what, got.header)
		}
		table, err := csv.NewReader(strings.NewReader(string(got.body))).ReadAll()
		if err != nil || len(table) != rows {
			t.Errorf("%s: %d rows, want %d, %v", what, len(table), rows, err)
		}
	}
	if !strings.Contains(h.log.String(), "msg=export") {
		t.Error("an export is not in the log")
	}
	h.get("/api/v1/export/people.csv").refused(404, "not_found")
}
