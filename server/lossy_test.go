package server

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"pgregory.net/rapid"
)

// The model of two phones that tap at one bag over a bad network: an entry is
// on the phone until the farm has answered for it, and then in the farm, once.

// tap is one entry as a phone made it.
type tap struct {
	id, kind string
	at       time.Time
	body     string
	sent     bool // it may have reached the farm
	answered int  // the status that reached the phone, 0 if none did
}

// handset keeps what waits, in the order made.
type handset struct {
	name    string
	waiting []*tap
}

// badNetwork is a farm, two phones and what lies between.
type badNetwork struct {
	*house
	r      *rapid.T
	bag    string
	phones []*handset
	taps   []*tap
	made   *int
}

// TestPhonesOnABadNetwork lets two phones tap at one bag while requests and
// answers are lost, repeated and overtake each other, and the server is started
// anew. In the end each tap is in the log as it was made, once, or its refusal
// reached the phone; and the bag is what its log says.
func TestPhonesOnABadNetwork(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.connectAnew()
	made := 0
	rapid.Check(t, func(r *rapid.T) {
		h.clock.move(time.Hour)
		_, bags := h.kings("1", "")
		n := &badNetwork{house: h, r: r, bag: bags[0], phones: []*handset{{name: "bench"}, {name: "racks"}}, made: &made}
		r.Repeat(map[string]func(*rapid.T){
			"tap":            n.tap,
			"tap again":      n.tap,
			"send":           n.send,
			"lose request":   n.loseRequest,
			"lose answer":    n.loseAnswer,
			"send twice":     n.sendTwice,
			"send an outbox": n.sendOutbox,
			"start anew":     n.startAnew,
			"":               n.acknowledgedIsStored,
		})
		for _, p := range n.phones {
			for len(p.waiting) > 0 {
				n.deliver(p, 0)
			}
		}
		n.account()
	})
	report, err := store.Check(t.Context(), h.dir)
	if err != nil || len(report.Problems) > 0 {
		t.Errorf("check: %v, %v", report.Problems, err)
	}
}

func (n *badNetwork) phone(r *rapid.T) *handset {
	return n.phones[rapid.IntRange(0, len(n.phones)-1).Draw(r, "phone")]
}

// which is one of what waits on a phone: the network may let a later one
// overtake.
func (n *badNetwork) which(r *rapid.T) (*handset, int) {
	p := n.phone(r)
	if len(p.waiting) == 0 {
		r.Skip("nothing waits")
	}
	return p, rapid.IntRange(0, len(p.waiting)-1).Draw(r, "which")
}

func (n *badNetwork) tap(r *rapid.T) {
	n.clock.move(time.Second)
	*n.made++
	p := n.phone(r)
	t := &tap{id: id(*n.made), at: n.clock.Now().Add(-time.Duration(rapid.IntRange(0, 3).Draw(r, "minutes ago")) * time.Minute)}
	t.kind = rapid.SampledFrom([]string{"look", "shake", "isolate", "release", "cull", "note", "void"}).Draw(r, "kind")
	more := ""
	switch t.kind {
	case "note":
		more = `,"text":"from ` + p.name + `"`
	case "void":
		of := id(0)
		if len(n.taps) > 0 {
			of = rapid.SampledFrom(n.taps).Draw(r, "of").id
		}
		more = `,"entry":"` + of + `"`
	}
	t.body = fmt.Sprintf(`{"id":%q,"bag":%q,"kind":%q,"at":%q%s}`, t.id, n.bag, t.kind, t.at.Format(time.RFC3339Nano), more)
	p.waiting, n.taps = append(p.waiting, t), append(n.taps, t)
}

func (n *badNetwork) post(t *tap) int {
	t.sent = true
	return n.house.post("/api/v1/bags/"+n.bag+"/entries", t.body).status
}

// deliver sends one that waits and brings the answer back.
func (n *badNetwork) deliver(p *handset, i int) {
	t := p.waiting[i]
	p.waiting = slices.Delete(p.waiting, i, i+1)
	if t.answered = n.post(t); t.answered >= 500 || t.answered == 401 {
		n.r.Fatalf("%s was answered %d", t.body, t.answered)
	}
}

func (n *badNetwork) send(r *rapid.T) { n.deliver(n.which(r)) }

func (n *badNetwork) loseRequest(r *rapid.T) { n.which(r) } // it stays where it is

func (n *badNetwork) loseAnswer(r *rapid.T) {
	p, i := n.which(r)
	n.post(p.waiting[i])
}

// sendTwice lets the network deliver a request twice, the first answer first.
func (n *badNetwork) sendTwice(r *rapid.T) {
	p, i := n.which(r)
	t := p.waiting[i]
	n.deliver(p, i)
	if again := n.post(t); t.answered < 300 && again != 200 {
		r.Fatalf("%s was answered %d, and %d when it came again", t.body, t.answered, again)
	}
}

// sendOutbox sends all that waits in one go; the answer may be lost.
func (n *badNetwork) sendOutbox(r *rapid.T) {
	p := n.phone(r)
	bodies := make([]json.RawMessage, len(p.waiting))
	for i, t := range p.waiting {
		bodies[i], t.sent = json.RawMessage(t.body), true
	}
	body, err := json.Marshal(map[string]any{"entries": bodies})
	if err != nil {
		r.Fatal(err)
	}
	got := n.house.post("/api/v1/entries", string(body)).want(200)
	if rapid.Bool().Draw(r, "answer lost") {
		return
	}
	var answer struct{ Results []struct{ Status int } }
	got.into(&answer)
	for i, t := range p.waiting {
		t.answered = answer.Results[i].Status
	}
	p.waiting = nil
}

// startAnew stops the server and its farm, and starts both again.
func (n *badNetwork) startAnew(r *rapid.T) {
	n.web.Close()
	if err := n.store.Close(); err != nil {
		r.Fatal(err)
	}
	again, err := n.openAgain()
	if err != nil {
		r.Fatal(err)
	}
	n.store = again
	if n.server, err = New(Options{Store: n.store, Version: "1.2.3"}); err != nil {
		r.Fatal(err)
	}
	n.web = httptest.NewServer(n.server.Handler())
	n.connectAnew()
}

// openAgain opens the farm once its folder is free: a browser that another test
// starts at this moment holds the lock between being forked and being run.
func (n *badNetwork) openAgain() (s *store.Store, err error) {
	for range 200 {
		s, err = store.Open(n.t.Context(), n.dir, store.Options{Now: n.clock.Now, Alone: true, MustExist: true})
		if grow.KindOf(err) != grow.Conflict || err == nil {
			return s, err
		}
		time.Sleep(10 * time.Millisecond)
	}
	return nil, err
}

// connectAnew forgets old connections: a new server may get the port of one that
// is gone.
func (h *house) connectAnew() {
	way := &http.Transport{}
	h.t.Cleanup(way.CloseIdleConnections)
	h.way = way
}

// stored are the entries of the bag's log by id.
func (n *badNetwork) stored() map[string]storedEntry {
	var bag struct {
		State   string
		Entries []storedEntry
	}
	n.get("/api/v1/bags/" + n.bag).want(http.StatusOK).into(&bag)
	out := map[string]storedEntry{}
	for _, e := range bag.Entries {
		if _, twice := out[e.ID]; twice {
			n.r.Fatalf("%s is in the log twice", e.ID)
		}
		out[e.ID] = e
	}
	return out
}

type storedEntry struct {
	ID, Kind string
	At       time.Time
}

func (n *badNetwork) acknowledgedIsStored(r *rapid.T) {
	log := n.stored()
	for _, t := range n.taps {
		e, there := log[t.id]
		switch {
		case t.answered/100 == 2 && (!there || e.Kind != t.kind || !e.At.Equal(t.at)):
			r.Fatalf("%s was acknowledged; the log has %+v", t.body, e)
		case t.answered/100 == 4 && there:
			r.Fatalf("%s was refused and is in the log", t.body)
		case there && !t.sent:
			r.Fatalf("%s is in the log and was never sent", t.body)
		}
		delete(log, t.id)
	}
	if len(log) > 0 {
		r.Fatalf("the log has entries that nobody made: %v", slices.Collect(maps.Keys(log)))
	}
}

// account demands an answer for every tap.
func (n *badNetwork) account() {
	n.acknowledgedIsStored(n.r)
	for _, t := range n.taps {
		if t.answered/100 != 2 && t.answered != http.StatusConflict && t.answered != http.StatusBadRequest {
			n.r.Fatalf("%s was answered %d", t.body, t.answered)
		}
	}
}
