package server

import (
	"net/http"
	"testing"
)

// TestMakingUpSubstrate: 800 g of pellets at 8 % and 150 g of bran at 12 %, aimed
// at 62 %, take 1,334 g of water (standard definitions); what comes out goes on
// into the lab day.
func TestMakingUpSubstrate(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.open("/substrate").ok()
	p := b.open("/substrate?name0=oak&wet0=800&moisture0=8&name1=bran&wet1=150&moisture1=12&supplement1=yes&target_pct=62&bag_wet_g=1000&spawn_pct=4&oven_before=20&oven_after=7,62").ok()
	p.says(".far", "Add 1.33 kg of water").says("section .lead", "868 g dry, 15.2 % of it supplement").says("section", "2 bags of 1.00 kg and 284 g over").
		says("section", "Spawn: 40 g a bag, 91 g in all").says("main", "had 61.9 % moisture").has(0, "section .note")
	day := b.open(p.Find("section a.button").AttrOr("href", "")).ok()
	for field, want := range map[string]string{"recipe": "oak 85, bran 15", "bag_wet_g": "1000", "moisture_pct": "62", "spawn_rate_pct": "4"} {
		if got := day.Find("[name="+field+"]").AttrOr("value", ""); got != want {
			t.Errorf("the lab day's %s is %q, want %q", field, got, want)
		}
	}
	many := b.open("/substrate?name0=oak&wet0=800&moisture0=8&name1=bran&wet1=150&moisture1=12&supplement1=yes&target_pct=62&bag_wet_g=2.5+kg&bags=20").ok()
	many.says(".far", "Add 29.21 kg of water").says("section li", "Oak 17.51 kg").says("section", "Bran 3.28 kg").says("section", "20 bags of 2.50 kg") // 50,000 / 2,284.21 times as much
	day = b.open(many.Find("section a.button").AttrOr("href", "")).ok()
	for field, want := range map[string]string{"batches[0].bags": "20", "note": "Weighed out: oak 17.51 kg, bran 3.28 kg, water 29.21 kg"} {
		if got := day.Find(`[name="`+field+`"]`).AttrOr("value", ""); got != want {
			t.Errorf("the lab day's %s is %q, want %q", field, got, want)
		}
	}
	for query, want := range map[string]string{"bags=20": "how much goes into each bag", "bag_wet_g=2,5": "2.5 kg, or 2500", "bag_wet_g=2500&bags=0": "must be 1 to"} {
		refused := b.open("/substrate?wet0=800&moisture0=8&target_pct=62&" + query)
		refused.want(http.StatusBadRequest)
		refused.says("[role=alert]", want)
	}
	b.open("/substrate?wet0=10000&moisture0=70&target_pct=60&bag_wet_g=2500&spawn_pct=8").ok().says(".far", "2.50 kg too wet already").says("section", "4 bags").
		says("section .note", "Moisture is 70.0 %; usual is 60 to 65 %")
	bad := b.open("/substrate?wet0=much&moisture0=8&target_pct=100&bag_wet_g=1&spawn_pct=1&oven_before=5&oven_after=6")
	bad.want(http.StatusBadRequest)
	bad.says("[role=alert]", "must be a number").says("[role=alert]", "under 100").says("[role=alert]", "no more than before")
	got := b.post("/api/v1/mix", `{"materials":[{"wet_g":2500,"moisture_pct":62}],"target_pct":62,"bag_wet_g":2500,"spawn_pct":4}`).want(200)
	if got.at("dry_g") != 950. || got.at("spawn_bag_g") != 100. || got.at("bags") != 1. {
		t.Errorf("%s", got.body)
	}
	b.post("/api/v1/mix", `{"materials":[{"wet_g":0,"moisture_pct":62}],"target_pct":62}`).refused(400, "invalid", "materials[0].wet_g")
}
