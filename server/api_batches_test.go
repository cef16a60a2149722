package server

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// whole is a batch with everything that it can be made with.
const whole = `{"id":"3F2B8C1E-0D4A-4C6B-9E55-7A1D2C3B4E5F","species":"pleurotus-eryngii","inoculated_at":"2026-11-22T15:00:00+00:00","bags":12,
	"lab_day":"Sunday","strain":"KE-3","bag_wet_g":2500,"moisture_pct":62,"spawn_lot":"G7","spawn_rate_pct":3,"steriliser_run":"R 14","substrate_lot":"oak 12","recipe":"beech and bran",
	"operator":"Ana","place":"room 2 > rack 3","conditions":{"flow_hood":"on"},"bag_conditions":[{"bags":"7-11","conditions":{"flow_hood":"off"}}],
	"labels_later":"2026-12-01","note":"second try"}`

func TestBatchIsMadeWithWhatItWasSent(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	made := h.post("/api/v1/batches", whole).want(http.StatusCreated)
	want := map[string]any{
		"id": "3f2b8c1e-0d4a-4c6b-9e55-7a1d2c3b4e5f", "species": "pleurotus-eryngii", "species_name": "king oyster", "bags": 12.0, "lab_day": "Sunday", "strain": "KE-3",
		"bag_wet_g": 2500.0, "moisture_pct": 62.0, "spawn_lot": "G7", "spawn_rate_pct": 3.0, "steriliser_run": "R 14", "substrate_lot": "oak 12", "recipe": "beech and bran", "operator": "Ana",
		"place": "room 2 > rack 3", "conditions": map[string]any{"flow_hood": "on"}, "labels_later": "2026-12-01", "note": "second try",
		"inoculated_at": "2026-11-22T15:00:00Z",
	}
	got := made.at("batch").(map[string]any)
	for field, value := range want {
		if diff := cmp.Diff(value, got[field]); diff != "" {
			t.Errorf("%s: %s", field, diff)
		}
	}
	if code := got["code"].(string); !regexp.MustCompile(`^[A-Z0-9-]{3,16}$`).MatchString(code) {
		t.Errorf("code %q", code)
	}
	again := h.post("/api/v1/batches", whole).want(http.StatusOK)
	if diff := cmp.Diff(made.body, again.body); diff != "" {
		t.Errorf("the same id and body again: %s", diff)
	}
	h.post("/api/v1/batches", strings.Replace(whole, `"bags":12`, `"bags":11`, 1)).refused(http.StatusConflict, "conflict")
}

// TestBagsOfABatch: codes by ISO/IEC 7064 MOD 37,36, payloads with the scheme
// in lower case and the rest in upper case.
func TestBagsOfABatch(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	if err := h.store.SetPublic(t.Context(), "http://192.168.1.20:8080"); err != nil {
		t.Fatal(err)
	}
	made := h.post("/api/v1/batches", whole).want(201)
	bags := made.at("bags").([]any)
	if len(bags) != 12 {
		t.Fatalf("%d bags", len(bags))
	}
	for i, raw := range bags {
		bag := raw.(map[string]any)
		code := bag["code"].(string)
		if check, ok := grow.CheckCharacter(code[:7]); !ok || code[7] != check || bag["number"] != float64(i+1) || bag["payload"] != "http://192.168.1.20:8080/B/"+code {
			t.Errorf("bag %d: %v", i+1, bag)
		}
	}
	got := h.get("/api/v1/batches/" + strings.ToLower(made.at("batch", "code").(string))).want(200)
	counts := got.at("counts").(map[string]any)
	want := map[string]any{"unmarked": 12.0, "colonising": 0.0, "colonised": 0.0, "isolated": 0.0, "fruiting": 0.0, "finished": 0.0, "culled": 0.0, "contaminated": 0.0}
	if diff := cmp.Diff(want, counts); diff != "" {
		t.Error(diff)
	}
	for i, raw := range got.at("bags").([]any) {
		bag := raw.(map[string]any)
		departs := i >= 6 && i <= 10
		if bag["state"] != "unmarked" || bag["day"] != 3.0 || (len(bag["departures"].([]any)) > 0) != departs {
			t.Errorf("bag %d: %v", i+1, bag)
		}
	}
}

func TestBatchThatCannotBeMade(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	for _, test := range []struct{ name, body, field string }{
		{"species missing", `{"inoculated_at":"2026-11-22T15:00:00Z","bags":1}`, "species"},
		{"species unknown", `{"species":"truffle","inoculated_at":"2026-11-22T15:00:00Z","bags":1}`, "species"},
		{"time missing", `{"species":"pleurotus-eryngii","bags":1}`, "inoculated_at"},
		{"too early", `{"species":"pleurotus-eryngii","inoculated_at":"1999-12-31T23:59:59Z","bags":1}`, "inoculated_at"},
		{"more than a day ahead", `{"species":"pleurotus-eryngii","inoculated_at":"2026-11-26T12:00:01Z","bags":1}`, "inoculated_at"},
		{"no bags", `{"species":"pleurotus-eryngii","inoculated_at":"2026-11-22T15:00:00Z"}`, "bags"},
		{"too many bags", `{"species":"pleurotus-eryngii","inoculated_at":"2026-11-22T15:00:00Z","bags":2001}`, "bags"},
		{"bag that is not there", `{"species":"pleurotus-eryngii","inoculated_at":"2026-11-22T15:00:00Z","bags":3,"bag_conditions":[{"bags":"2-4","conditions":{"flow_hood":"off"}}]}`, "bag_conditions[0].bags"},
		{"condition unknown", `{"species":"pleurotus-eryngii","inoculated_at":"2026-11-22T15:00:00Z","bags":3,"conditions":{"moon":"full"}}`, "conditions.moon"},
		{"value unknown", `{"species":"pleurotus-eryngii","inoculated_at":"2026-11-22T15:00:00Z","bags":3,"conditions":{"flow_hood":"half"}}`, "conditions.flow_hood"},
		{"id", `{"id":"7","species":"pleurotus-eryngii","inoculated_at":"2026-11-22T15:00:00Z","bags":1}`, "id"},
		{"blank that nobody made", `{"species":"pleurotus-eryngii","inoculated_at":"2026-11-22T15:00:00Z","bags":1,"blanks":["7K3M9QXR"]}`, "blanks[0]"},
		{"note too long", `{"species":"pleurotus-eryngii","inoculated_at":"2026-11-22T15:00:00Z","bags":1,"note":"` + strings.Repeat("x", 2001) + `"}`, "note"},
	} {
		t.Run(test.name, func(t *testing.T) { h.post("/api/v1/batches", test.body).refused(400, "invalid", test.field) })
	}
	if n := len(h.get("/api/v1/batches").at("batches").([]any)); n != 0 {
		t.Errorf("%d batches were made", n)
	}
}

func TestBatchesAreListed(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	for i, day := range []string{"20", "22", "21", "22", "19"} {
		h.post("/api/v1/batches", fmt.Sprintf(`{"species":"hericium-erinaceus","inoculated_at":"2026-11-%sT15:00:00Z","bags":%d,"lab_day":"day %s"}`, day, i+1, day)).want(201)
	}
	var codes []string
	path, next := "/api/v1/batches?limit=2", any("")
	for pages := 0; next != nil; pages++ {
		if pages > 5 {
			t.Fatal("the list never ends")
		}
		page := h.get(path).want(200)
		for _, b := range page.at("batches").([]any) {
			codes = append(codes, b.(map[string]any)["code"].(string))
		}
		if next = page.at("next"); next != nil {
			path = "/api/v1/batches?limit=2&after=" + next.(string)
		}
	}
	if diff := cmp.Diff([]string{"LION-261122", "LION-261122-2", "LION-261121", "LION-261120", "LION-261119"}, codes); diff != "" {
		t.Error(diff)
	}
	for query, want := range map[string]int{
		"": 5, "lab_day=day+22": 2, "lab_day=none": 0, "from=2026-11-21": 3, "to=2026-11-20": 2, "from=2026-11-20&to=2026-11-21": 2, "state=unmarked": 5, "state=culled": 0,
		"species=hericium-erinaceus": 5, "species=pleurotus-eryngii": 0, "limit=200": 5,
	} {
		if got := len(h.get("/api/v1/batches?" + query).want(200).at("batches").([]any)); got != want {
			t.Errorf("%s: %d batches, want %d", query, got, want)
		}
	}
	for query, field := range map[string]string{
		"limit=0": "limit", "limit=201": "limit", "limit=x": "limit", "from=yesterday": "from", "to=2026-13-01": "to", "state=happy": "state", "species=truffle": "species", "after=x": "after",
	} {
		h.get("/api/v1/batches?"+query).refused(400, "invalid", field)
	}
}

func TestBatchIsCorrected(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	made := h.post("/api/v1/batches", whole).want(201)
	path := "/api/v1/batches/" + made.at("batch", "code").(string)
	patch := func(body string) *reply { return h.send(h.request("PATCH", path, body)) }
	before := made.at("batch").(map[string]any)
	got := patch(`{"strain":"KE-4","note":null,"conditions":{"gloves":"no"}}`).want(200).at("batch").(map[string]any)
	want := maps.Clone(before)
	want["strain"], want["note"], want["conditions"] = "KE-4", nil, map[string]any{"flow_hood": "on", "gloves": "no"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if got := patch(`{"conditions":{"flow_hood":"unknown"}}`).want(200).at("batch", "conditions"); !cmp.Equal(got, any(map[string]any{"gloves": "no"})) {
		t.Errorf("conditions %v", got)
	}
	var fields []string
	for _, c := range h.get(path).at("changes").([]any) {
		change := c.(map[string]any)
		fields = append(fields, change["field"].(string))
		if change["by"] != "grower's program" {
			t.Errorf("who corrected it: %v", change)
		}
	}
	slices.Sort(fields)
	if diff := cmp.Diff([]string{"conditions.flow_hood", "conditions.gloves", "note", "strain"}, fields); diff != "" {
		t.Error(diff)
	}
	for body, field := range map[string]string{
		`{"bags":13}`: "bags", `{"code":"X-1"}`: "code", `{"species":"truffle"}`: "species", `{"species":null}`: "species", `{"inoculated_at":null}`: "inoculated_at", `{"moisture_pct":101}`: "moisture_pct", `{"blanks":[]}`: "blanks",
	} {
		patch(body).refused(400, "invalid", field)
	}
	h.send(h.request("PATCH", "/api/v1/batches/KING-000000", `{"note":"x"}`)).refused(404, "not_found")
}

func TestBlanks(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	got := h.post("/api/v1/blanks", `{"count":5}`).want(201)
	var blanks []string
	for _, b := range got.at("bags").([]any) {
		bag := b.(map[string]any)
		if keys := slices.Sorted(maps.Keys(bag)); !slices.Equal(keys, []string{"code", "payload"}) {
			t.Errorf("a blank has %v", keys)
		}
		blanks = append(blanks, bag["code"].(string))
	}
	for _, body := range []string{`{"count":0}`, `{"count":2001}`, `{}`} {
		h.post("/api/v1/blanks", body).refused(400, "invalid", "count")
	}
	if e := h.get("/api/v1/bags/"+blanks[0]).refused(404, "not_found"); !strings.Contains(e.Error.Message, "blank") {
		t.Errorf("a blank's page: %s", e.Error.Message)
	}
	h.post("/api/v1/bags/"+blanks[0]+"/entries", `{"id":"`+id(1)+`","kind":"look"}`).refused(409, "conflict")
	codes, _ := json.Marshal(blanks[:2])
	batch, bags := h.kings("3", `,"blanks":`+string(codes))
	if diff := cmp.Diff(blanks[:2], bags[:2]); diff != "" {
		t.Errorf("the blanks take the first numbers: %s", diff)
	}
	more := h.post("/api/v1/batches/"+batch+"/blanks", `{"blanks":["`+blanks[2]+`","`+strings.ToLower(blanks[3])+`"]}`).want(201)
	if more.at("batch", "bags") != 5.0 || more.at("bags", 0, "number") != 4.0 || more.at("bags", 1, "code") != blanks[3] {
		t.Errorf("bags appended: %s", more.body)
	}
	h.get("/api/v1/bags/" + blanks[3]).want(200)
	h.post("/api/v1/batches/"+batch+"/blanks", `{"blanks":["`+blanks[0]+`"]}`).refused(400, "invalid", "blanks[0]")
	h.post("/api/v1/batches/"+batch+"/blanks", `{"blanks":[]}`).refused(400, "invalid", "blanks")
	h.post("/api/v1/batches/KING-000000/blanks", `{"blanks":["`+blanks[4]+`"]}`).refused(404, "not_found")
}
