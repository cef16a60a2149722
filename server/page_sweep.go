package server

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// Sweep rules
//
// A sweep is one walk along the racks with one answer. Each bag is logged on
// sight and counts once. Clean and young bags come first, then those on watch,
// mouldy ones last, so that nothing is carried from a mouldy bag to a clean one.
// A label that was only probably read waits for a tap. A photo of a whole shelf
// is a glance at each bag on it, whatever the answer: nobody had them in hand.

// sweepState is what a device's sweep has come to.
type sweepState struct {
	Answer string `json:"answer"`
	Place  string `json:"place,omitempty"` // where a move goes
	To     string `json:"to,omitempty"`    // to whom bags go
	// Until and Because put bags on hold.
	Until   *grow.Date `json:"until,omitempty"`
	Because string     `json:"because,omitempty"`
	// Listed tells that the bags are those of a list that was made for this
	// answer, so that one tap may give it to the rest.
	Listed bool   `json:"listed,omitempty"`
	Title  string `json:"title"`
	At     string `json:"at,omitempty"` // the place it goes over
	// Round and Began are the walk itself, kept with the first bag seen.
	Round grow.ID      `json:"round,omitempty"`
	Began time.Time    `json:"began,omitzero"`
	Bags  []sweepBag   `json:"bags"` // those it should see, in the order of the walk
	Seen  []sweepSeen  `json:"seen"` // newest first
	Maybe []sweepMaybe `json:"maybe,omitempty"`
	Asks  []sweepAsk   `json:"asks,omitempty"`
	Note  string       `json:"note,omitempty"` // what the last act has to say
	Done  []grow.ID    `json:"done,omitempty"`
}

// sweepBag is a bag that the walk should see.
type sweepBag struct {
	Code  grow.Code `json:"code"`
	Name  string    `json:"name"`
	Place string    `json:"place,omitempty"`
	Turn  int       `json:"turn"` // 0 clean, 1 on watch, 2 mouldy or apart
	Day   int       `json:"day"`
}

// sweepSeen is one bag seen. Those of one photo or one tap have the same act,
// and are taken back together.
type sweepSeen struct {
	Act    grow.ID   `json:"act,omitempty"`
	Bag    grow.Code `json:"bag"`
	Name   string    `json:"name"`
	Entry  grow.ID   `json:"entry"`
	Strays string    `json:"strays,omitempty"` // where it belongs, if not here
	To     string    `json:"to,omitempty"`     // where it was moved, or stood already
	Glance bool      `json:"glance,omitempty"` // seen in passing, whatever the walk says: a scan says more
}

// sweepMaybe is a label that was only probably read.
type sweepMaybe struct {
	Code grow.Code `json:"code"`
	Name string    `json:"name"`
}

// sweepAsk is a bag that is none of the batch that the walk goes over: nothing is
// logged of it before somebody says so.
type sweepAsk struct {
	Code   grow.Code `json:"code"`
	Name   string    `json:"name"`
	Strays string    `json:"strays"`           // the batch that it is of
	Glance bool      `json:"glance,omitempty"` // it was on a photo
}

// sweepMissing are bags not seen yet that stand together.
type sweepMissing struct {
	Place string
	Turn  int
	Bags  []sweepBag
}

// sweepPage shows a sweep, or asks for its answer and its bags.
type sweepPage struct {
	frame
	Sweep   *sweepState
	Form    form
	Places  []store.Place
	Batches []store.Batch
	Missing []sweepMissing
	Sound   string
	To      store.Room // where a move goes
	// Names are of the bags it should see and of the places a move may go to, by
	// code, for when the farm is out of reach.
	Names string
}

// sweepAnswer is what one walk can say of every bag.
type sweepAnswer struct {
	value, word string
	draft       grow.Draft
}

// sweepAnswers are those that the sweep's own page offers.
var sweepAnswers = []sweepAnswer{
	{"glance", "Seen in passing, nothing wrong", grow.Draft{Kind: grow.KindLook, Details: grow.Details{Seen: "glance"}}},
	{"clean", "In the hand, clean", grow.Draft{Kind: grow.KindLook, Details: grow.Details{Seen: "in_hand"}}},
	{"turned", "Turned, clean", grow.Draft{Kind: grow.KindLook, Details: grow.Details{Seen: "turned"}}},
	{"grown", "Grown over", grow.Draft{Kind: grow.KindColonised}},
	{"bare", "Not grown over yet", grow.Draft{Kind: grow.KindColonised, Details: grow.Details{Full: boolOf(false)}}},
	{"marked", "Label is on the bag", grow.Draft{Kind: grow.KindMarked}},
	{"move", "Moved to a place", grow.Draft{Kind: grow.KindMove}},
	{"fruiting", "To fruiting", grow.Draft{Kind: grow.KindFruiting}},
}

// cropAnswers are begun from the pages that they belong to.
var cropAnswers = []sweepAnswer{
	{"hold", "On hold", grow.Draft{Kind: grow.KindAgain, Details: grow.Details{For: "fruiting"}}},
	{"sold", "Sold", grow.Draft{Kind: grow.KindFinish, Details: grow.Details{Why: "sold"}}},
	{"given", "Given", grow.Draft{Kind: grow.KindFinish, Details: grow.Details{Why: "given"}}},
	{"spent", "Spent", grow.Draft{Kind: grow.KindFinish, Details: grow.Details{Why: "spent"}}},
}

// Answers are offered in a fixed order.
func (p sweepPage) Answers() []choice {
	var out []choice
	for _, a := range sweepAnswers {
		out = append(out, choice{a.value, a.word})
	}
	return out
}

// Special is an answer that is begun with more than a place, nil for the others.
func (p sweepPage) Special() *choice {
	for _, a := range cropAnswers {
		if p.Sweep == nil && a.value == p.Form.Value("answer") {
			return &choice{a.value, a.word}
		}
	}
	return nil
}

// HoldReasons are offered; another may be typed.
func (p sweepPage) HoldReasons() []string { return holdReasons }

// ForAll is the row for all bags not seen yet, with what it logs: the walk's own
// answer. "" where each bag must be in the hand for it, or its label be scanned.
func (p sweepPage) ForAll() string {
	s, n := p.Sweep, len(p.Sweep.Rest())
	switch {
	case s.Moving():
		return fmt.Sprintf("Move all %d here", n)
	case s.Listed:
		return fmt.Sprintf("The other %d too", n)
	}
	switch s.Answer {
	case "clean", "turned", "marked":
		return ""
	}
	return fmt.Sprintf("All %d %s", n, lower(s.answer().word))
}

// Word is the answer's.
func (s sweepState) Word() string {
	word := s.answer().word
	switch {
	case s.Moving() && s.Place != "":
		return "Now: " + s.Place
	case s.Moving():
		return "Move bags"
	case s.Place != "":
		word += ": " + s.Place
	case s.To != "":
		word += " to " + s.To
	case s.Until != nil:
		word += " until " + dateWords(*s.Until) + ": " + s.Because
	}
	return word
}

// Counted is the word behind "5 of 8".
func (s sweepState) Counted() string {
	switch s.Answer {
	case "fruiting":
		return "on the trolley"
	case "hold":
		return "on hold"
	case "move":
		return "moved"
	}
	return "seen"
}

// answer is what the walk says; the zero value before one was chosen.
func (s sweepState) answer() sweepAnswer {
	for _, a := range append(slices.Clone(sweepAnswers), cropAnswers...) {
		if a.value == s.Answer {
			return a
		}
	}
	return sweepAnswer{}
}

// Last is the bag scanned last, nil before the first.
func (s sweepState) Last() *sweepSeen {
	if len(s.Seen) == 0 {
		return nil
	}
	return &s.Seen[0]
}

// Together is how many bags the last act saw.
func (s sweepState) Together() int {
	n := min(1, len(s.Seen))
	for n < len(s.Seen) && s.Seen[0].Act != "" && s.Seen[n].Act == s.Seen[0].Act {
		n++
	}
	return n
}

// Count is how many of the expected bags were seen.
func (s sweepState) Count() int { return len(s.Bags) - len(s.missing()) }

// saw puts a bag on top of those seen.
func (s *sweepState) saw(x sweepSeen) { s.Seen = append([]sweepSeen{x}, s.Seen...) }

func (s sweepState) sawBag(code grow.Code) bool {
	return slices.ContainsFunc(s.Seen, func(x sweepSeen) bool { return x.Bag == code })
}

func (s sweepState) missing() []sweepBag {
	return slices.DeleteFunc(slices.Clone(s.Bags), func(b sweepBag) bool { return s.sawBag(b.Code) })
}

// Rest are the bags not seen yet that one tap may answer for: not the mouldy
// ones.
func (s sweepState) Rest() []sweepBag {
	return slices.DeleteFunc(s.missing(), func(b sweepBag) bool { return b.Turn > 1 })
}

// missingByPlace keeps the order of the walk.
func (s sweepState) missingByPlace() []sweepMissing {
	var out []sweepMissing
	for _, b := range s.missing() {
		if n := len(out); n == 0 || out[n-1].Place != b.Place || out[n-1].Turn != b.Turn {
			out = append(out, sweepMissing{Place: b.Place, Turn: b.Turn})
		}
		last := &out[len(out)-1]
		last.Bags = append(last.Bags, b)
	}
	return out
}

// Words names at most a dozen.
func (m sweepMissing) Words() string {
	var names []string
	for _, b := range m.Bags[:min(len(m.Bags), 12)] {
		names = append(names, b.Name)
	}
	return strings.Join(names, ", ") + onlyIf(len(m.Bags) > 12, ", …")
}

// Where says when in the walk, and where.
func (m sweepMissing) Where() string {
	turn := [...]string{"", "on watch, after the clean ones", "mouldy or apart, last of all"}[m.Turn]
	return strings.Trim(m.Place+onlyIf(m.Place != "" && turn != "", ", ")+turn, " ")
}

// draft is what the walk logs of a bag; its kind is empty while no answer was
// chosen.
func (s sweepState) draft() grow.Draft {
	d := s.answer().draft
	if s.Answer == "grown" {
		full := 100.0
		d.Pct = &full
	}
	d.Place, d.To, d.On, d.Because = s.Place, s.To, s.Until, s.Because
	return d
}

func (s *Server) showSweep(c echo.Context) error {
	d, err := s.deviceState(c.Request().Context(), actorOf(c))
	if err != nil {
		return err
	}
	q := c.QueryParams()
	form := formOf("batch", q.Get("batch"), "at", q.Get("place"), "answer", cmp.Or(q.Get("answer"), "clean"))
	if q.Has("batch") || q.Has("place") || q.Has("answer") {
		d.Sweep = nil // a link asks for another one; the old one is kept until it begins
	}
	sound := ""
	if did := q.Get("did"); slices.Contains([]string{"logged", "refused", "place"}, did) {
		sound = did
	}
	return s.drawSweep(c, http.StatusOK, d.Sweep, form, sound)
}

func (s *Server) drawSweep(c echo.Context, status int, sweep *sweepState, form form, sound string) error {
	f, _, err := s.frame(c, "Sweep")
	if err != nil {
		return err
	}
	p := sweepPage{frame: f, Sweep: sweep, Form: form, Sound: sound}
	ctx := c.Request().Context()
	if p.Places, err = s.store.Places(ctx); err != nil {
		return err
	}
	if p.Names, err = namesFor(sweep, p.Places); err != nil {
		return err
	}
	if sweep != nil {
		p.Missing = sweep.missingByPlace()
		p.To, err = s.roomFor(ctx, sweep)
	} else {
		var page store.BatchPage
		page, err = s.store.Batches(ctx, store.BatchFilter{})
		p.Batches = page.Batches
	}
	if err != nil {
		return err
	}
	return s.show(c, status, "sweep", p)
}

// mostNames is how many places, and how many bags, a page names for when the farm
// is out of reach.
const mostNames = 300

// namesFor are the names that a page needs out of reach: of a bag whether it was
// seen, of a place that it is one.
func namesFor(sweep *sweepState, places []store.Place) (string, error) {
	names := map[grow.Code][]any{}
	if sweep == nil || sweep.Moving() || sweep.Answer == "fruiting" {
		for _, p := range places[:min(len(places), mostNames)] {
			names[p.Code] = []any{p.Name, false, "place"}
		}
	}
	if sweep != nil {
		for _, b := range sweep.Bags[:min(len(sweep.Bags), mostNames)] {
			names[b.Code] = []any{b.Name, sweep.sawBag(b.Code) && !sweep.Moving()}
		}
	}
	raw, err := json.Marshal(names)
	return string(raw), err
}

// roomFor is the place that a walk's bags go to; one that no bag made yet has no
// more than a name.
func (s *Server) roomFor(ctx context.Context, sweep *sweepState) (store.Room, error) {
	if !sweep.Moving() || sweep.Place == "" {
		return store.Room{}, nil
	}
	room, err := s.store.RoomNamed(ctx, sweep.Place)
	if grow.KindOf(err) == grow.NotFound {
		return store.Room{Place: store.Place{Name: sweep.Place}}, nil
	}
	return room, err
}

// BatchChoices and PlaceChoices are what a sweep can go over.
func (p sweepPage) BatchChoices() []choice { return batchChoices(p.Batches) }

// PlaceChoices are the farm's places.
func (p sweepPage) PlaceChoices() []choice { return placeChoices(p.Places, "") }

func batchChoices(batches []store.Batch) []choice {
	out := []choice{{"", "none"}}
	for _, b := range batches {
		out = append(out, choice{string(b.Code), string(b.Code) + ", " + b.SpeciesName})
	}
	return out
}

// placeChoices are all places but one.
func placeChoices(places []store.Place, but grow.Code) []choice {
	out := []choice{{"", "none"}}
	for _, x := range places {
		if x.Code != but {
			out = append(out, choice{string(x.Code), x.Name})
		}
	}
	return out
}

func (s *Server) postSweep(c echo.Context) error {
	var act sweepAct
	x, refusal, err := s.perform(c, func(x *deed) error {
		act = sweepAct{Server: s, ctx: c.Request().Context(), who: x.who, v: x.v, d: &x.d, how: x.how}
		return act.do()
	})
	switch {
	case err != nil:
		return err
	case wantsJSON(c):
		return s.answerAct(c, x.how, refusal)
	case refusal == nil:
		return c.Redirect(http.StatusSeeOther, "/sweep?did="+act.did)
	}
	f, ok := newForm(x.v).refused(refusal)
	if !ok {
		return refusal
	}
	return s.drawSweep(c, statusOf(grow.KindOf(refusal)), x.d.Sweep, f, "refused")
}
