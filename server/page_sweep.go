package server

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"bagmark/grow"
	"bagmark/scanner"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// sweepState is one walk along the racks with one answer: bag after bag is
// scanned, and the page names those not seen yet.
type sweepState struct {
	Answer string               `json:"answer"`
	Place  string               `json:"place,omitempty"` // where a move goes
	Title  string               `json:"title"`
	Names  map[grow.Code]string `json:"names"` // the bags it should see
	Order  []grow.Code          `json:"order"`
	Seen   []sweepSeen          `json:"seen"` // newest first
}

// sweepSeen is one scan of it.
type sweepSeen struct {
	Form  grow.ID   `json:"form"`
	Bag   grow.Code `json:"bag"`
	Name  string    `json:"name"`
	Entry grow.ID   `json:"entry"`
}

// sweepPage shows a sweep, or asks for its answer and its bags.
type sweepPage struct {
	frame
	Sweep   *sweepState
	Form    form
	Places  []store.Place
	Batches []store.Batch
	Missing []string
	Sound   string
}

// sweepAnswers are what one walk can say of every bag.
var sweepAnswers = []struct {
	value, word string
	draft       grow.Draft
}{
	{"glance", "Seen in passing, nothing wrong", grow.Draft{Kind: grow.KindLook, Details: grow.Details{Seen: "glance"}}},
	{"clean", "In the hand, clean", grow.Draft{Kind: grow.KindLook, Details: grow.Details{Seen: "in_hand"}}},
	{"turned", "Turned, clean", grow.Draft{Kind: grow.KindLook, Details: grow.Details{Seen: "turned"}}},
	{"grown", "Grown over", grow.Draft{Kind: grow.KindColonised}},
	{"bare", "Not grown over yet", grow.Draft{Kind: grow.KindColonised, Details: grow.Details{Full: boolOf(false)}}},
	{"marked", "Label is on the bag", grow.Draft{Kind: grow.KindMarked}},
	{"move", "Moved to another place", grow.Draft{Kind: grow.KindMove}},
	{"fruiting", "To fruiting", grow.Draft{Kind: grow.KindFruiting}},
}

// Answers are offered in a fixed order.
func (p sweepPage) Answers() []choice {
	var out []choice
	for _, a := range sweepAnswers {
		out = append(out, choice{a.value, a.word})
	}
	return out
}

// Word is the answer's.
func (s sweepState) Word() string {
	for _, a := range sweepAnswers {
		if a.value == s.Answer {
			return a.word + onlyIf(s.Place != "", ": "+s.Place)
		}
	}
	return s.Answer
}

// Last is the bag scanned last, nil before the first.
func (s sweepState) Last() *sweepSeen {
	if len(s.Seen) == 0 {
		return nil
	}
	return &s.Seen[0]
}

// Count is how many of the expected bags were seen.
func (s sweepState) Count() int { return len(s.Order) - len(s.missing()) }

func (s sweepState) missing() []string {
	var out []string
	for _, code := range s.Order {
		if !slices.ContainsFunc(s.Seen, func(x sweepSeen) bool { return x.Bag == code }) {
			out = append(out, s.Names[code])
		}
	}
	return out
}

func (s sweepState) draft() grow.Draft {
	for _, a := range sweepAnswers {
		if a.value != s.Answer {
			continue
		}
		d := a.draft
		if s.Answer == "grown" {
			full := 100.0
			d.Pct = &full
		}
		d.Place = s.Place
		return d
	}
	return grow.Draft{}
}

func (s *Server) showSweep(c echo.Context) error {
	d, err := s.deviceState(c.Request().Context(), actorOf(c))
	if err != nil {
		return err
	}
	q := c.QueryParams()
	form := formOf("batch", q.Get("batch"), "at", q.Get("place"), "answer", "clean")
	if q.Has("batch") || q.Has("place") {
		d.Sweep = nil // a link asks for another one; the old one is kept until it begins
	}
	sound := ""
	if q.Get("did") == "logged" {
		sound = "logged"
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
	if sweep != nil {
		p.Missing = sweep.missing()
		return s.show(c, status, "sweep", p)
	}
	if p.Places, err = s.store.Places(ctx); err != nil {
		return err
	}
	page, err := s.store.Batches(ctx, store.BatchFilter{})
	if err != nil {
		return err
	}
	p.Batches = page.Batches
	return s.show(c, status, "sweep", p)
}

// BatchChoices and PlaceChoices are what a sweep can go over.
func (p sweepPage) BatchChoices() []choice {
	out := []choice{{"", "none"}}
	for _, b := range p.Batches {
		out = append(out, choice{string(b.Code), string(b.Code) + ", " + b.SpeciesName})
	}
	return out
}

// PlaceChoices are the farm's places.
func (p sweepPage) PlaceChoices() []choice {
	out := []choice{{"", "none"}}
	for _, x := range p.Places {
		out = append(out, choice{string(x.Code), x.Name})
	}
	return out
}

func (s *Server) postSweep(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	ctx, who := c.Request().Context(), actorOf(c)
	d, err := s.deviceState(ctx, who)
	if err != nil {
		return err
	}
	refusal := s.sweepAct(ctx, who, v, &d)
	if err := s.keepDeviceState(ctx, who, d); err != nil {
		return err
	}
	if refusal == nil {
		return c.Redirect(http.StatusSeeOther, "/sweep?did=logged")
	}
	f, ok := newForm(v).refused(refusal)
	if !ok {
		return refusal
	}
	return s.drawSweep(c, statusOf(grow.KindOf(refusal)), d.Sweep, f, "refused")
}

func (s *Server) sweepAct(ctx context.Context, who store.Actor, v url.Values, d *deviceState) error {
	switch act := v.Get("act"); {
	case act == "begin":
		sweep, err := s.beginSweep(ctx, v)
		if err == nil {
			d.Sweep = sweep
		}
		return err
	case d.Sweep == nil:
		return grow.Errorf(grow.Invalid, "choose an answer first")
	case act == "done":
		d.Sweep = nil
		return nil
	case act == "undo":
		return s.undoSweep(ctx, who, d.Sweep)
	}
	return s.sweepScan(ctx, who, v, d.Sweep)
}

// beginSweep finds the bags that the walk should see.
func (s *Server) beginSweep(ctx context.Context, v url.Values) (*sweepState, error) {
	sweep := &sweepState{Answer: v.Get("answer"), Names: map[grow.Code]string{}}
	if sweep.Answer == "move" || sweep.Answer == "fruiting" {
		sweep.Place = typed(v, "place")
	}
	if sweep.draft().Kind == "" || sweep.Answer == "move" && sweep.Place == "" {
		p := grow.Problems{"answer": "is missing, or the place of the move is"}
		return nil, p.Err("a sweep has one answer")
	}
	switch {
	case v.Get("batch") != "":
		whole, err := s.store.Batch(ctx, grow.BatchCode(v.Get("batch")))
		if err != nil {
			return nil, err
		}
		sweep.Title = string(whole.Batch.Code)
		for _, b := range whole.Bags {
			if !b.State.Out() {
				sweep.Order = append(sweep.Order, b.Code)
				sweep.Names[b.Code] = whole.Batch.Short + " #" + numberWords(float64(b.Number))
			}
		}
	case v.Get("at") != "":
		whole, err := s.store.Place(ctx, grow.Code(v.Get("at")))
		if err != nil {
			return nil, err
		}
		sweep.Title = whole.Place.Name
		for _, b := range whole.Bags {
			sweep.Order = append(sweep.Order, b.Code)
			sweep.Names[b.Code] = b.Short + " #" + numberWords(float64(b.Number))
		}
	}
	return sweep, nil
}

// sweepScan logs the answer for one bag; the same form, or the same bag, twice
// is once.
func (s *Server) sweepScan(ctx context.Context, who store.Actor, v url.Values, sweep *sweepState) error {
	form, err := grow.ParseID(v.Get("id"))
	if err != nil {
		return err
	}
	ref, err := scanner.ParseTyped(v.Get("code"))
	if err != nil {
		return err
	}
	for _, x := range sweep.Seen {
		if x.Form == form || x.Bag == ref.Code {
			return nil
		}
	}
	d := sweep.draft()
	d.ID, d.Bag = form, ref.Code
	e, b, _, err := s.store.AddEntry(ctx, who, d)
	if err != nil {
		return err
	}
	sweep.Seen = append([]sweepSeen{{form, b.Code, nameOfBag(b), e.ID}}, sweep.Seen...)
	return nil
}

func (s *Server) undoSweep(ctx context.Context, who store.Actor, sweep *sweepState) error {
	last := sweep.Last()
	if last == nil {
		return grow.Errorf(grow.Invalid, "there is nothing to take back")
	}
	err := s.takeBack(ctx, who, last.Bag, []grow.ID{last.Entry})
	if err == nil {
		sweep.Seen = sweep.Seen[1:]
	}
	return err
}

// MissingWords names at most a dozen.
func (p sweepPage) MissingWords() string {
	n := min(len(p.Missing), 12)
	return strings.Join(p.Missing[:n], ", ") + onlyIf(len(p.Missing) > n, ", …")
}
