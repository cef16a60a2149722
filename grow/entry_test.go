package grow_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

const someID = "3f2b8c1e-0d4a-4c6b-9e55-7a1d2c3b4e5f"

// readDraft reads a draft as a request holds it: id and kind may be left out
// here where they do not matter.
func readDraft(t testing.TB, text string) grow.Draft {
	t.Helper()
	var d grow.Draft
	if err := json.Unmarshal([]byte(text), &d); err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	if d.ID == "" {
		d.ID = someID
	}
	return d
}

func TestDraftValidate(t *testing.T) {
	t.Parallel()
	long := strings.Repeat("ö", 2000)
	tests := []struct {
		name, text string
		want       []string // faulty fields
	}{
		{"marked", `{"kind":"marked"}`, nil},
		{"marked at the bench", `{"kind":"marked","bench":true}`, nil},
		{"look", `{"kind":"look"}`, nil},
		{"look, turned", `{"kind":"look","seen":"turned"}`, nil},
		{"look, unknown way", `{"kind":"look","seen":"smelled"}`, []string{"seen"}},
		{"colonised", `{"kind":"colonised","pct":40}`, nil},
		{"colonised 0", `{"kind":"colonised","pct":0}`, nil},
		{"colonised 100, bare", `{"kind":"colonised","pct":100,"bare":["top","middle","side","bottom","corners"]}`, nil},
		{"not fully", `{"kind":"colonised","full":false}`, nil},
		{"full true needs pct", `{"kind":"colonised","full":true}`, []string{"full"}},
		{"neither", `{"kind":"colonised"}`, []string{"pct"}},
		{"both", `{"kind":"colonised","pct":3,"full":false}`, []string{"full"}},
		{"more than all", `{"kind":"colonised","pct":100.1}`, []string{"pct"}},
		{"less than nothing", `{"kind":"colonised","pct":-1}`, []string{"pct"}},
		{"bare where nothing is", `{"kind":"colonised","pct":9,"bare":["top","lid"]}`, []string{"bare"}},
		{"contaminated", `{"kind":"contaminated","what":"unsure"}`, nil},
		{"contaminated, all", `{"kind":"contaminated","what":"green_mould","where":"under_label","extent_pct":5}`, nil},
		{"contaminated with what", `{"kind":"contaminated"}`, []string{"what"}},
		{"contaminated, nonsense", `{"kind":"contaminated","what":"grey_mould","where":"lid","extent_pct":101}`, []string{"extent_pct", "what", "where"}},
		{"sign", `{"kind":"sign","sign":"pins"}`, nil},
		{"sign of what", `{"kind":"sign"}`, []string{"sign"}},
		{"sign, nonsense", `{"kind":"sign","sign":"rainbow"}`, []string{"sign"}},
		{"condition", `{"kind":"condition","key":"flow_hood","value":"off"}`, nil},
		{"condition, unknown", `{"kind":"condition","key":"flow_hood","value":null,"basis":"guess"}`, nil},
		{"condition, the word unknown", `{"kind":"condition","key":"flow_hood","value":"unknown"}`, nil},
		{"condition without a value", `{"kind":"condition","key":"flow_hood"}`, []string{"value"}},
		{"condition that is none", `{"kind":"condition","key":"moon","value":"full"}`, []string{"key"}},
		{"value that is none", `{"kind":"condition","key":"flow_hood","value":"half","basis":"hearsay"}`, []string{"basis", "value"}},
		{"watch", `{"kind":"watch","because":"` + long[:200] + `"}`, nil},
		{"watch, too many words", `{"kind":"watch","because":"` + long[:402] + `"}`, []string{"because"}},
		{"watch of no code", `{"kind":"watch","of":"7K3M9QX1"}`, []string{"of"}},
		{"unwatch", `{"kind":"unwatch"}`, nil},
		{"again", `{"kind":"again","on":"2026-12-01","for":"fruiting"}`, nil},
		{"again without a date", `{"kind":"again","for":"tea"}`, []string{"for", "on"}},
		{"move", `{"kind":"move","place":"room 2 > rack 3"}`, nil},
		{"move to nowhere", `{"kind":"move"}`, []string{"place"}},
		{"shake", `{"kind":"shake"}`, nil},
		{"isolate", `{"kind":"isolate"}`, nil},
		{"release", `{"kind":"release"}`, nil},
		{"cull", `{"kind":"cull"}`, nil},
		{"cull, why", `{"kind":"cull","why":"precaution"}`, nil},
		{"cull, why not", `{"kind":"cull","why":"bored"}`, []string{"why"}},
		{"fruiting", `{"kind":"fruiting","place":"tent","opening":"top_cut"}`, nil},
		{"fruiting, opened oddly", `{"kind":"fruiting","opening":"torn"}`, []string{"opening"}},
		{"harvest", `{"kind":"harvest","grams":0}`, nil},
		{"harvest, most", `{"kind":"harvest","grams":100000,"flush":20}`, nil},
		{"harvest of nothing said", `{"kind":"harvest"}`, []string{"grams"}},
		{"harvest, too much", `{"kind":"harvest","grams":100000.5,"flush":21}`, []string{"flush", "grams"}},
		{"flush nought", `{"kind":"harvest","grams":1,"flush":0}`, []string{"flush"}},
		{"finish", `{"kind":"finish","why":"sold","to":"the market"}`, nil},
		{"finish without why", `{"kind":"finish"}`, []string{"why"}},
		{"photo", `{"kind":"photo","photo":"abc"}`, nil},
		{"photo of nothing", `{"kind":"photo"}`, []string{"photo"}},
		{"note", `{"kind":"note","text":"` + long + `"}`, nil},
		{"note with lines", `{"kind":"note","text":"one\ntwo"}`, nil},
		{"note too long", `{"kind":"note","text":"` + long + `x"}`, []string{"text"}},
		{"empty note", `{"kind":"note","text":""}`, []string{"text"}},
		{"void", `{"kind":"void","entry":"` + strings.ToUpper(someID) + `"}`, nil},
		{"void of nothing", `{"kind":"void"}`, []string{"entry"}},
		{"no kind", `{}`, []string{"kind"}},
		{"no id", `{"id":"7","kind":"shake"}`, []string{"id"}},
		{"another kind's field", `{"kind":"shake","pct":7,"text":"x","bench":true}`, []string{"bench", "pct", "text"}},
		{"a time with no place in the calendar", `{"kind":"shake","at":"9999-12-31T23:59:59-12:00"}`, []string{"at"}},
		{"a time before the calendar", `{"kind":"shake","at":"0000-01-01T00:00:00+12:00"}`, []string{"at"}},
	}
	conditions := startingSet()
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			err := readDraft(t, test.text).Validate(conditions)
			if diff := cmp.Diff(test.want, faulty(err)); diff != "" {
				t.Errorf("%v; faulty fields (-want +got):\n%s", err, diff)
			}
		})
	}
}

// TestSent: the same thing sent again is told from another thing. Times count
// by instant, the order of fields and the time of sending do not count.
func TestSent(t *testing.T) {
	t.Parallel()
	const was = `{"kind":"colonised","at":"2026-03-14T15:00:00Z","pct":40,"bare":["top","side"]}`
	tests := []struct {
		name, text string
		same       bool
	}{
		{"word for word", was, true},
		{"order of fields", `{"bare":["top","side"],"pct":40.0,"at":"2026-03-14T15:00:00Z","kind":"colonised"}`, true},
		{"the same instant elsewhere", `{"kind":"colonised","at":"2026-03-14T16:00:00+01:00","pct":40,"bare":["top","side"]}`, true},
		{"fractions of nothing", `{"kind":"colonised","at":"2026-03-14T15:00:00.000Z","pct":40,"bare":["top","side"]}`, true},
		{"sent at another time", `{"kind":"colonised","at":"2026-03-14T15:00:00Z","pct":40,"bare":["top","side"],"sent_at":"2026-03-14T15:01:00Z"}`, true},
		{"null is left out", `{"kind":"colonised","at":"2026-03-14T15:00:00Z","pct":40,"bare":["top","side"],"full":null}`, true},
		{"another instant", `{"kind":"colonised","at":"2026-03-14T15:00:01Z","pct":40,"bare":["top","side"]}`, false},
		{"no time", `{"kind":"colonised","pct":40,"bare":["top","side"]}`, false},
		{"another number", `{"kind":"colonised","at":"2026-03-14T15:00:00Z","pct":41,"bare":["top","side"]}`, false},
		{"a field less", `{"kind":"colonised","at":"2026-03-14T15:00:00Z","pct":40}`, false},
		{"another kind", `{"kind":"look","at":"2026-03-14T15:00:00Z"}`, false},
		{"another bag", `{"bag":"7K3M9QXR","kind":"colonised","at":"2026-03-14T15:00:00Z","pct":40,"bare":["top","side"]}`, false},
	}
	for _, test := range tests {
		a, b := readDraft(t, was).Sent(), readDraft(t, test.text).Sent()
		if bytes.Equal(a, b) != test.same {
			t.Errorf("%s: same is %t, want %t\n%s\n%s", test.name, !test.same, test.same, a, b)
		}
	}
	if a, b := readDraft(t, `{"kind":"shake"}`).Sent(), readDraft(t, `{"kind":"shake","at":null}`).Sent(); !bytes.Equal(a, b) {
		t.Errorf("a missing time differs from a missing time: %s, %s", a, b)
	}
}

// TestInHand: which kinds mean that someone had the bag.
func TestInHand(t *testing.T) {
	t.Parallel()
	had := map[grow.EntryKind]bool{"marked": true, "look": true, "colonised": true, "contaminated": true, "sign": true, "shake": true, "move": true,
		"isolate": true, "release": true, "cull": true, "fruiting": true, "harvest": true, "finish": true, "photo": true,
		"condition": false, "note": false, "watch": false, "unwatch": false, "again": false, "void": false}
	for kind, want := range had {
		if got := (grow.Entry{Kind: kind}).InHand(); got != want {
			t.Errorf("%s: in hand %t, want %t", kind, got, want)
		}
	}
	for seen, want := range map[string]bool{"glance": false, "in_hand": true, "turned": true} {
		if got := (grow.Entry{Kind: grow.KindLook, Details: grow.Details{Seen: seen}}).InHand(); got != want {
			t.Errorf("look %s: in hand %t, want %t", seen, got, want)
		}
	}
}

func TestEntryJSON(t *testing.T) {
	t.Parallel()
	at := moment(t, "2026-03-14T15:00:00+01:00")
	e := grow.Entry{ID: someID, Bag: "7K3M9QXR", Kind: grow.KindCondition, At: at, ReceivedAt: at.Add(time.Minute), By: "Ana", Fits: true,
		Details: grow.Details{Key: "flow_hood", Value: grow.KnownValue("unknown")}}
	got, err := json.Marshal(e)
	if err != nil {
		t.Fatal(err)
	}
	want := `{"id":"` + someID + `","bag":"7K3M9QXR","kind":"condition","at":"2026-03-14T15:00:00+01:00","received_at":"2026-03-14T15:01:00+01:00",` +
		`"by":"Ana","device":"","key":"flow_hood","value":null,"fits":true}`
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Errorf("JSON (-want +got):\n%s", diff)
	}
	e.Kind, e.Details, e.VoidedBy, e.Fits = grow.KindShake, grow.Details{}, someID, false
	got, err = json.Marshal(e)
	if err != nil || strings.Contains(string(got), `"value"`) || !strings.Contains(string(got), `"voided_by":"`+someID+`"`) || !strings.Contains(string(got), `"fits":false`) {
		t.Errorf("%s, %v; want no value, the voiding entry, and that it does not fit", got, err)
	}
}

// FuzzEntryJSON: whatever is sent, reading and validating it never panics, and
// a valid draft keeps its one spelling over a round trip.
func FuzzEntryJSON(f *testing.F) {
	for _, text := range []string{`{"id":"` + someID + `","kind":"condition","key":"gloves","value":null}`, `{"kind":"harvest","grams":1e5,"flush":3}`,
		`{"kind":"again","on":"2026-12-01"}`, `{"kind":"look","at":"9999-12-31T23:59:59-12:00","id":"` + someID + `"}`, `{"kind":"colonised","bare":[],"pct":0}`,
		`{"kind":"note","text":"\ud800"}`, `{"kind":"photo","photo":"a","Photo":"b"}`} {
		f.Add([]byte(text))
	}
	conditions := startingSet()
	f.Fuzz(func(t *testing.T, text []byte) {
		var d grow.Draft
		if json.Unmarshal(text, &d) != nil {
			return
		}
		if err := d.Validate(conditions); err != nil {
			if grow.KindOf(err) != grow.Invalid || len(faulty(err)) == 0 {
				t.Fatalf("%s: %v, want an invalid error that names a field", text, err)
			}
			return
		}
		sent := d.Sent()
		var again grow.Draft
		if err := json.Unmarshal(sent, &again); err != nil {
			t.Fatalf("%s: %v", sent, err)
		}
		if err := again.Validate(conditions); err != nil || !bytes.Equal(again.Sent(), sent) {
			t.Fatalf("%s read back is %s (%v)", sent, again.Sent(), err)
		}
	})
}
