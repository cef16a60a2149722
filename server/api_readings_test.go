package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"bagmark/store"
)

func TestASensorPostsReadings(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	body := `{"place":"incubator","readings":[{"at":"2026-11-25T11:50:00+00:00","temp_c":22.4,"rh_pct":93},{"at":"2026-11-25T11:55:00Z","temp_c":22.5,"co2_ppm":1800}]}`
	post := func(body string) *reply {
		return h.send(h.as(store.Sensor, h.request(http.MethodPost, "/api/v1/readings", body)))
	}
	if got := post(body).want(201); got.at("stored") != 2.0 || got.at("known") != 0.0 {
		t.Errorf("first: %s", got.body)
	}
	if got := post(body).want(200); got.at("stored") != 0.0 || got.at("known") != 2.0 {
		t.Errorf("again: %s", got.body)
	}
	half := strings.Replace(body, `22.4`, `99`, 1)
	if got := post(strings.Replace(half, "11:50", "11:51", 1)).want(200); got.at("refused", 0, "index") != 0.0 {
		t.Errorf("one bad: %s", got.body)
	}
	post(`{"place":"incubator","readings":[{"at":"2026-11-25T11:50:00Z","temp_c":200}]}`).refused(400, "invalid", "readings[0]")
	post(`{"place":"incubator","readings":[{"at":"yesterday","temp_c":20}]}`).refused(400, "invalid", "readings[0].at")
	post(`{"place":"incubator","readings":[{"at":"2026-11-25T11:50:00Z","temp":20}]}`).refused(400, "invalid", "readings[0].temp")
	list := h.get("/api/v1/readings?place=incubator").want(200)
	if list.at("readings", 0, "temp_c") != 22.4 || list.at("readings", 1, "co2_ppm") != 1800.0 {
		t.Errorf("list: %s", list.body)
	}
	h.send(h.as(store.Sensor, h.request(http.MethodGet, "/api/v1/readings?place=incubator", ""))).refused(403, "forbidden")
	h.post("/api/v1/readings", body).want(200) // a grower may too
	h.send(h.as(store.Viewer, h.request(http.MethodPost, "/api/v1/readings", body))).refused(403, "forbidden")
	h.get("/api/v1/readings").refused(400, "invalid", "place")
	h.get("/api/v1/readings?place=incubator&from=now").refused(400, "invalid", "from")
	if csv := string(h.get("/api/v1/export/readings.csv").want(200).body); strings.Count(csv, "\r\n") != 3 {
		t.Errorf("export:\n%s", csv)
	}
}

// TestASensorOverABadLine: each answer may be lost after it was given, and the
// sensor sends all of its last readings again until it hears one.
func TestASensorOverABadLine(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	var waiting []string
	for minute := range 60 {
		waiting = append(waiting, fmt.Sprintf(`{"at":"2026-11-25T11:%02d:00Z","temp_c":%d.5}`, minute, 20+minute%5))
		got := h.send(h.as(store.Sensor, h.request(http.MethodPost, "/api/v1/readings", `{"place":"room","readings":[`+strings.Join(waiting, ",")+`]}`)))
		if got.status != 200 && got.status != 201 {
			t.Fatal(got.status, string(got.body))
		}
		if minute%7 == 0 {
			waiting = nil // this answer came through
		}
	}
	var page struct{ Readings []json.RawMessage }
	h.get("/api/v1/readings?place=room&limit=200").want(200).into(&page)
	if len(page.Readings) != 60 {
		t.Errorf("%d readings on record, want 60", len(page.Readings))
	}
}

func TestRoomLogOfTheAPI(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	code := h.post("/api/v1/places", `{"name":"incubator"}`).want(201).at("place", "code").(string)
	at := "/api/v1/places/" + code
	line := `{"id":"10000000-0000-4000-8000-000000000001","kind":"set_point","at":"2026-11-25T10:00:00Z","temp_c":22}`
	h.post(at+"/log", line).want(201)
	h.post(at+"/log", line).want(200)
	h.post(at+"/log", strings.Replace(line, "22", "23", 1)).want(409)
	cleaned := `{"id":"10000000-0000-4000-8000-000000000002","kind":"cleaned"}`
	first := h.post(at+"/log", cleaned).want(201).at("line", "at")
	h.clock.move(time.Minute)
	if again := h.post(at+"/log", cleaned).want(200).at("line", "at"); again != first { // the time of the first
		t.Errorf("the same line again is at %v, was at %v", again, first)
	}
	h.post(at+"/log/10000000-0000-4000-8000-000000000001/take-back", "").want(200)
	got := h.get(at + "/log").want(200)
	if got.at("log", 0, "kind") != "cleaned" || got.at("log", 1, "taken_back_at") == nil {
		t.Errorf("%s", got.body)
	}
	h.get("/api/v1/places/7K3M9QXR/log").want(404)
	put := func(body string) *reply { return h.send(h.request(http.MethodPut, at+"/air", body)) }
	if got := put(`{"volume_m3":30,"touching":true}`).want(200); got.at("volume_m3") != 30.0 || got.at("touching") != true {
		t.Errorf("%s", got.body)
	}
	put(`{"volume_m3":0}`).refused(400, "invalid", "volume_m3")
}
