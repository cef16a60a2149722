package server

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
)

// logged is a logger's file in the shape of a real vessel's run: come-up, hold,
// cooling, with lines about the device, semicolons, decimal commas, °F and gaps.
// Invented.
func loggedRun(hold int) string {
	var b strings.Builder
	b.WriteString("Device;LX-2\nSerial;00417\n\nDate;Time;Core (°F);Chamber (°F);RH %\n")
	for m := 0; m <= 90+hold+40; m++ {
		core := 68 + 182*float64(m)/90
		switch {
		case m > 90+hold:
			core = 250 - 2.5*float64(m-90-hold)
		case m >= 90:
			core = 250
		}
		cell := strings.ReplaceAll(fmt.Sprintf("%.1f", core), ".", ",")
		if m%45 == 7 {
			cell = "---"
		}
		fmt.Fprintf(&b, "25.11.2026;%02d:%02d;%s;%s;99\n", 4+m/60, m%60, cell, "251,6")
	}
	b.WriteString("end of log\n")
	return b.String()
}

// TestRunsOverTheAPI keeps a run with its load plan, reads a logger's file, sees
// the departure on the batch it made, and makes sterile bags and a control.
func TestRunsOverTheAPI(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	made := h.post("/api/v1/runs", `{"id":"`+id(1)+`","name":"R-31","method":"pressure","started_at":"2026-11-25T04:00:00+00:00","vessel":"the tall one","gauge_kpa":103.4,"load":[{"position":"door","what":"oak","bags":12},{"position":"core"}]}`).want(201)
	code := made.at("run", "code").(string)
	if got := made.at("gauge_c").(float64); got < 120.9 || got > 121 { // saturated steam at 103.4 kPa gauge at sea level, IAPWS-IF97: 120.95 °C
		t.Errorf("the gauge means %v °C", got)
	}
	h.post("/api/v1/runs", `{"id":"`+id(1)+`","name":"R-32"}`).refused(409, "conflict")
	h.post("/api/v1/runs", `{"name":"","method":"fire","load":[{"position":""}],"target_f0":-1}`).refused(400, "invalid", "name", "method", "load[0].position", "target_f0")
	batch, bags := h.kings("2", `,"steriliser_run":"`+code+`"`)
	post := func(file, query string) *reply {
		t.Helper()
		r := h.request("POST", "/api/v1/runs/r-31/readings"+query, file)
		r.Header.Set("Content-Type", "text/csv")
		return h.send(r)
	}
	short := post(loggedRun(4), "").want(201)
	if short.at("run", "short") != true || len(short.at("series").([]any)) != 2 || short.at("series", 1, "spot") != "chamber" {
		t.Errorf("%s", short.body)
	}
	post(loggedRun(4), "").want(200)
	if got := h.get("/api/v1/batches/"+batch).at("batch", "conditions", "run_complete"); got != "short" {
		t.Errorf("the batch's condition is %v", got)
	}
	series := short.at("coldest").(float64)
	h.post(fmt.Sprintf("/api/v1/runs/%s/readings/%.0f/take-back", code, series), "").want(200)
	h.post(fmt.Sprintf("/api/v1/runs/%s/readings/%.0f/take-back", code, series), "").want(200)
	h.post(fmt.Sprintf("/api/v1/runs/%s/readings/%.0f/take-back", code, series+1000), "").refused(404, "not_found")
	long := post(loggedRun(60), "?position=door").want(201)
	if long.at("run", "short") != false || !strings.Contains(long.at("verdict", 0).(string), "in the core at door") {
		t.Errorf("%v %v", long.at("run", "short"), long.at("verdict"))
	}
	if got := h.get("/api/v1/batches/"+batch).at("batch", "conditions").(map[string]any); got["run_complete"] != nil {
		t.Errorf("the batch's condition is %v", got)
	}
	post("nothing;here\n", "").refused(400, "invalid", "file")
	h.post("/api/v1/runs/R-31/readings", `{"spot":"lid","readings":[]}`).refused(400, "invalid", "spot", "readings")
	if got := h.post("/api/v1/runs/R-31/readings", `{"readings":[{"at":"2026-11-25T07:00:00Z","temp_c":101}]}`).want(201); got.at("series", 3, "spot") != "chamber" { // a core must be claimed
		t.Errorf("%s", got.body)
	}
	for _, r := range []string{`"temp_c":null`, `"at":"2026-11-25T07:05:00Z"`} { // no reading is not 0 °C
		h.post("/api/v1/runs/R-31/readings", `{"readings":[{"at":"2026-11-25T07:00:00Z",`+r+`}]}`).refused(400, "invalid", "readings[0].temp_c")
	}
	h.post("/api/v1/runs/R-31/readings", `{"probe":"a\u0000b","position":"x\ny","readings":[{"at":"2026-11-25T07:00:00Z","temp_c":101}]}`).refused(400, "invalid", "probe", "position")
	h.post("/api/v1/runs/R-31/readings", `{"spot":"core","readings":[{"at":"2026-11-25T08:00:00Z","temp_c":121},{"at":"2026-11-25T09:00:00Z","temp_c":121}]}`).want(201)
	if got := h.send(h.request(http.MethodPatch, "/api/v1/runs/R-31", `{"method":"lime"}`)).want(200); got.at("run", "f0") != nil || got.at("series", 0, "lethality") != nil {
		t.Errorf("lime: %s", got.body)
	}
	h.get("/api/v1/runs?limit=1").want(200)
	h.get("/api/v1/runs/none").refused(404, "not_found")

	sterile := h.post("/api/v1/runs/R-31/sterile-bags", `{"count":3,"recipe":"oak","position":"door","filled_on":"2026-11-22"}`).want(201)
	h.post("/api/v1/runs/R-31/sterile-bags", `{"recipe":"\u0007","position":" "}`).refused(400, "invalid", "recipe", "position")
	control := h.post("/api/v1/runs/R-31/sterile-bags", `{"control":true}`).want(201).at("bags", 0, "code").(string)
	h.post("/api/v1/runs/R-31/sterile-bags", `{"control":true}`).refused(409, "conflict")
	one := sterile.at("bags", 0, "code").(string)
	h.get("/api/v1/bags/"+one).refused(404, "not_found")
	h.post("/api/v1/bags/"+one+"/entries", `{"id":"`+id(40)+`","kind":"look"}`).refused(409, "conflict")
	h.post("/api/v1/sterile-bags/"+one+"/entries", `{"id":"`+id(41)+`","kind":"cull","why":"burst"}`).want(201)
	h.post("/api/v1/batches/"+batch+"/blanks", `{"blanks":["`+one+`"]}`).refused(400, "invalid", "blanks[0]")
	h.post("/api/v1/batches/"+batch+"/blanks", `{"blanks":["`+control+`"]}`).refused(400, "invalid", "blanks[0]")
	h.post("/api/v1/batches/"+batch+"/blanks", `{"blanks":["`+sterile.at("bags", 1, "code").(string)+`"]}`).want(201)
	if got := h.get("/api/v1/sterile-bags").want(200); got.at("runs", 0, "left") != 1.0 || got.at("runs", 0, "day") != 3.0 {
		t.Errorf("%s", got.body)
	}
	h.post("/api/v1/sterile-bags/"+control+"/entries", `{"id":"`+id(42)+`","kind":"contaminated","what":"green_mould"}`).want(201)
	h.get("/api/v1/sterile-bags/" + control).want(200)
	if got := h.get("/api/v1/bags/"+bags[0]+"/trace").want(200).at("control", "run"); got != "R-31" {
		t.Errorf("the trace's control is of %v", got)
	}
	if got := h.get("/api/v1/lots/R-31/recall").want(200).at("bags").([]any); len(got) != 3 {
		t.Errorf("recall of the run: %v", got)
	}
	h.post("/api/v1/lots/"+control+"/entries", `{"id":"`+id(43)+`","kind":"note","text":"by the wrong way"}`).refused(404, "not_found")
	if got := h.get("/api/v1/sterile-bags/" + control).want(200).at("entries").([]any); len(got) != 1 {
		t.Errorf("refused, and kept: %v", got)
	}
	h.get("/api/v1/labels.pdf?codes=" + code + "," + control + "," + sterile.at("bags", 2, "code").(string)).want(200)
	for _, table := range []string{"runs", "sterile-bags"} {
		h.get("/api/v1/export/" + table + ".csv").want(200)
	}
}
