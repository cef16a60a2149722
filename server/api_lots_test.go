package server

import (
	"net/http"
	"strings"
	"testing"
)

// TestLotsOverTheAPI makes a culture and spawn with jars, corrects it, logs on a
// jar, spawns bags from it and asks where all of it is.
func TestLotsOverTheAPI(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.post("/api/v1/lots", `{"kind":"culture","name":"C-7","species":"pleurotus-eryngii"}`).want(201)
	made := h.post("/api/v1/lots", `{"id":"`+id(1)+`","kind":"spawn","name":"S-31","made_from":["c-7"],"made_on":"2026-11-10","expires_on":"2026-11-20","amount":"3 jars of 1 L","jars":3}`).want(201)
	lot, jar := made.at("lot", "code").(string), made.at("jars", 2, "code").(string)
	if got := made.at("jars", 2, "payload").(string); !strings.HasSuffix(got, "/L/"+jar) {
		t.Errorf("a jar's symbol says %s", got)
	}
	if made.at("lot", "made_from", 0, "name") != "C-7" || made.at("lot", "expired") != true {
		t.Errorf("%s", made.body)
	}
	h.post("/api/v1/lots", `{"id":"`+id(1)+`","kind":"spawn","name":"S-31","made_from":["c-7"],"made_on":"2026-11-10","expires_on":"2026-11-20","amount":"3 jars of 1 L","jars":3}`).want(200)
	h.post("/api/v1/lots", `{"id":"`+id(1)+`","kind":"spawn","name":"S-31"}`).refused(409, "conflict")
	h.post("/api/v1/lots", `{"kind":"jar","name":"","made_from":["a","A"],"jars":-1}`).refused(400, "invalid", "kind", "name", "made_from[1]", "jars")
	h.post("/api/v1/lots", `{"kind":"spawn","name":"S-32","colour":"red"}`).refused(400, "invalid", "colour")

	_, bags := h.kings("4", `,"spawn_lot":"`+lot+`"`)
	for i, bag := range bags[:2] {
		h.post("/api/v1/bags/"+bag+"/entries", `{"id":"`+id(10+i)+`","kind":"condition","key":"spawn_jar","value":"`+strings.ToLower(jar)+`"}`).want(201)
	}
	h.post("/api/v1/bags/"+bags[0]+"/entries", `{"id":"`+id(20)+`","kind":"condition","key":"spawn_jar","value":"`+bags[1]+`"}`).refused(400, "invalid", "value")
	h.post("/api/v1/bags/"+bags[0]+"/entries", `{"id":"`+id(21)+`","kind":"condition","key":"spawn_jar","value":"S-31"}`).refused(400, "invalid", "value")
	if got := h.get("/api/v1/bags/"+bags[0]).at("spawn_jar", "name"); got != "S-31 jar 3" {
		t.Errorf("the bag's spawn is from %v", got)
	}
	kept := h.post("/api/v1/lots/"+jar+"/entries", `{"id":"`+id(30)+`","kind":"contaminated","what":"green_mould"}`).want(201)
	if kept.at("jar", "contaminated", "what") != "green_mould" || kept.at("entry", "code") != jar {
		t.Errorf("%s", kept.body)
	}
	h.post("/api/v1/lots/"+jar+"/entries", `{"id":"`+id(30)+`","kind":"contaminated","what":"green_mould"}`).want(200)
	h.post("/api/v1/lots/"+jar+"/entries", `{"id":"`+id(31)+`","kind":"harvest","grams":10}`).refused(400, "invalid", "kind")
	h.post("/api/v1/lots/"+bags[0]+"/entries", `{"id":"`+id(32)+`","kind":"look"}`).refused(404, "not_found")

	if got := h.get("/api/v1/lots/s-31").want(200); got.at("batches", 0, "bags") != 4.0 || got.at("jar") != nil {
		t.Errorf("%s", got.body)
	}
	if got := h.get("/api/v1/lots/" + jar + "/recall").want(200); len(got.at("bags").([]any)) != 2 {
		t.Errorf("%s", got.body)
	}
	patched := h.send(h.request(http.MethodPatch, "/api/v1/lots/"+lot, `{"expires_on":null,"strain":"black pearl"}`)).want(200)
	if patched.at("lot", "expired") != false || patched.at("lot", "strain") != "black pearl" || patched.at("lot", "amount") != "3 jars of 1 L" {
		t.Errorf("%s", patched.body)
	}
	if got := h.get("/api/v1/lots/" + lot).at("changes").([]any); len(got) != 2 {
		t.Errorf("corrections: %v", got)
	}
	h.send(h.request(http.MethodPatch, "/api/v1/lots/C-7", `{"made_from":["`+jar+`"]}`)).refused(400, "invalid", "made_from[0]")
	if got := h.post("/api/v1/lots/"+lot+"/jars", `{"count":2}`).want(201).at("jars").([]any); len(got) != 2 {
		t.Errorf("more jars: %v", got)
	}
	if got := h.get("/api/v1/lots?kind=spawn&limit=1").want(200); got.at("lots", 0, "jars") != 5.0 {
		t.Errorf("%s", got.body)
	}
	h.get("/api/v1/lots/nobody").refused(404, "not_found")
	h.get("/api/v1/labels.pdf?codes=" + lot + "," + jar).want(200)
	for _, table := range []string{"lots", "stock-entries"} {
		h.get("/api/v1/export/" + table + ".csv").want(200)
	}
}
