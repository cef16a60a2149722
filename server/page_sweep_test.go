package server

import (
	"crypto/rand"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/PuerkitoBio/goquery"
)

// walk begins a sweep over the place of that name.
func (b *browser) walk(answer, name string) page {
	b.t.Helper()
	places, err := b.store.Places(b.t.Context())
	if err != nil {
		b.t.Fatal(err)
	}
	for _, place := range places {
		if place.Name == name {
			return b.filled(b.open("/sweep").ok(), "main form:has([name=answer])", "answer", answer, "at", string(place.Code)).ok()
		}
	}
	b.t.Fatalf("there is no place %s", name)
	return page{}
}

// sees scans one bag of it.
func (b *browser) sees(code string) page {
	b.t.Helper()
	fresh, err := newID()
	if err != nil {
		b.t.Fatal(err)
	}
	return b.follow(b.submit("/sweep", url.Values{"act": {"scan"}, "code": {code}, "id": {string(fresh)}}))
}

// TestSweepKeepsTheOrderOfTheWalk: clean and young bags first, those on watch
// next, mouldy ones last; a mouldy bag is counted and nothing good is said of it.
func TestSweepKeepsTheOrderOfTheWalk(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("4", `,"place":"rack 1"`)
	for _, code := range codes {
		b.saw(code, `"kind":"marked"`)
	}
	b.saw(codes[0], `"kind":"contaminated","what":"green_mould"`)
	b.saw(codes[1], `"kind":"watch"`)
	b.days(1)
	p := b.walk("clean", "rack 1").has(3, "main .lines > li:has(.hint):not(:has(.pick))")
	var lines []string
	p.Find("section .lines > li").Each(func(_ int, s *goquery.Selection) { lines = append(lines, s.Text()) })
	want := "KING #3, KING #4rack 1|KING #2rack 1, on watch, after the clean ones|KING #1rack 1, mouldy or apart, last of all"
	if got := strings.Join(lines, "|"); got != want {
		t.Errorf("the walk is %q, want %q", got, want)
	}
	b.sees(codes[0]).ok().says(".note", "KING #1 is mouldy").says(".far", "1 of 4 seen")
	if got := kinds(b.bag(codes[0])); got[len(got)-1] != grow.KindContaminated {
		t.Errorf("something was logged for a mouldy bag: %v", got)
	}
}

// TestSweepTellsStrays: a bag that belongs elsewhere is logged, named, and moved
// here in one tap.
func TestSweepTellsStrays(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, here := b.kings("2", `,"place":"rack 1"`)
	_, there := b.kings("1", `,"place":"rack 2"`)
	for _, code := range append(here, there...) {
		b.saw(code, `"kind":"marked"`)
	}
	b.days(1)
	b.walk("glance", "rack 1").says(".far", "0 of 2 seen")
	p := b.sees(there[0]).ok().says(".note", "It does not belong here: rack 2.").says(".far", "0 of 2 seen")
	p = b.filled(p, "form:has([value=here])").ok().says(".note", "stands at rack 1 now")
	if got := b.bag(there[0]).Place; got == nil || *got != "rack 1" {
		t.Errorf("the stray stands at %v", got)
	}
	p.has(0, "form:has([value=here])")
}

// TestSweepRest: all but the unticked in one tap, with the walk's own answer.
func TestSweepRest(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		answer, words string
		kind          grow.EntryKind
		seen          string
	}{{"grown", "All 4 grown over", grow.KindColonised, ""}, {"bare", "All 4 not grown over yet", grow.KindColonised, ""}, {"glance", "All 4 seen in passing, nothing wrong", grow.KindLook, "glance"}} {
		t.Run(x.answer, func(t *testing.T) {
			t.Parallel()
			b := newTestBrowser(t)
			_, codes := b.kings("5", `,"place":"rack 1"`)
			for _, code := range codes {
				b.saw(code, `"kind":"marked"`)
			}
			b.days(1)
			b.walk(x.answer, "rack 1")
			p := b.sees(codes[0]).ok().says("form:has([value=rest])", x.words)
			action, v := p.form("form:has([value=rest])")
			v["bag"] = codes[1:4]
			b.follow(b.submit(action, v)).ok().says(".far", "4 of 5 seen").says(".did", "and 2 more")
			if e := b.bag(codes[1]).Entries[0]; e.Kind != x.kind || e.Seen != x.seen {
				t.Errorf("logged %s %s, want %s %s", e.Kind, e.Seen, x.kind, x.seen)
			}
			if got := len(b.bag(codes[4]).Entries); got != 1 {
				t.Errorf("the unticked bag has %d entries", got)
			}
			b.filled(b.open("/sweep"), "form:has([value=undo])").ok().says(".far", "1 of 5 seen")
			if e := b.bag(codes[1]).Entries; e[len(e)-2].VoidedBy == "" {
				t.Errorf("one of them was not taken back: %+v", e)
			}
		})
	}
}

// TestNoRowForAllInTheHand: what must be seen in the hand, or by its label, has no
// row for all.
func TestNoRowForAllInTheHand(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("3", `,"place":"rack 1"`)
	b.days(1)
	for _, answer := range []string{"clean", "turned", "marked"} {
		b.walk(answer, "rack 1").says(".far", "0 of 3 seen").has(0, "form:has([value=rest])")
		b.submit("/sweep", url.Values{"act": {"rest"}, "bag": codes}).want(http.StatusConflict)
		b.follow(b.submit("/sweep", url.Values{"act": {"done"}})).ok()
	}
	if got := len(b.bag(codes[0]).Entries); got != 0 {
		t.Errorf("%d entries were logged", got)
	}
}

// TestScanAfterAGlance: a bag that a photo of the shelf showed is scanned: the walk's answer
// is logged, once, and taking that back leaves the glance.
func TestScanAfterAGlance(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("2", `,"place":"rack 1"`)
	for _, code := range codes {
		b.saw(code, `"kind":"marked"`)
	}
	b.days(1)
	b.walk("grown", "rack 1")
	picture, _, _ := drawnShelf(t, 8, "http://192.168.1.20:8080/B/"+codes[0], "https://elsewhere.example/", "https://elsewhere.example/2")
	b.follow(b.upload("/sweep/photo", picture)).ok().says(".far", "1 of 2 seen")
	b.clock.move(time.Second)
	b.sees(codes[0]).ok().says(".far", "1 of 2 seen").has(0, ".note")
	if got := b.bag(codes[0]); got.State != grow.Colonised || got.Entries[0].Kind != grow.KindColonised {
		t.Fatalf("%s after %s", got.State, got.Entries[0].Kind)
	}
	b.sees(codes[0]).ok().says(".note", "it counts once")
	b.filled(b.open("/sweep"), "form:has([value=undo])").ok().says(".far", "1 of 2 seen")
	if got := b.bag(codes[0]); got.State != grow.Colonising {
		t.Errorf("taken back, it is %s", got.State)
	}
}

// TestSweepAsksOfAnotherBatch: a bag of another batch is asked about, and logged only
// once somebody says so.
func TestSweepAsksOfAnotherBatch(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	batch, codes := b.kings("2", "")
	_, others := b.kings("2", "")
	for _, code := range append(codes, others...) {
		b.saw(code, `"kind":"marked"`)
	}
	b.days(1)
	b.filled(b.open("/sweep?batch="+batch), "main form:has([name=answer])", "answer", "grown").ok()
	b.sees(codes[0]).ok()
	for _, x := range []struct {
		sure string
		want int
	}{{"no", 1}, {"yes", 2}} {
		p := b.sees(others[0]).ok().says("[role=alert]", "is of another batch: KING-261122-2. Nothing was logged of it.").says(".far", "1 of 2 seen").says(".did", "KING #1")
		if got := len(b.bag(others[0]).Entries); got != 1 {
			t.Fatalf("%d entries before anybody said so", got)
		}
		action, v := p.form("form:has([value=maybe])", "sure", x.sure)
		b.follow(b.submit(action, v)).ok().has(0, "[role=alert]").says(".far", "1 of 2 seen")
		if got := len(b.bag(others[0]).Entries); got != x.want {
			t.Errorf("after %s: %d entries, want %d", x.sure, got, x.want)
		}
	}
	if got := b.bag(others[0]); got.State != grow.Colonised {
		t.Errorf("logged all the same, it is %s", got.State)
	}
}

// TestSweepPhoto: each label that a photo surely shows is a glance, whatever the
// answer, and counts once.
func TestSweepPhoto(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("3", `,"place":"rack 1"`)
	for _, code := range codes {
		b.saw(code, `"kind":"marked"`)
	}
	b.days(1)
	b.walk("turned", "rack 1")
	b.sees(codes[0]).ok()
	picture, _, _ := drawnShelf(t, 8, "http://192.168.1.20:8080/B/"+codes[0], "http://192.168.1.20:8080/B/"+codes[1], "https://elsewhere.example/")
	b.follow(b.upload("/sweep/photo", picture)).ok().says(".note", "2 labels on the photo: 1 new, as a glance.").says(".far", "2 of 3 seen")
	if e := b.bag(codes[1]).Entries[0]; e.Seen != "glance" {
		t.Errorf("logged as %q, want a glance", e.Seen)
	}
	b.upload("/sweep/photo", jpegOf(t, 60, 60)).want(http.StatusBadRequest)
}

// TestSweepMaybe: what was only probably read waits for a tap, with the code in
// the largest letters.
func TestSweepMaybe(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("2", `,"place":"rack 1"`)
	for _, code := range codes {
		b.saw(code, `"kind":"marked"`)
	}
	b.days(1)
	state := sweepState{Answer: "turned"}
	var d deviceState
	a := sweepAct{Server: b.server, ctx: t.Context(), d: &d}
	err := a.photo(&state, []foundLabel{{Kind: grow.BagCode, Code: grow.Code(codes[0]), Known: true, Batch: "KING-261122", Number: 1}})
	if err != nil || len(state.Seen) != 0 || len(state.Maybe) != 1 {
		t.Fatalf("seen %v, maybe %v: %v", state.Seen, state.Maybe, err)
	}
	who, err := b.store.Who(t.Context(), b.cookies[cookieHTTP], "http")
	if err != nil {
		t.Fatal(err)
	}
	if err := b.server.keepDeviceState(t.Context(), who, deviceState{Sweep: &state}); err != nil {
		t.Fatal(err)
	}
	p := b.open("/sweep").ok().says(".note .far.code", grow.Code(codes[0]).Spaced())
	if len(b.bag(codes[0]).Entries) != 1 {
		t.Fatal("a label probably read was logged by itself")
	}
	action, v := p.form("form:has([value=maybe])", "sure", "yes")
	b.follow(b.submit(action, v)).ok().has(0, ".note .far.code")
	if e := b.bag(codes[0]).Entries[0]; e.Seen != "glance" {
		t.Errorf("logged as %q", e.Seen)
	}
}

// TestLateActs: a phone sends acts of the bench late and twice; each counts once,
// at its own time, with what the switches said then.
func TestLateActs(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("3", "")
	blanks, _, err := b.store.CreateBlanks(t.Context(), store.Actor{}, store.LabelsDraft{Count: 1})
	if err != nil {
		t.Fatal(err)
	}
	late := func(n int, minutesAgo int, pairs ...string) *reply {
		t.Helper()
		at := noon.Add(-time.Duration(minutesAgo) * time.Minute).Add(3 * time.Hour) // a clock three hours fast
		v := url.Values{"id": {id(n)}, "done_at": {at.Format(time.RFC3339)}, "sent_at": {noon.Add(3 * time.Hour).Format(time.RFC3339)}}
		for i := 0; i+1 < len(pairs); i += 2 {
			v.Set(pairs[i], pairs[i+1])
		}
		r := b.request("POST", "/bench", v.Encode())
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Accept", "application/json")
		return b.take(r).reply
	}
	for range 2 {
		for i, act := range [][]string{{"act", "scan", "code", codes[0]}, {"act", "switch", "key", "flow_hood", "value", "off"}, {"act", "scan", "code", codes[1]},
			{"act", "scan", "code", codes[2]}, {"act", "undo"}, {"act", "switch", "key", "flow_hood", "value", "on"}, {"act", "scan", "code", string(blanks[0].Code)}} {
			if got := late(i+1, 20-i, act...).want(http.StatusOK).at("entry", "id"); got != id(i+1) {
				t.Errorf("act %d answers with the id %v", i+1, got)
			}
		}
	}
	late(9, 5, "act", "scan", "code", codes[0]).refused(http.StatusConflict, "conflict")
	for i, want := range []string{grow.Unknown, "off", grow.Unknown} {
		if got := value(b, codes[i], "flow_hood"); got != want {
			t.Errorf("bag %d: hood %s, want %s", i+1, got, want)
		}
	}
	for i, code := range []string{codes[0], codes[1], string(blanks[0].Code)} {
		want := noon.Add(-time.Duration([]int{20, 18, 14}[i]) * time.Minute)
		if got := b.bag(code).MarkedAt; got == nil || !got.Equal(want) {
			t.Errorf("%s was marked at %v, want %v", code, got, want)
		}
	}
	if got := b.bag(codes[2]); got.MarkedAt != nil || len(got.Entries) != 4 {
		t.Errorf("the scan taken back has %d entries and the mark of %v", len(got.Entries), got.MarkedAt)
	}
	if got := b.bag(string(blanks[0].Code)).Number; got != 4 {
		t.Errorf("the label printed ahead became bag %d, want 4", got)
	}
}

// TestBenchAsksAboutTheSameLabel: twice within seconds is one scan; later it is
// a question, and nothing is marked before the answer.
func TestBenchAsksAboutTheSameLabel(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("2", "")
	b.act("act", "scan", "code", codes[0]).ok()
	b.act("act", "scan", "code", codes[0]).ok().has(0, ".note.bad")
	b.clock.move(time.Minute)
	p := b.act("act", "scan", "code", codes[0]).ok().says(".note.bad", "Scanned before in this run")
	if got := len(b.bag(codes[0]).Entries); got != 1 {
		t.Errorf("%d entries before the answer", got)
	}
	b.filled(p, ".note.bad form").ok().has(0, ".note.bad")
	if got := len(b.bag(codes[0]).Entries); got != 2 {
		t.Errorf("%d entries after the answer", got)
	}
	b.act("act", "done").ok()
	b.act("act", "scan", "code", codes[0]).ok().has(0, ".note.bad")
}

// TestSwappedPairInThreeTaps: from the bench, two taps put a pair of labels
// right, and the same once more undoes it.
func TestSwappedPairInThreeTaps(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("2", "")
	b.act("act", "scan", "code", codes[0]).ok()
	p := b.act("act", "scan", "code", codes[1]).ok()
	path := p.Find("a[href$='/wrong-label']").AttrOr("href", "")
	for i := range 2 {
		swap := b.open(path).ok()
		action, v := swap.form("li form:has(button[aria-label^='Swap with'])", "other", codes[0])
		b.submit(action, v).led()
		if got := b.bag(codes[0]).Number; got != 2-i {
			t.Errorf("after %d swaps the first label is on bag %d", i+1, got)
		}
	}
}

func TestLeftHand(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.submit("/theme", url.Values{"hand": {"left"}, "next": {"/scan"}}).led()
	b.open("/scan").ok().has(1, "html[data-hand=left]").has(1, "button[name=hand][value=right]")
	b.submit("/theme", url.Values{"hand": {"right"}}).led()
	b.open("/scan").ok().has(0, "html[data-hand]")
}

// TestRestGoesOnPastARefusal: one label that is not a bag's any more holds up no
// other, and is named.
func TestRestGoesOnPastARefusal(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	_, codes := b.kings("3", `,"place":"room 2"`)
	for _, code := range codes {
		b.saw(code, `"kind":"marked"`)
	}
	b.days(5)
	stranger, err := grow.NewCode(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	action, v := b.walk("glance", "room 2").form("form:has([value=rest])")
	v["bag"] = []string{codes[0], string(stranger), codes[1]}
	b.follow(b.submit(action, v)).ok().says(".note", stranger.Spaced()).says("[data-count]", "2 of 3 seen")
	for _, code := range codes[:2] {
		if got := kinds(b.bag(code)); len(got) != 2 || got[1] != grow.KindLook {
			t.Errorf("%s has %v", code, got)
		}
	}
}
