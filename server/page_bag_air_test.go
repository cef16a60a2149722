package server

import (
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"
)

// air gives a place hourly readings of one temperature over the last days.
func (b *browser) air(place string, days int, celsius float64) {
	b.t.Helper()
	var list []grow.AirReading
	for h := range days * 24 {
		list = append(list, grow.AirReading{At: b.clock.Now().Add(-time.Duration(h) * time.Hour), TempC: &celsius})
	}
	if _, err := b.store.AddReadings(b.t.Context(), store.Actor{Person: "sensor"}, place, list, nil, store.FromSensor); err != nil {
		b.t.Fatal(err)
	}
}

// TestAirOfABag: king oyster, whose band ends at 25 °C, a week at 26 °C after days
// of which nothing is known.
func TestAirOfABag(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("2", `,"place":"room 2 > rack 3"`)
	at := "/B/" + codes[0]
	if p := b.open(at).ok(); strings.Contains(p.Find("main").Text(), "Its air") {
		t.Error("the bag's page speaks of air that nobody knows")
	}
	if text := b.open(at + "/air").ok().Find("main").Text(); !strings.Contains(text, "Nothing is known of the air of any place yet") {
		t.Errorf("the page says %q", text)
	}
	b.days(8)
	b.air("room 2", 7, 26)
	text := strings.Join(strings.Fields(b.open(at).ok().Find("main").Text()), " ")
	for _, want := range []string{"Its air: 7 of 10.9 days known, 7 of them out of its band", "Counted with the room: lately 26.0 °C, about 28.0 in the core, about 9 in 100 slower than at 23.0 °C."} {
		if !strings.Contains(text, want) {
			t.Errorf("the bag's page lacks %q:\n%s", want, text)
		}
	}
	p := b.open(at + "/air").ok()
	text = strings.Join(strings.Fields(p.Find("main").Text()), " ")
	for _, want := range []string{"7 of 10.9 days known: 7 measured. 3.9 days unknown.", "7 days over its band", "room 2 > rack 3", "in 100 of the growth at its best temperature", "still growing", "common practice"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q:\n%s", want, text)
		}
	}
	body := b.get("/api/v1/bags/" + codes[0]).want(200)
	if got := body.at("exposure", "days_above"); got.(float64) < 6.9 || got.(float64) > 7.1 {
		t.Errorf("the API says %v days above", got)
	}
	if got := body.at("forecast", "room", "air_c"); got != 26.0 {
		t.Errorf("the API says the room is at %v", got)
	}
}
