package grow_test

import (
	"strings"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func knowsKing(s grow.Slug) bool { return s == "pleurotus-eryngii" }

func TestBatchDraftValidate(t *testing.T) {
	t.Parallel()
	now := moment(t, "2026-11-22T15:00:00Z")
	hoodOff := map[string]*string{"flow_hood": new("off")}
	blanks := newCodes(t, 3)
	tests := []struct {
		name   string
		change func(*grow.BatchDraft)
		want   []string
	}{
		{"as little as can be", func(d *grow.BatchDraft) {}, nil},
		{"as much as can be", func(d *grow.BatchDraft) {
			*d = grow.BatchDraft{ID: new(grow.ID(strings.ToUpper(someID))), Bags: 2000, Blanks: blanks,
				BagConditions: []grow.BagConditions{{Bags: "7-11", Conditions: hoodOff}, {About: 6, Conditions: hoodOff}},
				BatchFields: grow.BatchFields{Species: "pleurotus-eryngii", InoculatedAt: now.Add(24 * time.Hour), LabDay: new("Sunday"), Strain: new("K7"),
					BagWetG: new(100_000.0), MoisturePct: new(100.0), SpawnLot: new("S-31"), SpawnRatePct: new(0.0), SteriliserRun: new("R 9"), Recipe: new("half and half"),
					Operator: new("Ana"), Place: new("room 2 > rack 3"), Conditions: map[string]*string{"flow_hood": new("on"), "gloves": nil, "shaken": new("unknown")},
					LabelsLater: new(grow.DateOn(2026, 12, 1)), Note: new("first\nof all")}}
		}, nil},
		{"nothing", func(d *grow.BatchDraft) { *d = grow.BatchDraft{} }, []string{"bags", "inoculated_at", "species"}},
		{"species nobody knows", func(d *grow.BatchDraft) { d.Species = "amanita-muscaria" }, []string{"species"}},
		{"no bags", func(d *grow.BatchDraft) { d.Bags = 0 }, []string{"bags"}},
		{"too many bags", func(d *grow.BatchDraft) { d.Bags = 2001 }, []string{"bags"}},
		{"first day of 2000", func(d *grow.BatchDraft) { d.InoculatedAt = moment(t, "2000-01-01T00:00:00+13:00") }, nil},
		{"last day of 1999", func(d *grow.BatchDraft) { d.InoculatedAt = moment(t, "1999-12-31T23:59:59Z") }, []string{"inoculated_at"}},
		{"more than a day ahead", func(d *grow.BatchDraft) { d.InoculatedAt = now.Add(24*time.Hour + time.Second) }, []string{"inoculated_at"}},
		{"names", func(d *grow.BatchDraft) {
			d.Strain, d.SpawnLot, d.SteriliserRun, d.Recipe, d.Operator, d.Place = new(""), new(" "), new(strings.Repeat("x", 61)), new("a\nb"), new("\t"), new(">")
		}, []string{"operator", "place", "recipe", "spawn_lot", "steriliser_run", "strain"}},
		{"numbers", func(d *grow.BatchDraft) { d.BagWetG, d.MoisturePct, d.SpawnRatePct = new(0.0), new(101.0), new(-1.0) }, []string{"bag_wet_g", "moisture_pct", "spawn_rate_pct"}},
		{"note too long", func(d *grow.BatchDraft) { d.Note = new(strings.Repeat("x", 2001)) }, []string{"note"}},
		{"conditions", func(d *grow.BatchDraft) {
			d.Conditions = map[string]*string{"moon": new("full"), "gloves": new("maybe")}
		}, []string{"conditions.gloves", "conditions.moon"}},
		{"id", func(d *grow.BatchDraft) { d.ID = new(grow.ID("12")) }, []string{"id"}},
		{"bag conditions", func(d *grow.BatchDraft) {
			d.BagConditions = []grow.BagConditions{
				{Bags: "7-13", Conditions: hoodOff}, {About: 13, Conditions: hoodOff}, {Conditions: hoodOff}, {Bags: "1", About: 2, Conditions: hoodOff},
				{Bags: "1"}, {Bags: "2", Conditions: map[string]*string{"flow_hood": new("half")}}, {About: -1, Conditions: hoodOff}}
		}, []string{"bag_conditions[0].bags", "bag_conditions[1].about", "bag_conditions[2].bags", "bag_conditions[3].about", "bag_conditions[4].conditions",
			"bag_conditions[5].conditions.flow_hood", "bag_conditions[6].about"}},
		{"bag conditions of fewer than no bags", func(d *grow.BatchDraft) {
			d.Bags, d.BagConditions = -5, []grow.BagConditions{{Bags: "1", Conditions: hoodOff}}
		}, []string{"bag_conditions[0].bags", "bags"}},
		{"bag conditions of more bags than can be", func(d *grow.BatchDraft) {
			d.Bags, d.BagConditions = 1<<40, []grow.BagConditions{{Bags: "1", Conditions: hoodOff}}
		}, []string{"bags"}},
		{"more blanks than bags", func(d *grow.BatchDraft) { d.Bags, d.Blanks = 2, blanks }, []string{"blanks"}},
		{"blanks", func(d *grow.BatchDraft) { d.Blanks = []grow.Code{blanks[0], "7K3M9QX1", blanks[0]} }, []string{"blanks[1]", "blanks[2]"}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			d := grow.BatchDraft{BatchFields: grow.BatchFields{Species: "pleurotus-eryngii", InoculatedAt: now}, Bags: 12}
			test.change(&d)
			err := d.Validate(now, knowsKing, startingSet())
			if diff := cmp.Diff(test.want, faulty(err)); diff != "" {
				t.Errorf("%v; faulty fields (-want +got):\n%s", err, diff)
			}
		})
	}
}

// TestBatchCode: every batch's code has the shape ^[A-Z0-9-]{3,16}$, also the
// thousandth of a day.
func TestBatchCode(t *testing.T) {
	t.Parallel()
	on := grow.DateOn(2026, time.March, 14)
	tests := []struct {
		short string
		nth   int
		want  grow.BatchCode
	}{
		{"KING", 1, "KING-260314"}, {"KING", 2, "KING-260314-2"}, {"SHIITA", 99, "SHIITA-260314-99"}, {"SHIITA", 100, "SHIIT-260314-100"}, {"KING", 1000, "KING-260314-1000"}, {"SHIITA", 12345, "SHI-260314-12345"},
	}
	for _, test := range tests {
		if got := grow.NewBatchCode(test.short, on, test.nth); got != test.want || !got.Legal() {
			t.Errorf("batch %d of %s is %s (legal: %t), want %s", test.nth, test.short, got, got.Legal(), test.want)
		}
	}
	for _, s := range grow.BuiltInSpecies() {
		if c := grow.NewBatchCode(s.Short, on, 2); !c.Legal() {
			t.Errorf("%s: %q is not a legal code", s.Slug, c)
		}
	}
	for _, bad := range []grow.BatchCode{"", "AB", "KING 1", "king-1", "ABCDEFGHIJKLMNOPQ", "KÖNIG", "KING\n"} {
		if bad.Legal() {
			t.Errorf("%q is taken for a batch's code", bad)
		}
	}
}
