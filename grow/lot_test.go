package grow

import (
	"errors"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestLotDraftNamesWhatIsWrong(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 11, 22, 15, 0, 0, 0, time.UTC)
	on := func(text string) *Date { d, _ := ParseDate(text); return &d }
	slug := Slug("no-such")
	for _, c := range []struct {
		name  string
		draft LotDraft
		want  []string
	}{
		{"nothing", LotDraft{}, []string{"kind", "name"}},
		{"whole", LotDraft{LotFields: LotFields{Kind: SpawnLot, Name: "S-31", MadeFrom: []string{"C-7"}, MadeOn: on("2026-11-20"), ExpiresOn: on("2027-01-20")}, Jars: 12}, nil},
		{"unknown kind and species", LotDraft{LotFields: LotFields{Kind: "jar", Name: "x", Species: &slug}}, []string{"kind", "species"}},
		{"dates", LotDraft{LotFields: LotFields{Kind: CultureLot, Name: "x", MadeOn: on("2026-11-24")}}, []string{"made_on"}},
		{"ends before it begins", LotDraft{LotFields: LotFields{Kind: CultureLot, Name: "x", MadeOn: on("2026-11-20"), ExpiresOn: on("2026-11-19")}}, []string{"expires_on"}},
		{"sources twice and without a name", LotDraft{LotFields: LotFields{Kind: SpawnLot, Name: "x", MadeFrom: []string{"C-7", " c-7", ""}}}, []string{"made_from[1]", "made_from[2]"}},
		{"jars", LotDraft{LotFields: LotFields{Kind: SpawnLot, Name: strings.Repeat("x", 61)}, Jars: 501}, []string{"jars", "name"}},
	} {
		err := c.draft.Validate(now, time.UTC, func(s Slug) bool { return s == "pleurotus-eryngii" })
		var e *Error
		var got []string
		if errors.As(err, &e) {
			got = slices.Sorted(maps.Keys(e.Fields))
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

// TestStockTakesFewerKinds: a lot or a jar has no bag's conditions, harvests or
// fruiting.
func TestStockTakesFewerKinds(t *testing.T) {
	t.Parallel()
	grams := 3.0
	for _, c := range []struct {
		draft Draft
		want  bool
	}{
		{Draft{Kind: KindLook}, true},
		{Draft{Kind: KindColonised, Details: Details{Pct: &grams}}, true},
		{Draft{Kind: KindContaminated, Details: Details{What: "green_mould"}}, true},
		{Draft{Kind: KindShake}, true},
		{Draft{Kind: KindCull, Details: Details{Why: "old"}}, true},
		{Draft{Kind: KindContaminated}, false},
		{Draft{Kind: KindHarvest, Details: Details{Grams: &grams}}, false},
		{Draft{Kind: KindCondition, Details: Details{Key: "flow_hood", Value: KnownValue("off")}}, false},
		{Draft{Kind: KindFruiting}, false},
		{Draft{Kind: "dance"}, false},
	} {
		c.draft.ID = "3f2b8c1e-0d4a-4c6b-9e55-7a1d2c3b4e5f"
		if err := c.draft.ValidateStock(); (err == nil) != c.want {
			t.Errorf("%s: %v", c.draft.Kind, err)
		}
	}
}
