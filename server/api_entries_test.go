package server

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestEntryIsKept(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	_, bags := h.kings("2", "")
	path := "/api/v1/bags/" + bags[0] + "/entries"
	body := `{"id":"0000000A-0000-4000-8000-00000000000B","kind":"colonised","pct":40,"bare":["bottom"],"at":"2026-11-25T13:30:00+02:00"}`
	first := h.post(path, body).want(201)
	want := map[string]any{"id": "0000000a-0000-4000-8000-00000000000b", "bag": bags[0], "kind": "colonised", "pct": 40.0, "bare": []any{"bottom"},
		"at": "2026-11-25T11:30:00Z", "received_at": "2026-11-25T12:00:00Z", "by": "grower's program", "device": "grower's program", "fits": true}
	if diff := cmp.Diff(want, first.at("entry")); diff != "" {
		t.Error(diff)
	}
	if first.at("bag", "colonised_pct") != 40.0 || first.at("bag", "state") != "colonising" || first.at("bag", "marked_at") != "2026-11-25T11:30:00Z" || first.at("bag", "payload") == "" {
		t.Errorf("the bag after it: %s", first.body)
	}
	h.post(path, `{"id":"`+id(2)+`","kind":"colonised","pct":100}`).want(201)
	again := h.post(path, strings.Replace(strings.Replace(body, "13:30:00+02:00", "11:30:00Z", 1), "0000000A", "0000000a", 1)).want(200)
	if diff := cmp.Diff(first.at("entry"), again.at("entry")); diff != "" {
		t.Errorf("the same again: %s", diff)
	}
	if again.at("bag", "colonised_pct") != 100.0 {
		t.Error("the same again does not give the bag as it now stands")
	}
	for name, other := range map[string]string{
		"another value": strings.Replace(body, `"pct":40`, `"pct":41`, 1),
		"another time":  strings.Replace(body, "13:30", "13:31", 1),
		"a field less":  strings.Replace(body, `,"bare":["bottom"]`, "", 1),
	} {
		t.Run(name, func(t *testing.T) { h.post(path, other).refused(409, "conflict") })
	}
	h.post("/api/v1/bags/"+bags[1]+"/entries", body).refused(409, "conflict")
}

func TestEntriesOfEveryKind(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	_, bags := h.kings("2", "")
	photo := h.photo(jpegOf(h.t, 40, 30))
	n := 0
	kept := ""
	for _, test := range []struct{ kind, fields, state string }{
		{"marked", `,"bench":true`, "colonising"},
		{"look", `,"seen":"turned"`, "colonising"},
		{"colonised", `,"full":false,"bare":["top","corners"]`, "colonising"},
		{"colonised", `,"pct":99`, "colonised"},
		{"contaminated", `,"what":"green_mould","where":"seal","extent_pct":5`, "colonised"},
		{"sign", `,"sign":"pins"`, "colonised"},
		{"condition", `,"key":"flow_hood","value":"off","basis":"remembered"`, "colonised"},
		{"condition", `,"key":"flow_hood","value":null`, "colonised"},
		{"watch", `,"because":"made next to a bad one","of":"` + bags[1] + `"`, "colonised"},
		{"unwatch", ``, "colonised"},
		{"again", `,"on":"2026-12-01","for":"fruiting"`, "colonised"},
		{"move", `,"place":"room 2 > rack 3"`, "colonised"},
		{"shake", ``, "colonised"},
		{"isolate", ``, "isolated"},
		{"release", ``, "colonised"},
		{"fruiting", `,"place":"fruiting room","opening":"top_cut"`, "fruiting"},
		{"harvest", `,"grams":420.5,"flush":1`, "fruiting"},
		{"photo", `,"photo":"` + photo + `"`, "fruiting"},
		{"note", `,"text":"first of the year"`, "fruiting"},
		{"finish", `,"why":"spent","to":"compost"`, "finished"},
	} {
		n++
		got := h.post("/api/v1/bags/"+bags[0]+"/entries", fmt.Sprintf(`{"id":%q,"kind":%q%s}`, id(n), test.kind, test.fields)).want(201)
		if state := got.at("bag", "state"); state != test.state {
			t.Errorf("after %s: %v, want %s", test.kind, state, test.state)
		}
		kept = id(n)
	}
	h.post("/api/v1/bags/"+bags[0]+"/entries", fmt.Sprintf(`{"id":%q,"kind":"harvest","grams":1}`, id(100))).refused(409, "conflict")
	void := h.post("/api/v1/bags/"+bags[0]+"/entries", fmt.Sprintf(`{"id":%q,"kind":"void","entry":%q}`, id(101), kept)).want(201)
	if void.at("bag", "state") != "fruiting" || void.at("bag", "entries", 1, "voided_by") != id(101) {
		t.Errorf("after void: %s", void.body)
	}
	h.post("/api/v1/bags/"+bags[0]+"/entries", fmt.Sprintf(`{"id":%q,"kind":"void","entry":%q}`, id(102), kept)).refused(409, "conflict")
	cull := h.post("/api/v1/bags/"+bags[1]+"/entries", fmt.Sprintf(`{"id":%q,"kind":"cull","why":"precaution"}`, id(103))).want(201)
	if cull.at("bag", "state") != "culled" {
		t.Errorf("after cull: %v", cull.at("bag", "state"))
	}
}

func TestEntryThatCannotBeKept(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	_, bags := h.kings("2", "")
	i := `"id":"` + id(1) + `",`
	for _, test := range []struct{ name, body, field string }{
		{"id missing", `{"kind":"look"}`, "id"},
		{"id", `{"id":"one","kind":"look"}`, "id"},
		{"kind missing", `{` + i + `"at":"2026-11-25T11:00:00Z"}`, "kind"},
		{"kind", `{` + i + `"kind":"dance"}`, "kind"},
		{"field of another kind", `{` + i + `"kind":"look","grams":5}`, "grams"},
		{"ahead of the clock", `{` + i + `"kind":"look","at":"2026-11-25T12:05:01Z"}`, "at"},
		{"before the bag was made", `{` + i + `"kind":"look","at":"2026-11-21T23:59:00Z"}`, "at"},
		{"per cent", `{` + i + `"kind":"colonised","pct":101}`, "pct"},
		{"mould", `{` + i + `"kind":"contaminated","what":"blue"}`, "what"},
		{"condition", `{` + i + `"kind":"condition","key":"moon","value":"full"}`, "key"},
		{"photo", `{` + i + `"kind":"photo","photo":"none"}`, "photo"},
		{"other bag", `{` + i + `"kind":"look","bag":"` + bags[1] + `"}`, "bag"},
		{"unknown field", `{` + i + `"kind":"look","colour":"white"}`, "colour"},
	} {
		t.Run(test.name, func(t *testing.T) {
			h.post("/api/v1/bags/"+bags[0]+"/entries", test.body).refused(400, "invalid", test.field)
		})
	}
	h.post("/api/v1/bags/7K3M9QXR/entries", `{`+i+`"kind":"look"}`).refused(404, "not_found")
	if n := len(h.get("/api/v1/bags/" + bags[0]).at("entries").([]any)); n != 0 {
		t.Errorf("%d entries were kept", n)
	}
	h.post("/api/v1/bags/"+strings.ToLower(bags[0][:4]+"-"+bags[0][4:])+"/entries", `{`+i+`"kind":"look","at":"2026-11-25T12:05:00Z","bag":"`+bags[0]+`"}`).want(201)
}

// TestManyEntries: each has its own outcome, in the order sent.
func TestManyEntries(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	_, bags := h.kings("2", "")
	blank := h.post("/api/v1/blanks", `{"count":1}`).at("bags", 0, "code").(string)
	got := h.post("/api/v1/entries", `{"sent_at":"2026-11-25T12:00:00Z","entries":[
		{"id":"`+id(1)+`","bag":"`+bags[0]+`","kind":"look"},
		{"id":"`+strings.ToUpper(id(2))+`","bag":"`+bags[1]+`","kind":"look","colour":"white"},
		{"id":"`+id(1)+`","bag":"`+bags[0]+`","kind":"look"},
		{"id":"`+id(1)+`","bag":"`+bags[1]+`","kind":"look"},
		"look",
		{"id":"`+id(3)+`","kind":"look"},
		{"id":"`+id(4)+`","bag":"7K3M9QXR","kind":"look"},
		{"id":"`+id(5)+`","bag":"`+blank+`","kind":"look"},
		{"id":"`+id(6)+`","bag":"`+bags[1]+`","kind":"release"},
		{"id":"`+id(7)+`","bag":"`+bags[1]+`","kind":"colonised","pct":200},
		{"id":7,"bag":"`+bags[1]+`","kind":"look"},
		{"id":"`+strings.ToUpper(id(8))+`","bag":"`+strings.ToLower(bags[1])+`","kind":"note","text":"kept"}]}`).want(200)
	type outcome struct {
		ID     string
		Status int
		Kind   string
	}
	var answer struct {
		Results []struct {
			ID     string
			Status int
			Entry  *struct{ ID string }
			Error  *struct{ Kind string }
		}
	}
	got.into(&answer)
	var outcomes []outcome
	for _, r := range answer.Results {
		o := outcome{ID: r.ID, Status: r.Status}
		switch {
		case (r.Entry == nil) == (r.Error == nil):
			t.Errorf("neither entry nor error alone: %+v", r)
		case r.Error != nil:
			o.Kind = r.Error.Kind
		case r.Entry.ID != r.ID:
			t.Errorf("the entry's id is %s, the outcome's %s", r.Entry.ID, r.ID)
		}
		outcomes = append(outcomes, o)
	}
	want := []outcome{{id(1), 201, ""}, {id(2), 400, "invalid"}, {id(1), 200, ""}, {id(1), 409, "conflict"}, {"", 400, "invalid"}, {id(3), 400, "invalid"},
		{id(4), 404, "not_found"}, {id(5), 409, "conflict"}, {id(6), 409, "conflict"}, {id(7), 400, "invalid"}, {"", 400, "invalid"}, {id(8), 201, ""}}
	if diff := cmp.Diff(want, outcomes); diff != "" {
		t.Error(diff)
	}
	for i, field := range map[int]string{1: "colour", 4: "body", 5: "bag", 9: "pct", 10: "id"} {
		if words := got.at("results", i, "error", "fields").(map[string]any)[field]; words == nil {
			t.Errorf("outcome %d says nothing of %s: %s", i, field, got.body)
		}
	}
	if n := len(h.get("/api/v1/bags/" + bags[1]).at("entries").([]any)); n != 1 {
		t.Errorf("%d entries of bag 2, want the note alone", n)
	}
}

func TestManyEntriesRefusedAsAWhole(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	_, bags := h.kings("1", "")
	one := func(n int) string { return fmt.Sprintf(`{"id":%q,"bag":%q,"kind":"look"}`, id(n), bags[0]) }
	many := make([]string, 501)
	for i := range many {
		many[i] = one(i)
	}
	for _, test := range []struct{ name, body, field string }{
		{"no list", `{}`, "entries"},
		{"null", `{"entries":null}`, "entries"},
		{"another kind", `{"entries":{}}`, "entries"},
		{"too many", `{"entries":[` + strings.Join(many, ",") + `]}`, "entries"},
		{"a field of none", `{"entries":[` + one(1) + `],"from":"me"}`, "from"},
		{"sent_at", `{"entries":[` + one(1) + `],"sent_at":"noon"}`, "sent_at"},
	} {
		t.Run(test.name, func(t *testing.T) { h.post("/api/v1/entries", test.body).refused(400, "invalid", test.field) })
	}
	if got := h.post("/api/v1/entries", `{"entries":[]}`).want(200).at("results").([]any); len(got) != 0 {
		t.Errorf("no entries gave %v", got)
	}
	if got := h.post("/api/v1/entries", `{"entries":[`+strings.Join(many[:500], ",")+`]}`).want(200).at("results").([]any); len(got) != 500 {
		t.Errorf("500 entries gave %d outcomes", len(got))
	}
}

// TestClockPutRight: a phone's clock that is wrong by more than two seconds
// shifts what it saw, and both times are kept.
func TestClockPutRight(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	_, bags := h.kings("2", "")
	for _, test := range []struct{ name, sent, at, want, wasSent string }{
		{"an hour fast", "2026-11-25T13:00:00Z", "2026-11-25T12:50:00Z", "2026-11-25T11:50:00Z", "2026-11-25T12:50:00Z"},
		{"a day slow", "2026-11-24T12:00:00Z", "2026-11-24T11:50:00Z", "2026-11-25T11:50:00Z", "2026-11-24T11:50:00Z"},
		{"two seconds", "2026-11-25T12:00:02Z", "2026-11-25T11:50:00Z", "2026-11-25T11:50:00Z", ""},
	} {
		n := len(test.name)
		alone := h.post("/api/v1/bags/"+bags[0]+"/entries", fmt.Sprintf(`{"id":%q,"kind":"look","at":%q,"sent_at":%q}`, id(n), test.at, test.sent)).want(201).at("entry")
		bulk := h.post("/api/v1/entries", fmt.Sprintf(`{"sent_at":%q,"entries":[{"id":%q,"bag":%q,"kind":"look","at":%q}]}`, test.sent, id(n+100), bags[1], test.at)).want(200).at("results", 0, "entry")
		for way, raw := range map[string]any{"alone": alone, "in bulk": bulk} {
			var e struct {
				At     time.Time `json:"at"`
				AtSent string    `json:"at_sent"`
			}
			text, _ := json.Marshal(raw)
			if err := json.Unmarshal(text, &e); err != nil {
				t.Fatal(err)
			}
			if e.At.UTC().Format(time.RFC3339) != test.want || e.AtSent != test.wasSent {
				t.Errorf("%s, %s: seen at %s, sent as %q", test.name, way, e.At, e.AtSent)
			}
		}
		again := h.post("/api/v1/bags/"+bags[0]+"/entries", fmt.Sprintf(`{"id":%q,"kind":"look","at":%q,"sent_at":"2026-11-25T12:10:00Z"}`, id(n), test.at))
		again.want(200)
	}
}

func TestCodesAsPeopleWriteThem(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	_, bags := h.kings("1", "")
	code := bags[0]
	for _, text := range []string{code, strings.ToLower(code), code[:4] + "-" + code[4:], code[:4] + "%20" + code[4:], strings.NewReplacer("1", "i", "0", "o").Replace(code)} {
		if got := h.get("/api/v1/bags/" + text).want(200).at("code"); got != code {
			t.Errorf("%s opens %v", text, got)
		}
	}
	wrong := []byte(code)
	wrong[2] = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"[(strings.IndexByte("0123456789ABCDEFGHJKMNPQRSTVWXYZ", wrong[2])+1)%32]
	if e := h.get("/api/v1/bags/"+string(wrong)).refused(400, "invalid"); !strings.Contains(e.Error.Message, "check character") {
		t.Errorf("a misread code: %s", e.Error.Message)
	}
	h.get("/api/v1/bags/7K3M9QX").refused(400, "invalid")
}
