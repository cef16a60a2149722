package server

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// fruitingPage is what is ready, what spoils first first, with one tap for each
// row, and what was put off.
type fruitingPage struct {
	frame
	List  store.ToFruiting
	Today grow.Date
	State fruitingState
	Form  form
	Sound string
}

func (s *Server) showFruiting(c echo.Context) error {
	d, err := s.deviceState(c.Request().Context(), actorOf(c))
	if err != nil {
		return err
	}
	sound := ""
	if did := c.QueryParam("did"); did == "logged" || did == "refused" {
		sound = did
	} else {
		d.Fruiting.Last = nil // shown once, after the act
	}
	return s.drawFruiting(c, http.StatusOK, d.Fruiting, form{}, sound)
}

func (s *Server) drawFruiting(c echo.Context, status int, state fruitingState, form form, sound string) error {
	f, farm, err := s.frame(c, "To fruiting")
	if err != nil {
		return err
	}
	list, err := s.store.ToFruiting(c.Request().Context())
	if err != nil {
		return err
	}
	p := fruitingPage{frame: f, List: list, Today: grow.DateOf(s.store.Now(), farm.Zone), State: state, Form: form, Sound: sound}
	if p.Form.values == nil {
		p.Form = formOf("place", state.Room, "until", (p.Today + holdFor).String())
	}
	return s.show(c, status, "fruiting", p)
}

// holdFor is how many days a bag is put off unless another day is said (common
// practice: by then a flush is off and there is room again).
const holdFor = 3

// Heading is the page's first line.
func (p fruitingPage) Heading() string {
	if p.List.Bags == 0 {
		return "Nothing is ready"
	}
	return fmt.Sprintf("To fruiting: %d", p.List.Bags)
}

// HoldReasons are offered; another may be typed.
func (p fruitingPage) HoldReasons() []string { return holdReasons }

var holdReasons = []string{"no room", "kept cold"}

// RoomChoices are the places with the room there is.
func (p fruitingPage) RoomChoices() []choice { return roomChoices(p.List.Rooms) }

func roomChoices(rooms []store.Room) []choice {
	out := []choice{{"", "not said"}}
	for _, r := range rooms {
		out = append(out, choice{r.Name, r.Name + onlyIf(r.CapacityBags != nil, ": "+roomWords(r))})
	}
	return out
}

// roomWords say how full a place is that has a capacity.
func roomWords(r store.Room) string {
	if r.CapacityBags == nil {
		return plural(r.Bags, "bag", "bags")
	}
	return fmt.Sprintf("%d of %d bags", r.Bags, *r.CapacityBags)
}

// Short says that not all that is ready finds room; "" if it does, or if nobody
// said how much room there is.
func (p fruitingPage) Short() string {
	for _, r := range p.List.Rooms {
		free, known := r.Free()
		if known && r.Name == p.State.Room && free < p.List.Bags {
			return fmt.Sprintf("%s has room for %d of them. Take them from the top; put the rest on hold.", r.Name, free)
		}
	}
	return ""
}

// Ready says since when a row is ready.
func (p fruitingPage) Ready(r store.ReadyRow) string {
	if r.Since >= p.Today {
		return "from today"
	}
	return "for " + plural(int(p.Today-r.Since), "day", "days")
}

// fruitingState is what a device last did on the page.
type fruitingState struct {
	Room string        `json:"room,omitempty"` // where bags went last
	Last *fruitingDone `json:"last,omitempty"`
	Done []grow.ID     `json:"done,omitempty"`
}

// fruitingDone is what became of the bags of one tap.
type fruitingDone struct {
	Word    string       `json:"word"` // what was done with them
	Of      int          `json:"of"`
	Bags    []sweepSeen  `json:"bags"`
	Already int          `json:"already,omitempty"` // in fruiting before
	Refused []refusedBag `json:"refused,omitempty"`
}

// refusedBag is a bag that was not logged, and why.
type refusedBag struct {
	Bag   grow.Code `json:"bag"`
	Name  string    `json:"name"`
	Words string    `json:"words"`
}

// Names of the bags, at most a dozen.
func (d fruitingDone) Names() string {
	var names []string
	for _, b := range d.Bags[:min(len(d.Bags), 12)] {
		names = append(names, b.Name)
	}
	return strings.Join(names, ", ") + onlyIf(len(d.Bags) > 12, ", …")
}

// postFruiting moves the ticked bags of a row, puts them on hold, or takes the
// last of that back.
func (s *Server) postFruiting(c echo.Context) error {
	var tried fruitingState // what a refusal is drawn over, and not kept
	x, refusal, err := s.perform(c, func(x *deed) error {
		before := x.d.Fruiting
		if x.how.done(&x.d.Fruiting.Done) {
			return nil
		}
		err := s.fruitingAct(c, &x.d.Fruiting, x.v, x.how)
		if err != nil {
			tried, x.d.Fruiting = x.d.Fruiting, before
		}
		return err
	})
	switch {
	case err != nil:
		return err
	case wantsJSON(c):
		return s.answerAct(c, x.how, refusal)
	case refusal == nil:
		return c.Redirect(http.StatusSeeOther, "/fruiting?did="+didWord(x.d.Fruiting.Last))
	}
	f, ok := newForm(x.v).refused(refusal)
	if !ok {
		return refusal
	}
	return s.drawFruiting(c, statusOf(grow.KindOf(refusal)), tried, f, "refused")
}

func didWord(last *fruitingDone) string {
	if last != nil && len(last.Refused)+last.Already > 0 {
		return "refused"
	}
	return "logged"
}

func (s *Server) fruitingAct(c echo.Context, state *fruitingState, v url.Values, how heard) error {
	if v.Get("act") == "undo" {
		return s.undoFruiting(c, state)
	}
	draft, row := grow.Draft{Kind: grow.KindFruiting, Details: grow.Details{Place: typed(v, "place"), Opening: v.Get("opening")}}, v.Get("row")
	word := "to fruiting" + onlyIf(draft.Place != "", ", "+draft.Place)
	if v.Has("hold") {
		var err error
		if draft, err = holdDraft(v, how.day(s.store.Now(), s.store.Zone(c.Request().Context()))); err != nil {
			return err
		}
		row, word = v.Get("hold"), "on hold until "+dateWords(*draft.On)
	} else {
		state.Room = draft.Place
	}
	var codes []grow.Code
	for _, pair := range v["bag"] {
		if of, code, _ := strings.Cut(pair, " "); of == row {
			codes = append(codes, grow.Code(code))
		}
	}
	if len(codes) == 0 {
		return grow.Errorf(grow.Invalid, "no bag is ticked")
	}
	done, err := s.addForEach(c, draft, codes, how)
	if err != nil {
		return err
	}
	done.Word = word
	state.Last = done
	return nil
}

// holdDraft is a bag's "not now": why, and until when.
func holdDraft(v url.Values, today grow.Date) (grow.Draft, error) {
	var p grow.Problems
	until := dateField(v, "until", &p)
	switch {
	case until == nil && p["until"] == "":
		p.Add("until", "is missing: the day on which it comes back")
	case until != nil && *until < today:
		p.Add("until", "is past: name a day to come")
	}
	if typed(v, "because") == "" {
		p.Add("because", "is missing: no room, or kept cold")
	}
	return grow.Draft{Kind: grow.KindAgain, Details: grow.Details{On: until, For: "fruiting", Because: typed(v, "because")}}, p.Err("these bags cannot be put on hold as it is")
}

// addForEach logs the same of several bags. A bag that is in fruiting already is
// not sent there again.
func (s *Server) addForEach(c echo.Context, draft grow.Draft, codes []grow.Code, how heard) (*fruitingDone, error) {
	ctx := c.Request().Context()
	things, err := s.store.WhatIs(ctx, codes)
	if err != nil {
		return nil, err
	}
	done := &fruitingDone{Of: len(codes)}
	var drafts []grow.Draft
	for _, code := range codes {
		if draft.Kind == grow.KindFruiting && things[code].State == grow.Fruiting {
			done.Already++
			continue
		}
		d := draft
		d.Bag = code
		if err := how.stampBag(&d); err != nil {
			return nil, err
		}
		drafts = append(drafts, d)
	}
	results, err := s.store.AddEntries(ctx, actorOf(c), drafts)
	for i, r := range results {
		bag := drafts[i].Bag
		name := bagNameOf(bag, things[bag])
		if r.Err != nil {
			done.Refused = append(done.Refused, refusedBag{bag, name, r.Err.Error()})
			continue
		}
		done.Bags = append(done.Bags, sweepSeen{Bag: bag, Name: name, Entry: r.ID})
	}
	return done, err
}

func (s *Server) undoFruiting(c echo.Context, state *fruitingState) error {
	if state.Last == nil || len(state.Last.Bags) == 0 {
		return grow.Errorf(grow.Conflict, "there is nothing to take back")
	}
	var back []backEntry
	for _, b := range state.Last.Bags {
		back = append(back, backEntry{b.Bag, []grow.ID{b.Entry}})
	}
	if err := s.takeBackAll(c.Request().Context(), actorOf(c), back); err != nil {
		return err
	}
	state.Last = nil
	return nil
}
