package server

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"bagmark/grow"
)

// place makes a place that takes so many bags and gives its code.
func (h *house) place(name, takes string) string {
	h.t.Helper()
	code := h.post("/api/v1/places", `{"name":"`+name+`"}`).at("place", "code").(string)
	if takes != "" {
		r := h.request("PUT", "/api/v1/places/"+code, `{"capacity_bags":`+takes+`}`)
		h.send(r).want(http.StatusOK)
	}
	return code
}

// marked makes bags that somebody had in the hand, and lets a day pass.
func (b *browser) markedKings(bags, place string) (batch string, codes []string) {
	b.t.Helper()
	batch, codes = b.kings(bags, `,"place":"`+place+`"`)
	for _, code := range codes {
		b.saw(code, `"kind":"marked"`)
	}
	b.days(1)
	return batch, codes
}

// notTaken is a page that says why an act was refused.
func (p page) notTaken(selector, words string) {
	p.want(http.StatusConflict)
	p.says(selector, words)
}

// TestMoveByScan: a shelf's label, then bags, nothing else; a second scan of a bag
// logs nothing, another shelf turns the walk, a full shelf is told, what is out is
// refused, and undo takes one back.
func TestMoveByScan(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.markedKings("4", "room 1")
	b.saw(codes[3], `"kind":"cull"`)
	shelf, other := b.place("room 2 > rack 3 > shelf 2", "1"), b.place("room 2 > rack 4", "")
	b.sees(codes[0]).notTaken(".note.bad", "scan the label of the shelf")
	b.sees(shelf).ok().says("h1", "Now: room 2 > rack 3 > shelf 2").says("[data-moved]", "0 moved").says(".lead", "0 of 1 bags").has(1, "[data-sound=place]")
	b.sees(codes[0]).ok().says(".marked-last", "KING #1").says("[data-moved]", "1 moved").says(".lead", "1 of 1 bags: full").has(1, "[data-sound=logged]")
	b.sees(codes[0]).ok().says(".note", "KING #1 is already here. Nothing logged.").says("[data-moved]", "1 moved").has(1, "[data-sound=refused]")
	if got := b.bag(codes[0]); len(got.Entries) != 2 || deref(got.Place) != "room 2 > rack 3 > shelf 2" {
		t.Errorf("%d entries, stands at %s", len(got.Entries), deref(got.Place))
	}
	p := b.sees(codes[1]).ok().says(".note", "is full: 2 of 1 bags: 1 over").says("[data-moved]", "2 moved")
	b.filled(p, "form:has([value=undo])").ok().says("[data-moved]", "1 moved")
	if got := deref(b.bag(codes[1]).Place); got != "room 1" {
		t.Errorf("taken back, it stands at %s", got)
	}
	b.sees(codes[3]).notTaken(".note.bad", "KING #4 is out, so it is not moved")
	b.sees(other).ok().says("h1", "Now: room 2 > rack 4").says("[data-moved]", "0 moved")
	b.sees(codes[0]).ok().says("[data-moved]", "1 moved")
	if got := deref(b.bag(codes[0]).Place); got != "room 2 > rack 4" {
		t.Errorf("moved on, it stands at %s", got)
	}
}

// TestMoveMany: all bags of a batch, or of another shelf, with one tap; those
// unticked stay, as do mouldy ones, which are carried last.
func TestMoveMany(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, codes := b.markedKings("5", "rack 1")
	b.saw(codes[4], `"kind":"contaminated","what":"green_mould"`)
	rack := b.place("rack 2", "")
	p := b.open("/S/" + rack).ok()
	b.filled(p, "details form:has([name=batch])", "batch", batch).ok().says("form:has([value=rest])", "Move all 4 here").says("h1", "Now: rack 2")
	action, v := b.open("/sweep").form("form:has([value=rest])")
	v["bag"] = codes[:3]
	b.follow(b.submit(action, v)).ok().says("[data-count]", "3 of 5 moved").says(".did", "and 2 more")
	for i, want := range []string{"rack 2", "rack 2", "rack 2", "rack 1", "rack 1"} {
		if got := deref(b.bag(codes[i]).Place); got != want {
			t.Errorf("bag %d stands at %s, want %s", i+1, got, want)
		}
	}
	b.filled(b.open("/sweep"), "form:has([value=undo])").ok().says("[data-count]", "0 of 5 moved")
	if got := deref(b.bag(codes[0]).Place); got != "rack 1" {
		t.Errorf("taken back, it stands at %s", got)
	}
	from := b.codeOfPlace("rack 1")
	b.filled(b.open("/S/"+rack), "details form:has([name=batch])", "at", from).ok().says("form:has([value=rest])", "Move all 4 here").says(".lead", "From rack 1")
}

func (h *house) codeOfPlace(name string) string {
	h.t.Helper()
	rooms, err := h.store.Rooms(h.t.Context())
	if err != nil {
		h.t.Fatal(err)
	}
	for _, r := range rooms {
		if r.Name == name {
			return string(r.Code)
		}
	}
	h.t.Fatalf("there is no place %s", name)
	return ""
}

// TestMoveFromPhoto: a shelf's label on a photo says where bags go, the bags on it
// go there.
func TestMoveFromPhoto(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.markedKings("2", "rack 1")
	shelf := b.place("rack 2", "")
	b.submit("/sweep", url.Values{"act": {"begin"}, "answer": {"move"}})
	b.open("/sweep").ok().says("h1", "Move bags").says(".lead", "Scan the shelf’s label first")
	b.sees(codes[0]).notTaken(".note.bad", "Scan the shelf’s label first")
	picture, _, _ := drawnShelf(t, 8, "http://192.168.1.20:8080/S/"+shelf, "http://192.168.1.20:8080/B/"+codes[0], "http://192.168.1.20:8080/B/"+codes[1])
	b.follow(b.upload("/sweep/photo", picture)).ok().says("h1", "Now: rack 2").says("[data-moved]", "2 moved")
	if e := b.bag(codes[1]).Entries[0]; e.Kind != grow.KindMove || e.Place != "rack 2" {
		t.Errorf("logged %s to %q", e.Kind, e.Place)
	}
}

// TestMovesSentLate: acts of a phone that was out of reach, among them the label
// that begins the walk, arrive late and twice; each counts once, at its own time.
func TestMovesSentLate(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.markedKings("2", "rack 1")
	one, two := b.place("rack 2", ""), b.place("rack 3", "")
	now := b.store.Now()
	for range 2 {
		for i, code := range []string{one, codes[0], codes[0], two, codes[1]} {
			v := url.Values{"id": {id(i + 1)}, "act": {"scan"}, "code": {code}, "done_at": {now.Add(time.Duration(i-20) * time.Minute).Format(time.RFC3339)}, "sent_at": {now.Format(time.RFC3339)}}
			r := b.request("POST", "/sweep", v.Encode())
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			r.Header.Set("Accept", "application/json")
			b.take(r).reply.want(http.StatusOK)
		}
	}
	for i, want := range []string{"rack 2", "rack 3"} {
		got := b.bag(codes[i])
		if len(got.Entries) != 2 || deref(got.Place) != want || !got.Entries[0].At.Equal(now.Add(time.Duration([]int{-19, -16}[i])*time.Minute)) {
			t.Errorf("bag %d: %d entries, at %s, moved at %v", i+1, len(got.Entries), deref(got.Place), got.Entries[0].At)
		}
	}
}

// TestSeenElsewhere: what a round sees that belongs elsewhere stands on the pages
// of both places until somebody says where it is; what a round misses is named.
func TestSeenElsewhere(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, here := b.markedKings("2", "room 1 > rack 1")
	_, there := b.kings("3", `,"place":"room 1 > rack 2"`)
	for _, code := range there {
		b.saw(code, `"kind":"marked"`)
	}
	b.days(1)
	first, second, room := "/S/"+b.codeOfPlace("room 1 > rack 1"), "/S/"+b.codeOfPlace("room 1 > rack 2"), "/S/"+b.place("room 1", "")
	b.open(second).ok().has(0, "form[action$='/seen']")
	b.walk("clean", "room 1 > rack 1").says("[data-count]", "0 of 2 seen")
	for _, code := range []string{here[0], there[0], there[1]} {
		b.sees(code).ok()
	}
	b.open(first).ok().says("main", "Seen here, belongs elsewhere").has(2, "form[action$='/seen']").says("main", "Not seen since: 1 bag").says("main .buttons", "KING #2")
	b.open(room).ok().has(2, "form[action$='/seen']").says("main", "5 bags")
	p := b.open(second).ok().says("main", "Last seen elsewhere").has(2, "form[action$='/seen']").says(".note", "Seen at room 1 > rack 1 on")
	b.open("/B/"+there[0]).ok().says("main", "Last seen at room 1 > rack 1 on")
	b.open(second+"/list").ok().says("td", "seen at room 1 > rack 1")
	action, v := p.form("form[action$='/seen']:has([value='"+there[0]+"'])", "act", "there")
	p = b.follow(b.submit(action, v)).ok().says(".did", "stands at room 1 > rack 1 now").has(1, "form[action$='/seen']:has([name=bag])")
	action, v = p.form("form[action$='/seen']:has([value='"+there[1]+"'])", "act", "here")
	p = b.follow(b.submit(action, v)).ok().says(".did", "is where its log says, room 1 > rack 2").has(0, "form[action$='/seen']:has([name=bag])")
	if got := deref(b.bag(there[0]).Place); got != "room 1 > rack 1" {
		t.Errorf("the bag that stands there stands at %s", got)
	}
	if e := b.bag(there[1]).Entries[0]; e.Kind != grow.KindLook || e.Seen != "glance" {
		t.Errorf("the bag that is here was logged as %s %s", e.Kind, e.Seen)
	}
	b.filled(p, ".did form", "act", "undo").ok().says(".did", "Taken back").has(1, "form[action$='/seen']:has([name=bag])").says(".note", "Seen at room 1 > rack 1 on")
	b.submit(action, v) // the tap again, as from a page that was open
	b.saw(there[1], `"kind":"move","place":"room 1 > rack 2"`)
	b.open(second).ok().has(0, "form[action$='/seen']:has([name=bag])")
}

// TestRoundTakenBack: undo on a round takes back that the bag was seen there.
func TestRoundTakenBack(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.markedKings("1", "rack 2")
	b.place("rack 1", "")
	b.walk("clean", "rack 1")
	p := b.sees(codes[0]).ok()
	rack := "/S/" + b.codeOfPlace("rack 2")
	b.open(rack).ok().has(1, "form[action$='/seen']")
	b.filled(p, "form:has([value=undo])").ok()
	b.open(rack).ok().has(0, "form[action$='/seen']")
}

// TestMoveVeryMany: a list too long to untick some of it still goes with one tap,
// on a page of bearable size.
func TestMoveVeryMany(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, codes := b.kings("400", `,"place":"rack 1"`)
	rack := b.place("rack 2", "")
	p := b.filled(b.open("/S/"+rack), "details form:has([name=batch])", "batch", batch).ok().says("form:has([value=rest])", "Move all 400 here").has(0, "[name=bag]")
	if n := len(p.body); n > 60_000 {
		t.Errorf("the page has %d bytes", n)
	}
	b.filled(p, "form:has([value=rest])").ok().says("[data-count]", "400 of 400 moved").says("main .lead", "400 bags")
	if got := deref(b.bag(codes[399]).Place); got != "rack 2" {
		t.Errorf("the last stands at %s", got)
	}
	p = b.open("/S/"+rack).ok().says("main", "400 KING")
	if n := len(p.body); n > 60_000 {
		t.Errorf("the place's page has %d bytes", n)
	}
	b.filled(b.open("/sweep"), "form:has([value=undo])").ok().says("[data-count]", "0 of 400 moved")
}
