package server

import (
	"strings"
	"testing"
)

// TestClimateOverTheAPI: a day at 24 °C, two over enoki's band (14 to 22 °C, common
// practice).
func TestClimateOverTheAPI(t *testing.T) {
	t.Parallel()
	b, at := warmRoom(t)
	path := "/api/v1/places/" + at[len("/S/"):] + "/climate"
	got := b.get(path + "?days=3").want(200)
	if n := len(got.at("stands").([]any)); n != 3 {
		t.Fatalf("%d kinds of bags stand there, want 3", n)
	}
	for i, raw := range got.at("stands").([]any) {
		if raw.(map[string]any)["species"] != "flammulina-filiformis" {
			continue
		}
		if above := got.at("stands", i, "exposure", "days_above").(float64); above < .9 || above > 1.1 {
			t.Errorf("enoki: %v days above its band", above)
		}
	}
	for want, at := range map[any][]any{24.0: {"last_day_c"}, 22.0: {"set_points", "in_band_c"}, 0.0: {"set_points", "out_c"}, "incubator": {"measured_in"}} {
		if is := got.at(at...); is != want {
			t.Errorf("%v is %v, want %v", at, is, want)
		}
	}
	b.get(path+"?days=0").refused(400, "invalid", "days")
	if words := got.at("words", 0).(string); !strings.HasPrefix(words, "22.0 suits all three.") {
		t.Errorf("words: %s", words)
	}
	_, codes := b.kings("1", ``)
	b.get("/api/v1/places/"+codes[0]+"/climate").refused(404, "not_found")
	b.post("/api/v1/places", `{"name":"attic"}`).want(201)
	empty := b.get("/api/v1/places/" + b.codeOfPlace("attic") + "/climate").want(200)
	if empty.at("newest") != nil || empty.at("set_points") != nil || empty.at("last_day_c") != nil {
		t.Errorf("of an attic nobody measured: %v", empty.at("newest"))
	}
}
