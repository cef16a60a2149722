package server

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"
)

// warmRoom is a farm whose enoki stands with oyster in an incubator at 24 °C.
func warmRoom(t *testing.T) (*browser, string) {
	t.Helper()
	b := newTestBrowser(t)
	for species, bags := range map[string]string{"flammulina-filiformis": "8", "pleurotus-ostreatus": "12", "lentinula-edodes": "6"} {
		b.post("/api/v1/batches", `{"species":"`+species+`","inoculated_at":"2026-11-24T09:00:00Z","bags":`+bags+`,"bag_wet_g":2500,"place":"incubator > rack 1"}`).want(201)
	}
	var list []grow.AirReading
	for i := range 24 * 6 {
		c, ppm := 24.0, 5200.0
		list = append(list, grow.AirReading{At: noon.Add(-time.Duration(i) * 10 * time.Minute), TempC: &c, CO2ppm: &ppm})
	}
	kept, err := b.store.AddReadings(t.Context(), store.Actor{Person: "sensor"}, "incubator", list, nil, store.FromSensor)
	if err != nil {
		t.Fatal(err)
	}
	return b, "/S/" + string(kept.Place.Code)
}

func TestAirOfAWarmRoom(t *testing.T) {
	t.Parallel()
	b, at := warmRoom(t)
	p := b.open(at + "/air").ok()
	text := strings.Join(strings.Fields(p.Find("main").Text()), " ")
	for _, want := range []string{
		"22.0 suits all three.", "Over the last day it was 24.0 °C: enoki is 2 over.", "would bring enoki (8 bags) into band",
		"A second room changes little", "Over 5,000 ppm: air the room", "common practice",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q:\n%s", want, text[:min(len(text), 1200)])
		}
	}
	b.submit(at+"/air", url.Values{"volume_m3": {"30"}, "touching": {""}}).led()
	if text := b.open(at + "/air").ok().Find("main").Text(); !strings.Contains(text, "65 kg of growing bags in 30 m³") {
		t.Error("the page says nothing of what 26 bags of 2.5 kg breathe out")
	}
	b.open("/rooms").ok().has(1, `a[href="`+at+`/air"]`)
}

func TestAirIsTypedAndTakenBack(t *testing.T) {
	t.Parallel()
	b, at := warmRoom(t)
	b.submit(at+"/reading", url.Values{"temp": {"19,5"}, "rh": {"88"}, "at": {"2026-11-25T11:59:30"}}).led()
	if got := b.get("/api/v1/readings?place=incubator&from=2026-11-25T11:59:00Z").want(200).at("readings", 0, "temp_c"); got != 19.5 {
		t.Errorf("kept as %v", got)
	}
	if p := b.submit(at+"/reading", url.Values{"temp": {"cold"}}); p.status != 400 || p.Find(".error").Length() == 0 {
		t.Errorf("a word for a temperature: %d", p.status)
	}
	if p := b.submit(at+"/log", url.Values{"id": {id(901)}, "kind": {"set_point"}, "set": {"-5"}}); p.status != 400 || !strings.Contains(p.Find(".error").Text(), "0 to 45") {
		t.Errorf("a thermostat set to -5: %d, %q", p.status, p.Find(".error").Text())
	}
	if p := b.open(at + "/air?plan=lentinula-edodes&plan_bags=many"); p.status != 400 || !strings.Contains(p.Find(".error").Text(), "1 to 100000") {
		t.Errorf("a word for a number of bags: %d, %q", p.status, p.Find(".error").Text())
	}
	source := b.open(at+"/air").ok().Find(`button[name="source"]`).AttrOr("value", "")
	b.submit(at+"/take-back", url.Values{"source": {source}}).led()
	b.open(at+"/air").ok().has(0, `button[name="source"]`)
	id := "10000000-0000-4000-8000-000000000009"
	b.submit(at+"/log", url.Values{"id": {id}, "kind": {"filter_changed"}}).led()
	b.submit(at+"/log", url.Values{"id": {"10000000-0000-4000-8000-000000000008"}, "kind": {"set_point"}, "set": {"22"}, "at": {"2026-11-25T10:00"}}).led()
	if p := b.submit(at+"/log", url.Values{"id": {"10000000-0000-4000-8000-000000000007"}, "kind": {"set_point"}}); p.status != 400 {
		t.Errorf("a thermostat set to nothing: %d", p.status)
	}
	b.open(at+"/air").ok().has(2, `button[name="line"]`)
	b.submit(at+"/take-back", url.Values{"line": {id}}).led()
	b.open(at+"/air").ok().has(1, `button[name="line"]`)
}

// TestAirInFahrenheit: what is typed in °F is kept in °C and comes back as typed.
func TestAirInFahrenheit(t *testing.T) {
	t.Parallel()
	b, at := warmRoom(t)
	if err := b.store.PutSettings(t.Context(), store.Actor{Person: "Ana"}, func(s *store.Settings) error { s.Writing = grow.UnitsOf("imperial"); return nil }); err != nil {
		t.Fatal(err)
	}
	b.submit(at+"/reading", url.Values{"temp": {"70.3"}, "at": {"2026-11-25T12:00:01"}}).led()
	text := b.open(at + "/air").ok().Find("main").Text()
	for _, want := range []string{"70.3 °F", "71.6 suits all three."} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

// TestOddReadingsAreAskedAbout: five under freezing is asked about once, a time to
// come is refused at its own field.
func TestOddReadingsAreAskedAbout(t *testing.T) {
	t.Parallel()
	b, at := warmRoom(t)
	p := b.submit(at+"/reading", url.Values{"temp": {"-5"}, "at": {"2026-11-25T11:58:30"}})
	if text := p.Find(".error").Text(); p.status != 400 || !strings.Contains(text, "-5.0 °C, sure?") || p.Find(`input[name="sure"]`).Length() != 1 {
		t.Errorf("status %d, %q", p.status, text)
	}
	b.submit(at+"/reading", url.Values{"temp": {"-5"}, "sure": {"yes"}, "at": {"2026-11-25T11:58:30"}}).led()
	p = b.submit(at+"/reading", url.Values{"temp": {"21"}, "at": {"2026-11-25T13:30"}})
	if text := p.Find("#f-at").Parent().Find(".error").Text(); p.status != 400 || !strings.Contains(text, "is in the future") {
		t.Errorf("status %d, at its field %q", p.status, text)
	}
}

// TestAirSaysWhatWasKept: in the farm's writing, with an undo that takes it back.
func TestAirSaysWhatWasKept(t *testing.T) {
	t.Parallel()
	b, at := warmRoom(t)
	if err := b.store.PutSettings(t.Context(), store.Actor{Person: "Ana"}, func(s *store.Settings) error { s.Writing = grow.UnitsOf("imperial"); return nil }); err != nil {
		t.Fatal(err)
	}
	b.submit(at+"/reading", url.Values{"temp": {"76"}, "at": {"2026-11-25T12:00:01"}}).led()
	p := b.open(at+"/air?did=said").ok().says(".did", "Kept: 76.0 °F at 12:00")
	path, fields := p.form(".did form", "source", p.Find(".did button[name=source]").AttrOr("value", ""))
	b.submit(path, fields).led()
	b.open(at+"/air?did=said").ok().says(".did", "Taken back: 1 reading.").has(0, ".did form")
	b.submit(at+"/log", url.Values{"id": {id(905)}, "kind": {"set_point"}, "set": {"70"}}).led()
	b.open(at+"/air?did=said").ok().says(".did", "Kept: thermostat set to 70.0 °F").has(1, ".did button[name=line]")
	if p := b.submit(at+"/log", url.Values{"id": {id(906)}, "kind": {"set_point"}, "set": {"200"}}); !strings.Contains(p.Find(".error").Text(), "32 to 113 °F") {
		t.Errorf("a thermostat at 200 °F: %q", p.Find(".error").Text())
	}
	// 24 °C is 75.2 °F: -5 °F, and 40 °F which is above freezing, are asked about.
	for _, temp := range []string{"-5", "40"} {
		if p := b.submit(at+"/reading", url.Values{"temp": {temp}}); p.status != 400 || !strings.Contains(p.Find(".error").Text(), temp+".0 °F, sure?") {
			t.Errorf("%s °F in a room of 75: %d, %q", temp, p.status, p.Find(".error").Text())
		}
	}
	if p := b.submit(at+"/reading", url.Values{"rh": {"140"}}); p.status != 400 || strings.Contains(p.Text(), "rh_pct") || !strings.Contains(p.Find("#f-rh").Parent().Find(".error").Text(), "must be 0 to 100") {
		t.Errorf("a humidity of 140: %d", p.status)
	}
}

// TestASensorOfFahrenheit: 76 posted as °C into a room of 24 °C is kept and asked
// about; one tap takes it back, another undoes that.
func TestASensorOfFahrenheit(t *testing.T) {
	t.Parallel()
	b, at := warmRoom(t)
	b.post("/api/v1/readings", `{"place":"incubator","readings":[{"at":"2026-11-25T12:00:30Z","temp_c":76},{"at":"2026-11-25T12:01:30Z","temp_c":76.2}]}`).want(201)
	p := b.open(at+"/air").ok().says(".note", "76.0 °C at").says(".note", "1 more reading since").says(".note", "Does the sensor send °F?")
	checkMarkup(t, p)
	path, fields := p.form("form.note")
	b.submit(path, fields).led()
	p = b.open(at+"/air?did=said").ok().says(".did", "Taken back: 2 readings.").has(0, "form.note")
	var left struct{ Readings []grow.AirReading }
	if b.get("/api/v1/readings?place=incubator&from=2026-11-25T12:00:01Z").want(200).into(&left); len(left.Readings) != 0 {
		t.Errorf("still of the room: %v", left.Readings)
	}
	path, fields = p.form(".did form", "undo", p.Find(".did button[name=undo]").AttrOr("value", ""))
	b.submit(path, fields).led()
	p = b.open(at+"/air?did=said").ok().says(".did", "Kept again: 2 readings.").has(1, "form.note")
	sensor := p.Find("form.note input[name=sensor]").AttrOr("value", "")
	if p := b.submit(at+"/take-back", url.Values{"sensor": {sensor}}); p.status != 400 || !strings.Contains(p.Text(), "say from when") {
		t.Errorf("a span of nothing: %d", p.status)
	}
	b.submit(at+"/take-back", url.Values{"sensor": {sensor}, "from": {"2026-11-25T11:00"}, "over": {"50"}}).led()
	b.open(at+"/air?did=said").ok().says(".did", "Taken back: 2 readings.").has(0, "form.note")
}

// TestTypedReadingsShowTheirValue: what is taken back is seen before.
func TestTypedReadingsShowTheirValue(t *testing.T) {
	t.Parallel()
	b, at := warmRoom(t)
	b.submit(at+"/reading", url.Values{"temp": {"19,5"}, "rh": {"88"}, "at": {"2026-11-25T11:59:30"}}).led()
	b.open(at+"/air").ok().says("main", "typed 19.5 °C, 88 %: 1 reading")
}
