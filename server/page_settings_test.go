package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"bagmark/grow"
	"bagmark/labels"
	"bagmark/store"
)

func TestSettingsForm(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	p := b.open("/settings").ok()
	bad := b.fill(p, "form[action='/settings']", "time_zone", "Mars/Base", "margin", "150")
	bad.want(http.StatusBadRequest)
	bad.has(1, "#f-time-zone[aria-invalid=true][value='Mars/Base']").has(1, "#f-margin[aria-invalid=true]")
	led := b.fill(p, "form[action='/settings']", "name", "Mill", "margin", "2,5", "public", "http://farm.local:8080", "grown", "hericium-erinaceus").led()
	b.open(led).ok().says("[role=status]", "Kept").has(1, "#f-margin[value='2.5']").has(1, "#f-public[value='http://farm.local:8080']")
	farm, err := b.store.Farm(t.Context())
	if err != nil || farm.Name != "Mill" || farm.Margin != 0.025 || farm.Public != "http://FARM.LOCAL:8080" || len(farm.Grown) != 1 {
		t.Errorf("%+v %v", farm.Settings, err)
	}
}

// TestHowYouWriteIt: units follow where temperature and weight agree.
func TestHowYouWriteIt(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	p := b.open("/settings").ok().has(1, "#f-clock option[value='24'][selected]")
	b.fill(p, "form[action='/settings']", "temperature", "k").want(http.StatusBadRequest)
	for _, x := range []struct{ temperature, weight, units string }{{"f", "imperial", "imperial"}, {"c", "imperial", "imperial"}, {"c", "metric", "metric"}} {
		led := b.fill(p, "form[action='/settings']", "temperature", x.temperature, "weight", x.weight, "paper", "letter", "clock", "12", "week_starts", "saturday").led()
		p = b.open(led).ok().has(1, "#f-temperature option[value='"+x.temperature+"'][selected]").has(1, "#f-week-starts option[value=saturday][selected]")
		farm, err := b.store.Farm(t.Context())
		want := store.Writing{Temperature: grow.DegreeUnit(x.temperature), Weight: grow.WeightUnit(x.weight), Paper: grow.Letter, Clock: grow.Hours12, WeekStarts: grow.FromSaturday}
		if err != nil || farm.Writing != want || farm.Units != x.units {
			t.Errorf("%+v %s, want %+v %s (%v)", farm.Writing, farm.Units, want, x.units, err)
		}
	}
}

func TestConditionForms(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	p := b.open("/conditions").ok()
	b.fill(p, "details form:has(#f-label)", "label", "Night shift", "values", "yes\nno", "normal", "no", "short", "night").led()
	farm, err := b.store.Farm(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	c := farm.Conditions["night_shift"]
	if yes := "yes"; c.Label != "Night shift" || len(c.Values) != 2 || c.Printed(&yes) != "NIGHT" {
		t.Errorf("%+v", c)
	}
	before := farm.Conditions["flow_hood"]
	b.fill(b.open("/conditions").ok(), "form:has([name=key][value=flow_hood])", "shorts.off", "no air").led()
	farm, _ = b.store.Farm(t.Context())
	if off := "off"; farm.Conditions["flow_hood"].Printed(&off) != "NO AIR" || len(farm.Conditions["flow_hood"].Values) != len(before.Values) || farm.Conditions["flow_hood"].Explains != before.Explains {
		t.Errorf("%+v", farm.Conditions["flow_hood"])
	}
	bad := b.fill(p, "details form:has(#f-label)", "label", "", "values", "")
	bad.want(http.StatusBadRequest)
	bad.has(1, "details[open] #f-label[aria-invalid=true]")
}

func TestSpeciesForm(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	p := b.open("/species/pleurotus-eryngii").ok().says("table", "common practice")
	bad := b.fill(p, "main form", "low", "30")
	bad.want(http.StatusBadRequest)
	bad.has(1, "#f-low[value='30']")
	b.fill(p, "main form", "low", "14", "typical", "19", "high", "26").led()
	b.open("/species/pleurotus-eryngii").ok().says("table", "14 – 19 – 26your farm's own")
	b.fill(b.open("/species/pleurotus-eryngii").ok(), "main form", "strain", "Black Pearl", "ripe_low", "5", "ripe_high", "12").led()
	b.open("/species").ok().says("main", "Black Pearl of pleurotus-eryngii")
	strain := "black pearl"
	farm, err := b.store.Farm(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if sp, _ := farm.SpeciesOf("pleurotus-eryngii", &strain); sp.RipeningDays.Low != 5 || sp.SpawnRun.Days.Low != 14 {
		t.Errorf("%+v", sp)
	}
}

func TestSheetForms(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	own := []string{"name", "my-2x5", "page_w_mm", "210", "page_h_mm", "297", "label_w_mm", "90", "label_h_mm", "50", "columns", "2", "rows", "5", "left_mm", "10", "top_mm", "10", "pitch_x_mm", "95", "pitch_y_mm", "55"}
	bad := b.fill(b.open("/sheets").ok(), "form[action='/sheets']:has(#f-name)", append(own, "rows", "9")...)
	bad.want(http.StatusBadRequest)
	bad.has(1, "details[open] #f-rows[aria-invalid=true]")
	b.fill(b.open("/sheets").ok(), "form[action='/sheets']:has(#f-name)", own...).led()
	p := b.open("/sheets").ok().says("summary", "my-2x5 (yours)")
	sheet, _ := labels.SheetByName(usualSheet)
	across, down := labels.Rulers(sheet)
	b.fill(p, "form[action='/sheets/correction']:has([value='"+usualSheet+"'])", "across", numberWords(across*0.99), "down", numberWords(down), "left", "6", "top", "5").led()
	all, err := allStock(t.Context(), b.store)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range all {
		if s.Name == usualSheet && (s.Correction.ScaleX < 10 || s.Correction.ScaleX > 10.2 || s.Correction.OffsetX > -1) {
			t.Errorf("correction %+v", s.Correction)
		}
	}
	for _, path := range []string{"/sheets/my-2x5/calibration.pdf", "/sheets/" + usualSheet + "/calibration.pdf?corrected=1"} {
		if got := b.open(path).ok(); !strings.HasPrefix(string(got.body), "%PDF") {
			t.Errorf("%s is no PDF", path)
		}
	}
	b.submit("/sheets", url.Values{"name": {"my-2x5"}, "act": {"remove"}}).led()
	b.submit("/sheets/correction", url.Values{"sheet": {usualSheet}, "act": {"remove"}}).led()
	b.open("/sheets").ok().has(0, "summary:contains('yours'), summary:contains('corrected')")
}

// TestPrint: every print form fetches a PDF.
func TestPrint(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, _ := b.kings("3", `,"lab_day":"Lab one","place":"room 2","spawn_lot":"rye 31"`)
	blanks := b.fill(b.open("/print").ok(), "form[action='/print/blanks']", "count", "4").led()
	place := b.fill(b.open("/print").ok(), "form[action='/print/places']", "name", "room 2 > rack 9").led()
	for _, path := range []string{"/print?batch=" + batch, "/print?lab_day=Lab+one", blanks, place} {
		action, v := b.open(path).ok().form("main form[method=get]", "start", "3", "copies", "2")
		if got := b.open(action + "?" + v.Encode()).ok(); !strings.HasPrefix(string(got.body), "%PDF") {
			t.Errorf("%s gives no PDF", path)
		}
	}
	action, v := b.open("/print").ok().form("form[action='/print/stickers.pdf']", "word", "HOOD OFF", "copies", "5", "sheet", "roll-57x32")
	if got := b.open(action + "?" + v.Encode()).ok(); !strings.HasPrefix(string(got.body), "%PDF") {
		t.Error("no stickers")
	}
	b.open("/print/stickers.pdf").want(http.StatusBadRequest)
	bad := b.fill(b.open("/print").ok(), "form[action='/print/blanks']", "count", "many")
	bad.want(http.StatusBadRequest)
	bad.has(1, "#f-count[aria-invalid=true][value=many]")
}
