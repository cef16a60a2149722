package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"bagmark/grow"
)

// ripe makes king oyster bags that are ready, and gives their codes.
func (b *browser) ripe(bags string) []string {
	b.t.Helper()
	_, codes := b.kings(bags, `,"place":"room 1 > rack 2"`)
	b.days(15)
	for _, code := range codes {
		b.saw(code, `"kind":"colonised","pct":100`)
	}
	b.days(20)
	return codes
}

// room makes a place that takes so many bags.
func (b *browser) room(name, takes string) (code string) {
	b.t.Helper()
	code = b.post("/api/v1/places", `{"name":"`+name+`"}`).want(201).at("place", "code").(string)
	b.put("/api/v1/places/"+code, `{"capacity_bags":`+takes+`}`).want(200)
	return code
}

// TestARowWithOneTap: all of a row but one go to fruiting, the page says how
// many of how many, and one tap takes them back. No script runs.
func TestARowWithOneTap(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	codes := b.ripe("4")
	b.room("room 2", "2")
	p := b.open("/due/move")
	if to := p.led(); to != "/fruiting" {
		t.Fatalf("the old list leads to %s", to)
	}
	p = b.open("/fruiting").ok().says("h1", "To fruiting: 4").says("button[name=row]", "All 4 to fruiting").says("select[name=place]", "room 2: 0 of 2 bags")
	action, v := p.form("form:has(button[name=row])", "place", "room 2", "row", "0")
	v["bag"] = v["bag"][:3] // the last is unticked
	p = b.follow(b.submit(action, v)).ok().says(".far", "3 of 3").says("section[role=status] .lead", "To fruiting, room 2").says("h1", "To fruiting: 1").
		says(".note.lead", "room 2 has room for 0 of them").says("select[name=place] option[selected]", "room 2: 3 of 2 bags")
	if got := b.bag(codes[0]); got.State != grow.Fruiting || deref(got.Place) != "room 2" {
		t.Errorf("%s at %s", got.State, deref(got.Place))
	}
	p = b.follow(b.fill(p, "section[role=status] form", "act", "undo")).ok().says("h1", "To fruiting: 4")
	if got := b.bag(codes[0]); got.State != grow.Colonised {
		t.Errorf("taken back, but %s", got.State)
	}
	p.has(0, "section[role=status]")
}

// TestTheSamePageTwice: what somebody else moved meanwhile is told, not logged
// again.
func TestTheSamePageTwice(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	codes := b.ripe("3")
	p := b.open("/fruiting").ok()
	b.saw(codes[0], `"kind":"fruiting","place":"room 9"`)
	b.saw(codes[1], `"kind":"cull","why":"leak"`)
	b.clock.move(1)
	b.follow(b.fill(p, "form:has(button[name=row])", "row", "0")).ok().says(".far", "1 of 3").says("section[role=status] .note", "1 bag was in fruiting already").says(".note.bad", "this bag is culled")
	if got := b.bag(codes[0]); deref(got.Place) != "room 9" || len(got.Entries) != 2 {
		t.Errorf("at %s with %d entries", deref(got.Place), len(got.Entries))
	}
	p = b.submit("/fruiting", url.Values{"row": {"0"}})
	p.want(http.StatusBadRequest)
	p.says("[role=alert]", "No bag is ticked")
}

// TestOnHoldByOneTap: with its reason, back on its day.
func TestOnHoldByOneTap(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	codes := b.ripe("2")
	p := b.open("/fruiting").ok()
	if got := b.fill(p, "form:has(button[name=row])", "hold", "0", "because", "", "until", ""); got.status != http.StatusBadRequest || !strings.Contains(string(got.body), "the day on which it comes back") {
		t.Fatalf("without a day: %d", got.status)
	}
	if got := b.fill(p, "form:has(button[name=row])", "hold", "0", "because", "kept cold", "until", "2020-01-10"); got.status != http.StatusBadRequest || !strings.Contains(string(got.body), "is past") {
		t.Errorf("on hold until a day that is past: %d", got.status)
	}
	p = b.follow(b.fill(p, "form:has(button[name=row])", "hold", "0", "because", "kept cold", "until", "2027-01-10")).ok()
	p.says(".far", "2 of 2").says("h1", "Nothing is ready").says("summary", "kept cold")
	b.open("/").ok().has(0, "a[href='/fruiting'] .verb")
	if got := b.bag(codes[1]).Again; got == nil || got.Because != "kept cold" {
		t.Errorf("the bag keeps %+v", got)
	}
	b.days(17)
	b.open("/fruiting").ok().says("h1", "To fruiting: 2").says("details", "You said: to fruiting on Sun 10 Jan (kept cold).")
}

// TestTrolley is the same by scan: a count, a second scan, a room's label, a room
// that is full, and the rest with one tap.
func TestTrolley(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	codes := b.ripe("4")
	tent := b.room("tent", "1")
	b.follow(b.fill(b.open("/fruiting").ok(), "form[action='/sweep']:has([value=ready])")).ok().says(".far", "0 of 4 on the trolley")
	b.sees(codes[0]).ok().says(".far", "1 of 4 on the trolley")
	b.sees(codes[0]).ok().says(".note", "is already on the trolley").says(".far", "1 of 4")
	b.sees(tent).ok().says(".note", "From here on to tent").says("h1", "To fruiting: tent")
	b.sees(codes[1]).ok().has(0, ".note.lead")
	p := b.sees(codes[2]).ok().says(".note", "tent is full: 2 of 1 bags")
	b.follow(b.fill(p, "form:has(input[value=rest])")).ok().says(".far", "4 of 4 on the trolley").says("main", "All on the trolley.")
	for i, want := range []string{"room 1 > rack 2", "tent", "tent", "tent"} {
		if got := b.bag(codes[i]); got.State != grow.Fruiting || deref(got.Place) != want {
			t.Errorf("bag %d is %s at %s, want fruiting at %s", i+1, got.State, deref(got.Place), want)
		}
	}
	b.submit("/sweep", url.Values{"act": {"begin"}, "answer": {"fruiting"}})
	b.sees(codes[3]).ok().says(".note", "is in fruiting already, tent: nothing logged")
}

// TestHoldByScan puts bag after bag off.
func TestHoldByScan(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	codes := b.ripe("2")
	p := b.fill(b.open("/fruiting").ok(), "form:has([name=answer][value=hold])", "because", "no room", "until", "soon")
	p.want(http.StatusBadRequest)
	p.says("h1", "On hold, by scan").says(".error", "must be a date")
	b.follow(b.fill(p, "form:has([name=answer][value=hold])", "until", "2027-01-10")).ok().says("h1", "On hold until Sun 10 Jan 2027: no room")
	b.sees(codes[0]).ok()
	if got := b.bag(codes[0]).Again; got == nil || got.For != "fruiting" || got.Because != "no room" {
		t.Errorf("%+v", got)
	}
}

func TestCapacityOfAPlace(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	code := b.room("tent", "30")
	p := b.open("/S/"+code).ok().says("summary", "It takes 30 bags")
	p = b.fill(p, "form[action$=capacity]", "capacity_bags", "many")
	p.want(http.StatusBadRequest)
	p.says(".error", "must be 1 to 100000")
	b.follow(b.fill(p, "form[action$=capacity]", "capacity_bags", "")).ok().says("summary", "How many bags it takes")
	b.put("/api/v1/places/"+code, `{"capacity_bags":0}`).refused(400, "invalid", "capacity_bags")
	if n := b.get("/api/v1/fruiting").want(200).at("rooms", 0, "name"); n != "tent" {
		t.Errorf("the room is %v", n)
	}
}
