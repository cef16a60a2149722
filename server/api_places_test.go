package server

import (
	"encoding/csv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestPlaceOverTheAPI: what should stand at a place, what was seen otherwise, and
// the same as a table.
func TestPlaceOverTheAPI(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, here := b.markedKings("3", "room 1 > rack 1")
	_, there := b.markedKings("1", "room 1 > rack 2")
	room, rack := b.place("room 1", "20"), b.codeOfPlace("room 1 > rack 1")
	b.walk("clean", "room 1 > rack 2")
	b.sees(here[2]).ok()
	got := b.get("/api/v1/places/" + room).want(200)
	for path, want := range map[string]any{"name": "room 1", "capacity_bags": 20.0, "bags": 4.0} {
		if v := got.at("place", path); v != want {
			t.Errorf("%s is %v, want %v", path, v, want)
		}
	}
	if v := got.at("parts", 0, "bags"); v != 3.0 {
		t.Errorf("rack 1 has %v bags", v)
	}
	got = b.get("/api/v1/places/" + strings.ToLower(rack)).want(200)
	if got.at("bags", 2, "code") != here[2] || got.at("seen_elsewhere", 0, "code") != here[2] || got.at("seen_elsewhere", 0, "seen", "place") != "room 1 > rack 2" || got.at("last_round") != nil {
		t.Errorf("rack 1: %s", got.body)
	}
	got = b.get("/api/v1/places/" + b.codeOfPlace("room 1 > rack 2")).want(200)
	if got.at("seen_here", 0, "place") != "room 1 > rack 1" || got.at("not_seen", 0, "code") != there[0] || got.at("last_round", "by") != "Ana" {
		t.Errorf("rack 2: %s", got.body)
	}
	b.get("/api/v1/places/"+here[0]).refused(404, "not_found")

	rows, err := csv.NewReader(strings.NewReader(string(b.get("/api/v1/export/places.csv").want(200).body))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := [][]string{{"code", "name", "capacity_bags", "touching", "volume_m3", "bags", "bags_with_parts", "seen_elsewhere", "seen_here"},
		{room, "room 1", "20", "", "", "0", "4", "1", "0"}, {rack, "room 1 > rack 1", "", "", "", "3", "3", "1", "0"},
		{b.codeOfPlace("room 1 > rack 2"), "room 1 > rack 2", "", "", "", "1", "1", "0", "1"}}
	if diff := cmp.Diff(want, rows); diff != "" {
		t.Errorf("places.csv (-want +got):\n%s", diff)
	}
}

// TestPlaceIsRenamed over the API and on its page: a rack that goes to another
// room takes its bags along, its label opens it, and a phone that has a move to it
// under way goes on.
func TestPlaceIsRenamed(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.markedKings("2", "room 1 > rack 1")
	rack := b.codeOfPlace("room 1 > rack 1")
	b.place("room 9", "")
	r := b.request("PATCH", "/api/v1/places/"+rack, `{"name":"room 9"}`)
	b.send(r).refused(400, "invalid", "name")
	p := b.filled(b.open("/S/"+rack), "form[action$='/name']", "name", "Room 9")
	p.want(400)
	p.says(".note.bad", "cannot be called that").has(1, "details[open] form[action$='/name']")
	other := b.place("room 1 > rack 7", "")
	b.sees(other).ok().says("h1", "Now: room 1 > rack 7")
	r = b.request("PATCH", "/api/v1/places/"+other, `{"name":"room 2 > rack 8"}`)
	if got := b.send(r).want(200); got.at("place", "name") != "room 2 > rack 8" || got.at("place", "bags") != 0.0 {
		t.Errorf("renamed: %s", got.body)
	}
	b.filled(b.open("/S/"+rack), "form[action$='/name']", "name", "room 2 > rack 1").ok().says("h1", "room 2 > rack 1").says("main", "2 bags")
	b.sees(codes[0]).ok()
	for i, want := range []string{"room 2 > rack 8", "room 2 > rack 1"} {
		if got := deref(b.bag(codes[i]).Place); got != want {
			t.Errorf("bag %d stands at %s, want %s", i+1, got, want)
		}
	}
}
