package server

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func TestDecodeJSONNamesWhatIsWrong(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name, body string
		fields     map[string]string
	}{
		{"unknown field", `{"bags":3,"colour":"white"}`, map[string]string{"colour": "is not a field that can stand here"}},
		{"a name in another letter case", `{"Bags":3}`, map[string]string{"Bags": "is not a field that can stand here"}},
		{"unknown field below", `{"bag_conditions":[{"bags":"1"},{"bag":"2"}]}`, map[string]string{"bag_conditions[1].bag": "is not a field that can stand here"}},
		{"text where a number belongs", `{"bags":"12"}`, map[string]string{"bags": "must be a whole number"}},
		{"half a bag", `{"bags":1.5}`, map[string]string{"bags": "must be a whole number"}},
		{"more than a number can be", `{"bag_wet_g":1e999}`, map[string]string{"bag_wet_g": "is too large a number"}},
		{"number where text belongs", `{"strain":7}`, map[string]string{"strain": "must be text"}},
		{"number below", `{"bag_conditions":[{"bags":7}]}`, map[string]string{"bag_conditions[0].bags": "must be text"}},
		{"no list", `{"blanks":{}}`, map[string]string{"blanks": "must be a list"}},
		{"no object", `{"conditions":[]}`, map[string]string{"conditions": "must be an object"}},
		{"no object inside a list", `{"bag_conditions":["7-11"]}`, map[string]string{"bag_conditions[0]": "must be an object"}},
		{"value of a map", `{"conditions":{"flow_hood":false}}`, map[string]string{"conditions.flow_hood": "must be text"}},
		{"time without an offset", `{"inoculated_at":"2026-11-22T15:00:00"}`, map[string]string{"inoculated_at": "must be a time with its offset, like 2026-03-14T15:00:00+00:00"}},
		{"time beyond the calendar", `{"inoculated_at":"9999-12-31T23:59:59-12:00"}`, map[string]string{"inoculated_at": "must be a time with its offset, like 2026-03-14T15:00:00+00:00"}},
		{"no date", `{"labels_later":"tomorrow"}`, map[string]string{"labels_later": "must be a date like 2026-03-14"}},
		{"everything at once", `{"bags":"x","note":1,"y":2}`, map[string]string{"bags": "must be a whole number", "note": "must be text", "y": "is not a field that can stand here"}},
		{"another kind of value", `[1]`, map[string]string{"body": "must be an object"}},
		{"null", " null\n", map[string]string{"body": "must be an object"}},
	} {
		var d grow.BatchDraft
		err := decodeJSON([]byte(test.body), &d)
		var e *grow.Error
		if !errors.As(err, &e) || e.Kind != grow.Invalid {
			t.Errorf("%s: got %v", test.name, err)
			continue
		}
		if diff := cmp.Diff(test.fields, e.Fields); diff != "" {
			t.Errorf("%s: %s", test.name, diff)
		}
	}
}

// TestDecodeJSONStopsSomewhere: what is wrong a million times is told of a few
// hundred times, and a list that fills the memory is not read to its end.
func TestDecodeJSONStopsSomewhere(t *testing.T) {
	t.Parallel()
	var d grow.BatchDraft
	var e *grow.Error
	many := `{"bags":1`
	for i := range 1000 {
		many += fmt.Sprintf(`,"k%d":2`, i)
	}
	if err := decodeJSON([]byte(many+"}"), &d); !errors.As(err, &e) || len(e.Fields) != mostTold {
		t.Errorf("a thousand strange fields: %d are told", len(e.Fields))
	}
	var list struct {
		Entries []json.RawMessage `json:"entries"`
	}
	body := func(n int) []byte { return []byte(`{"entries":[` + strings.Repeat("{},", n-1) + `{}]}`) }
	if err := decodeJSON(body(mostListed+1), &list); !errors.As(err, &e) || e.Fields["entries"] != "may hold at most 10000" || list.Entries != nil {
		t.Errorf("too long a list: %v, %d entries were read", err, len(list.Entries))
	}
	if err := decodeJSON(body(mostListed), &list); err != nil || len(list.Entries) != mostListed {
		t.Errorf("the longest list: %v", err)
	}
}

func TestDecodeJSONRefusesWhatIsNoSingleValue(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ name, body, want string }{
		{"nothing", "", "empty"},
		{"spaces", " \n", "empty"},
		{"two values", `{} {}`, "after the JSON value"},
		{"a value and a word", `{}x`, "after the JSON value"},
		{"half a value", `{"bags":`, "breaks off"},
		{"no JSON", "{\n  bags: 3\n}", "line 2 at character 3"},
		{"a comma too many", `{"bags":3,}`, "line 1 at character 11"},
		{"not UTF-8", "{\"note\":\"\xff\"}", "UTF-8"},
	} {
		err := decodeJSON([]byte(test.body), new(grow.BatchDraft))
		if grow.KindOf(err) != grow.Invalid || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: got %v, want %q in it", test.name, err, test.want)
		}
	}
}

func TestDecodeJSONTakes(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ name, body string }{
		{"null for what is not given", `{"bags":3,"strain":null,"conditions":null,"bag_conditions":null,"inoculated_at":null}`},
		{"a name twice", `{"bags":1,"bags":3}`},
		{"spaces around", " \n{\"bags\":3}\r\n\t"},
		{"unknown conditions", `{"bags":3,"conditions":{"flow_hood":null}}`},
	} {
		var d grow.BatchDraft
		if err := decodeJSON([]byte(test.body), &d); err != nil || d.Bags != 3 {
			t.Errorf("%s: %v, %d bags", test.name, err, d.Bags)
		}
	}
}

// FuzzDecodeJSON: what is taken is one JSON value that encoding/json takes too.
func FuzzDecodeJSON(f *testing.F) {
	for _, seed := range []string{`{"id":"x","kind":"look"}`, `{"value":null}`, `{"at":"2026-11-22T15:00:00Z"}`, `{"bare":["top"]}`, `{}{}`, `[`, `"\ud800"`, `{"on":"2026-01-01"}`} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		var d, again grow.Draft
		if decodeJSON(raw, &d) != nil {
			return
		}
		if err := json.Unmarshal(raw, &again); err != nil {
			t.Fatalf("%q was taken, and is refused by encoding/json: %v", raw, err)
		}
		if diff := cmp.Diff(again, d); diff != "" {
			t.Error(diff)
		}
	})
}
