package server

import (
	"net/url"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func TestParseEntryForm(t *testing.T) {
	t.Parallel()
	f := func(n float64) *float64 { return &n }
	i := func(n int) *int { return &n }
	d := func(y int, m time.Month, day int) *grow.Date { x := grow.DateOn(y, m, day); return &x }
	off := "off"
	for _, test := range []struct {
		name, form string
		want       grow.Details
		kind       grow.EntryKind
	}{
		{"look", "kind=look&seen=turned", grow.Details{Seen: "turned"}, grow.KindLook},
		{"share with a comma", "kind=colonised&pct=62,5&full=false&bare=top&bare=corners", grow.Details{Pct: f(62.5), Bare: []string{"top", "corners"}}, grow.KindColonised},
		{"not yet", "kind=colonised&pct=&full=false", grow.Details{Full: boolOf(false)}, grow.KindColonised},
		{"mould", "kind=contaminated&what=unsure&where=&extent_pct=5", grow.Details{What: "unsure", ExtentPct: f(5)}, grow.KindContaminated},
		{"condition", "kind=condition&set=flow_hood%3Doff&basis=guess", grow.Details{Key: "flow_hood", Value: grow.Value{Given: true, Known: &off}, Basis: "guess"}, grow.KindCondition},
		{"unknown condition", "kind=condition&key=flow_hood&value=unknown", grow.Details{Key: "flow_hood", Value: grow.Value{Given: true}}, grow.KindCondition},
		{"come back", "kind=again&on=2026-03-14&for=fruiting", grow.Details{On: d(2026, 3, 14), For: "fruiting"}, grow.KindAgain},
		{"harvest", "kind=harvest&grams=412&flush=2", grow.Details{Grams: f(412), Flush: i(2)}, grow.KindHarvest},
		{"text is trimmed", "kind=note&text=++slow+%0A", grow.Details{Text: "slow"}, grow.KindNote},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			v, err := url.ParseQuery(test.form + "&id=" + id(1))
			if err != nil {
				t.Fatal(err)
			}
			got, err := parseEntryForm(v, "7K3M9QXR", time.UTC)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(test.want, got.Details); diff != "" {
				t.Errorf("details (-want +got):\n%s", diff)
			}
			if got.Kind != test.kind || got.ID != grow.ID(id(1)) || got.Bag != "7K3M9QXR" || got.At != nil {
				t.Errorf("got %+v", got)
			}
		})
	}
}

func TestParseEntryFormNamesEveryFault(t *testing.T) {
	t.Parallel()
	v := url.Values{"kind": {"harvest"}, "grams": {"much"}, "flush": {"1.5"}, "on": {"14/3"}, "at": {"noon"}}
	_, err := parseEntryForm(v, "7K3M9QXR", time.UTC)
	for _, field := range []string{"id", "grams", "flush", "on", "at"} {
		if asError(err).Fields[field] == "" {
			t.Errorf("nothing is said of %s: %v", field, err)
		}
	}
}

func TestLocalPathNeverLeavesTheFarm(t *testing.T) {
	t.Parallel()
	for path, want := range map[string]string{
		"/B/7K3M9QXR?x=1": "/B/7K3M9QXR?x=1", "/": "/", "": "/", "//evil.example": "/", "/\\evil.example": "/", "https://evil.example": "/", "javascript:alert(1)": "/",
		"/\tevil": "/", "/ok\r\nSet-Cookie: x": "/", "B/x": "/",
	} {
		if got := localPath(path, "/"); got != want {
			t.Errorf("%q leads to %q, want %q", path, got, want)
		}
	}
}

func TestRowFieldFindsTheRow(t *testing.T) {
	t.Parallel()
	rows := []int{0, 2}
	for field, want := range map[string]string{
		"batches[1].bags": "batches[2].bags", "batches[0].species": "batches[0].species", "batches[1].inoculated_at": "inoculated_at",
		"batches[1].conditions.flow_hood": "conditions.flow_hood", "batches[1].bag_conditions[0].bags": "batches[2].bag_conditions[0].bags",
		"batches[1].bag_conditions[0].conditions.gloves": "batches[2].bag_conditions[0].conditions", "lab_day": "lab_day",
	} {
		if got := rowField(field, rows); got != want {
			t.Errorf("%s stands at %s, want %s", field, got, want)
		}
	}
}

func TestShareWords(t *testing.T) {
	t.Parallel()
	for rate, want := range map[float64]string{0: "0\u00a0%", 0.004: "0.4\u00a0%", 0.05: "5\u00a0%", 0.0951: "9.5\u00a0%", 0.5: "50\u00a0%", 1: "100\u00a0%"} {
		if got := shareWords(rate); got != want {
			t.Errorf("%g: %q, want %q", rate, got, want)
		}
	}
}
