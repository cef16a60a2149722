package server

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
)

// TestTrayOfABag says which answers stand in which places; places never move.
func TestTrayOfABag(t *testing.T) {
	t.Parallel()
	b, codes, _ := furnished(t)
	for _, test := range []struct {
		name  string
		code  string
		words []string // from the top; "" is a place left empty
	}{
		{"growing", codes[9], []string{"Mould or wrong", "To fruiting", "Grown over", "Turned, clean"}},
		{"mouldy", codes[1], []string{"What now?", "", "Grown over", "Seen, no worse"}},
		{"grown over", codes[2], []string{"Mould or wrong", "To fruiting", "Pins", "Clean"}},
		{"apart", codes[3], []string{"Mould or wrong", "Bring it back", "Grown over", "Seen, no change"}},
		{"fruiting", codes[4], []string{"Mould or wrong", "Picked", "Pins", "Clean"}},
		{"out", codes[5], nil},
		{"unmarked", codes[11], []string{"Mould or wrong", "To fruiting", "Grown over", "Label is on it"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			p := b.open("/B/" + test.code).ok()
			var got []string
			for i := range p.Find("#tray .tile").Length() {
				got = append(got, p.Find("#tray .tile").Eq(i).Find(".word").Text())
			}
			if !slices.Equal(got, test.words) {
				t.Errorf("tiles %q, want %q", got, test.words)
			}
			if n := p.Find("#tray .largest").Length(); n > 1 {
				t.Errorf("%d tiles are the largest", n)
			}
		})
	}
}

// TestBagPageSaysWhatToExpectFirst: expectation, then departures, then answers.
func TestBagPageSaysWhatToExpectFirst(t *testing.T) {
	t.Parallel()
	b, codes, _ := furnished(t)
	p := b.open("/B/" + strings.ToLower(codes[2][:4]) + "-" + codes[2][4:]).ok()
	p.says(".block", "HOOD OFF").says(".tag", "Day 11 · made Sun 22 Nov")
	html := string(p.body)
	if e, d, a := strings.Index(html, `class="expect"`), strings.Index(html, `class="block"`), strings.Index(html, `id="tray"`); e < 0 || d < e || a < d {
		t.Errorf("expectation at %d, departures at %d, answers at %d", e, d, a)
	}
	if strings.Contains(p.Find("#tray").Text(), "Out") {
		t.Error("out stands on the first screen")
	}
	b.open("/B/"+codes[7]).ok().says(".bag-screen", "On watch: <b>odd</b>.")
	b.open("/B/"+codes[0]).ok().says(".bag-screen .unknown", "gloves: unknown")
}

// TestOneTap posts each tile's form, finds "logged" in its place, and takes it
// back.
func TestOneTap(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("5", "")
	for i, code := range codes[:4] {
		b.saw(code, `"kind":"marked"`)
		path := "/B/" + code
		before := len(b.bag(code).Entries)
		form := "#tray form:nth-of-type(" + []string{"4", "3", "2", "1"}[i] + ")"
		action, v := b.open(path).ok().form(form)
		led := b.submit(action, v).led()
		if again := b.submit(action, v).led(); again != led {
			t.Errorf("the same form again leads to %s, not %s", again, led)
		}
		bag := b.bag(code)
		if len(bag.Entries) != before+1 || string(bag.Entries[0].Kind) != v.Get("kind") {
			t.Fatalf("%v: entries %v", v, kinds(bag))
		}
		p := b.open(led).ok()
		p.says(".did .said", "logged 12:00")
		b.fill(p, ".did form").want(http.StatusSeeOther)
		if bag := b.bag(code); bag.Entries[1].VoidedBy == "" {
			t.Errorf("%v was not taken back", v)
		}
	}
	code := codes[4]
	b.fill(b.open("/B/"+code).ok(), "#tray form:last-of-type").want(http.StatusSeeOther)
	if got := b.bag(code); got.MarkedAt == nil || got.Entries[0].Kind != grow.KindMarked {
		t.Errorf("the label was not marked: %v", kinds(got))
	}
}

// TestEveryFurtherForm posts each of the forms below the tray.
func TestEveryFurtherForm(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("1", "")
	path := "/B/" + codes[0]
	for _, f := range []struct {
		kind    string
		changes []string
		words   string
	}{
		{"colonised", []string{"pct", "62,5", "bare", "bottom"}, "grown over to 62.5 %, bare: bottom"},
		{"colonised", []string{"pct", ""}, "not grown over yet"},
		{"sign", []string{"sign", "condensation"}, "condensation"},
		{"note", []string{"text", "smells of <nothing>"}, "smells of <nothing>"},
		{"condition", []string{"set", "flow_hood=off", "basis", "remembered"}, "flow hood: off (remembered)"},
		{"watch", []string{"because", "a thin corner"}, "on watch: a thin corner"},
		{"unwatch", nil, "no longer on watch"},
		{"again", []string{"on", "2026-12-24", "for", "fruiting"}, "come back Thu 24 Dec 2026, to move it to fruiting"},
		{"move", []string{"place", "room 1>rack 9"}, "moved to room 1 > rack 9"},
		{"shake", nil, "shaken again"},
		{"isolate", nil, "set apart"},
		{"release", nil, "brought back"},
		{"fruiting", []string{"place", "", "opening", "top_cut"}, "to fruiting, opened: top cut"},
		{"harvest", []string{"grams", "412"}, "picked 412 g"},
		{"cull", []string{"why", "old"}, "out, closed: old"},
	} {
		p := b.open(path + "?open=" + f.kind).ok()
		led := b.fill(p, "details form:has(input[name=kind][value="+f.kind+"])", f.changes...).led()
		b.open(led).ok().says("#log li:first-of-type .said", f.words)
		if got := b.bag(codes[0]).Entries[0]; string(got.Kind) != f.kind {
			t.Fatalf("logged %s, want %s", got.Kind, f.kind)
		}
	}
}

// TestRefusedFormComesBackFilled: with a message at the field and what was typed.
func TestRefusedFormComesBackFilled(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("1", "")
	p := b.fill(b.open("/B/"+codes[0]).ok(), "form:has(input[value=harvest])", "grams", "a lot")
	p.want(http.StatusBadRequest)
	p.says("[role=alert]", "Grams picked: must be a number").has(1, "#f-grams[aria-invalid=true][value='a lot']").has(1, "#harvest details[open]").says("#f-grams-error", "must be a number")
	checkMarkup(t, p)
	p = b.submit("/B/"+codes[0]+"/entries", url.Values{"id": {id(7)}, "kind": {"release"}})
	p.want(http.StatusConflict)
	p.says("[role=alert]", "not isolated")
	if len(b.bag(codes[0]).Entries) != 0 {
		t.Error("a refused form logged something")
	}
}

// TestMould follows the tap on mould: caution, what now, the bags beside it,
// and the question at the next bag.
func TestMould(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("5", `,"bag_conditions":[{"bags":"2-3","conditions":{"flow_hood":"off"}}]`)
	for _, code := range codes {
		b.saw(code, `"kind":"marked","bench":true`)
	}
	b.days(6)
	led := b.fill(b.open("/B/"+codes[2]).ok(), "#tray form").led()
	if want := "/B/" + codes[2] + "/mould?logged="; !strings.HasPrefix(led, want) {
		t.Fatalf("the tap leads to %s", led)
	}
	p := b.open(led).ok()
	p.says("main", "Mould or wrong, not sure what").says(".caution", "Handling a mouldy bag").says("main", "4 bags were made just before or after it")
	checkMarkup(t, p)
	watched := b.fill(p, "form[action$=watch-all]").ok().says("main", "4 bags logged")
	for i, code := range codes {
		if on := b.bag(code).Watch; on == nil || i == 0 && on.Because != "made within five bags of it: mouldy "+string(b.bag(code).Batch.Code)+" #3" || i == 1 && on.Because != "made next to it, flow hood off: mouldy "+string(b.bag(code).Batch.Code)+" #3" {
			t.Errorf("bag %d: watch %+v", i+1, on)
		}
	}
	b.fill(watched, "form[action='/take-back']").ok().says("h1", "Taken back")
	if b.bag(codes[0]).Watch != nil {
		t.Error("watching was not taken back")
	}
	b.open("/B/"+codes[0]).ok().says(".bag-screen", "Gloves changed, phone wiped?")
	b.fill(b.open("/B/"+codes[0]), "form[action='/gloves']").led()
	b.open("/B/"+codes[0]).ok().has(0, "form[action='/gloves']")

	next := b.fill(p, "form:has(input[value=cull])").led()
	if got := b.bag(codes[2]); got.State != grow.Culled || got.Status.EndedWhy != "contaminated" {
		t.Errorf("the bag is %s", got.State)
	}
	b.open(next).ok().says(".did", "out, closed: contaminated")
}

// TestCautionIsShortAfterTheFirstTime on a device.
func TestCautionIsShortAfterTheFirstTime(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("2", "")
	for _, code := range codes {
		b.saw(code, `"kind":"marked"`)
	}
	p := b.open(b.fill(b.open("/B/"+codes[0]).ok(), "#tray form").led()).ok()
	p.has(1, ".caution h2:contains('Handling')")
	b.fill(p, "form:has(input[value=isolate])").led()
	p = b.open(b.fill(b.open("/B/"+codes[1]).ok(), "#tray form").led()).ok()
	p.has(0, ".caution h2").says(".caution", "Do not press or shake it")
	led := b.fill(p, "form:has(input[name=what][type=radio])", "what", "green_mould", "where", "seal", "extent_pct", "5").led()
	b.open(led).ok().says(".tag", "Green mould, at the seal").says("main", "Throw it out closed today").has(1, ".tile.mould.largest")
	b.open("/B/"+codes[1]).ok().has(0, "input[name=kind][value=shake]")
}

// TestRefusedMouldDetailComesBackFilled: on the page it was posted from, with
// every choice as it was made.
func TestRefusedMouldDetailComesBackFilled(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("1", "")
	p := b.open(b.fill(b.open("/B/"+codes[0]).ok(), "#tray form").led()).ok()
	const detail = "form:has(input[name=what][type=radio])"
	p = b.fill(p, detail, "what", "green_mould", "where", "seal", "extent_pct", "half")
	p.want(http.StatusBadRequest)
	p.says("[role=alert]", "must be a number").says(".tag", "not sure what").has(1, "#f-extent-pct[aria-invalid=true][value=half]")
	p.has(1, "input[name=what][value=green_mould][checked]").has(1, "input[name=what][checked]").has(1, "#f-where option[value=seal][selected]")
	checkMarkup(t, p)
	led := b.fill(p, detail, "extent_pct", "50").led()
	b.open(led).ok().says(".tag", "Green mould, at the seal")
	if got := kinds(b.bag(codes[0])); len(got) != 2 {
		t.Errorf("logged %v", got)
	}
}

// TestWatchesOfAMouldTakenBack: whoever takes mould back is offered to take back
// the watches that came from it, while they stand and nothing else was logged.
func TestWatchesOfAMouldTakenBack(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("4", "")
	for _, code := range codes {
		b.saw(code, `"kind":"marked","bench":true`)
	}
	b.days(6)
	b.saw(codes[0], `"kind":"watch","because":"odd"`) // by itself, and never again by the mould
	const offer = "form[action='/take-back']"
	path := "/B/" + codes[2]
	p := b.open(b.fill(b.open(path).ok(), "#tray form").led()).ok()
	b.fill(p, "form[action$=watch-all]").ok().says("main", "bags logged")
	b.open(path).ok().has(0, offer).has(1, "#log form[data-then='"+path+"']") // a script opens the answer too
	b.clock.move(time.Minute)
	b.fill(b.open("/B/"+codes[3]), "details form:has(input[value=unwatch])").led() // this one was ended by hand
	b.clock.move(time.Minute)
	led := b.fill(p, ".did form").led()
	p = b.open(led).ok().has(1, offer).says(offer, "still on watch because of it")
	checkMarkup(t, p)
	p.has(2, offer+" input[name=entry]")
	b.fill(p, offer).ok().says("h1", "Taken back").has(2, "ul.lines > li")
	for i, because := range []string{"odd", "", "", ""} {
		got := ""
		if w := b.bag(codes[i]).Watch; w != nil {
			got = w.Because
		}
		if got != because {
			t.Errorf("bag %d is on watch because %q, want %q", i+1, got, because)
		}
	}
	b.open(path).ok().has(0, offer)
}

func TestWrongLabel(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("3", "")
	path := "/B/" + codes[0] + "/wrong-label"
	b.open("/B/"+codes[0]).ok().has(0, "form[action$=wrong-label]")
	done := b.fill(b.open(path).ok(), "form:has([value=swap])", "other", codes[1]).led()
	if one, two := b.bag(codes[0]).Number, b.bag(codes[1]).Number; one != 2 || two != 1 {
		t.Errorf("numbers are %d and %d", one, two)
	}
	name := string(b.bag(codes[0]).Batch.Code)
	swapped := b.open(done).ok().says("[role=status]", "changed places").says("main", grow.Code(codes[0]).Spaced()+" is "+name+" #2 now, "+grow.Code(codes[1]).Spaced()+" is "+name+" #1.")
	checkMarkup(t, swapped)
	for i := range 2 {
		words := fmt.Sprintf("label swapped with %s: from %s #%d to %s #%d", grow.Code(codes[1-i]).Spaced(), name, i+1, name, 2-i)
		b.open("/B/"+codes[i]).ok().says("#log li:first-of-type .said", words).says("#log li:first-of-type", "Ana").has(1, "#log li")
	}
	b.open("/B/"+codes[2]).ok().has(0, "#log li")
	b.clock.move(time.Minute)
	action, v := swapped.form("form[action$=wrong-label]", "other", swapped.Find("form[action$=wrong-label] button").AttrOr("value", ""))
	b.open(b.submit(action, v).led()).ok().says("main", grow.Code(codes[0]).Spaced()+" is "+name+" #1 now").has(2, "#log li")
	if got := b.bag(codes[0]).Number; got != 1 {
		t.Errorf("swapped back, the label is on bag %d", got)
	}
	p := b.fill(b.open(path).ok(), "form:has([value=swap])", "other", "7K3M-9QXX")
	p.want(http.StatusBadRequest)
	p.has(1, "#f-other[aria-invalid=true][value='7K3M-9QXX']")
	led := b.fill(b.open(path).ok(), "form:has([value=new])").led()
	fresh := strings.TrimPrefix(led, "/print?made=1&codes=")
	b.open("/B/"+codes[0]).ok().says("main", "older label").says("main", string(grow.Code(fresh)[:4])+"-"+fresh[4:]).
		says("#log", "label "+grow.Code(codes[0]).Spaced()+" replaced by "+grow.Code(fresh).Spaced()).has(3, "#log li")
}

func TestBagPhoto(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("1", "")
	led := b.upload("/B/"+codes[0]+"/photo", jpegOf(t, 64, 48)).led()
	p := b.open(led).ok()
	p.has(1, "#log img[alt]")
	src := p.Find("#log img").AttrOr("src", "")
	if got := b.open(src).ok(); got.header.Get("Content-Type") != "image/jpeg" {
		t.Errorf("the photo is %s", got.header.Get("Content-Type"))
	}
	b.upload("/B/"+codes[0]+"/photo", []byte("no picture")).want(http.StatusUnsupportedMediaType)
}

// TestSeenEarlier: each further form of a bag's page takes a time where somebody
// asked for that; a time before the bag was made, or one to come, is refused at the
// field, and an empty one is now.
func TestSeenEarlier(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, bags := b.kings("1", "") // made on Sunday 22 November at noon, UTC
	page := "/B/" + bags[0]
	b.open(page).ok().has(0, "input[name=at]").has(1, "a[href='"+page+"?when=earlier#more']")
	p := b.open(page + "?when=earlier").ok()
	checkMarkup(t, p)
	forms := p.Find("#more form[action$='/entries']").Length()
	p.has(forms, "#more input[name=at][type=datetime-local]")
	note := "form:has(input[name=kind][value=note])"
	for at, want := range map[string]string{"2026-11-20T10:00": "before the bag was made", "2026-11-25T14:00": "in the future"} {
		bad := b.fill(p, note, "text", "leaks", "at", at)
		bad.want(http.StatusBadRequest)
		bad.says("#f-at-error", want).has(1, "#f-at[value^='"+at+"']").has(1, "details[open] #f-at")
		checkMarkup(t, bad)
	}
	b.fill(p, note, "text", "leaks", "at", "2026-11-23T10:30").led()
	b.fill(b.open(page+"?when=earlier").ok(), "form:has(input[name=kind][value=sign])", "sign", "started", "at", "").led()
	log := b.bag(bags[0]).Entries
	if got := log[1].At.UTC().Format("2006-01-02T15:04"); got != "2026-11-23T10:30" {
		t.Errorf("the note is of %s", got)
	}
	if got := log[0].At.UTC().Format("2006-01-02T15:04"); got != "2026-11-25T12:00" {
		t.Errorf("the sign is of %s, want now", got)
	}
}
