package server

import (
	"net/http"
	"net/url"
	"slices"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// bagPage is what a label opens: what to expect of this bag today, what was
// different about it, and the answers.
type bagPage struct {
	frame
	Bag        store.Bag
	Age        string
	Shape      shape
	Expect     grow.Expectation
	Departures []string // as printed on the label
	Unknown    []string // conditions that are known to be unknown
	Conditions []conditionLine
	Tiles      []tile
	Logged     *grow.Entry      // just logged, and no tile shows it
	Relabels   []store.Relabel  // newest first
	Swapped    *store.Relabel   // just done
	Watches    []store.WatchFor // for a mould that was just taken back
	Gloves     bool             // ask whether gloves were changed
	Open       string           // which of the further forms is open
	When       bool             // the further forms ask when it was seen
	Form       form
	Places     []string
	Settings   []choice        // condition=value
	Air        string          // what it did to the bag, in one line
	Elsewhere  *store.Sighting // where it was last seen, if not where it belongs
}

// conditionLine is one condition in words.
type conditionLine struct{ Label, Words string }

// Out tells whether the bag has left the farm's care.
func (p bagPage) Out() bool { return p.Bag.State.Out() }

// The words that the further forms offer.
func (p bagPage) BareParts() []string    { return grow.BareParts }
func (p bagPage) Signs() []grow.SignWord { return grow.SignWords() }
func (p bagPage) Bases() []choice {
	return []choice{{"recorded", "It was written down"}, {"remembered", "Somebody remembers"}, {"guess", "A guess: kept, not counted"}}
}
func (p bagPage) AgainFors() []choice {
	return []choice{{"look", "look again"}, {"fruiting", "move it to fruiting"}}
}
func (p bagPage) Openings() []choice   { return choicesOf(grow.Openings, "not opened, or not said") }
func (p bagPage) FinishWhys() []choice { return choicesOf(grow.FinishWhys, "") }
func (p bagPage) CullWhys() []choice   { return choicesOf(grow.CullWhys, "not said") }

// choicesOf offers keys in words; none is offered as well where it has a word.
func choicesOf(keys []string, none string) []choice {
	var out []choice
	if none != "" {
		out = append(out, choice{"", none})
	}
	for _, k := range keys {
		out = append(out, choice{k, plainWords(k)})
	}
	return out
}

func (s *Server) showBag(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	b, err := s.store.Bag(c.Request().Context(), code)
	if err != nil {
		return s.showOther(c, code, err)
	}
	p, err := s.newBagPage(c, b)
	if err != nil {
		return err
	}
	p.Open, p.When = c.QueryParam("open"), c.QueryParam("when") != ""
	return s.show(c, http.StatusOK, "bag", p)
}

// showOther is for a code that is not a bag's: a blank has a page of its own,
// anything else keeps the refusal.
func (s *Server) showOther(c echo.Context, code grow.Code, refusal error) error {
	if grow.KindOf(refusal) != grow.NotFound {
		return refusal
	}
	things, err := s.store.WhatIs(c.Request().Context(), []grow.Code{code})
	if err != nil {
		return err
	}
	thing, ok := things[code]
	switch {
	case !ok:
		return refusal
	case thing.Kind == grow.BlankCode:
		return s.showBlank(c, code, form{})
	}
	return c.Redirect(http.StatusSeeOther, thing.Kind.Path(code))
}

func (s *Server) newBagPage(c echo.Context, b store.Bag) (bagPage, error) {
	f, farm, err := s.frame(c, string(b.Batch.Code)+" #"+numberWords(float64(b.Number)))
	if err != nil {
		return bagPage{}, err
	}
	used, err := s.store.Used(c.Request().Context())
	if err != nil {
		return bagPage{}, err
	}
	today := grow.DateOf(s.store.Now(), farm.Zone)
	p := bagPage{frame: f, Bag: b, Age: grow.Age(b.Day, grow.DateOf(b.Batch.InoculatedAt, farm.Zone)), Shape: shapeOf(factsOfBag(b)),
		Expect: grow.Expect(expectInput(b, farm)), Places: used.Places, Settings: settingChoices(farm.Conditions), Air: airLine(b)}
	if p.Elsewhere, err = s.store.SeenElsewhere(c.Request().Context(), b.Code); err != nil {
		return bagPage{}, err
	}
	p.Departures, p.Unknown, p.Conditions = conditionLines(b)
	p.Logged = loggedEntry(b, c.QueryParam("logged"))
	if p.Relabels, err = s.store.Relabels(c.Request().Context(), b.Code); err != nil {
		return bagPage{}, err
	}
	if c.QueryParam("did") == "swap" && len(p.Relabels) > 0 && p.Relabels[0].Swap {
		p.Swapped = &p.Relabels[0]
	}
	if f.May("grower") {
		p.Tiles = tray(b, p.Expect, today, p.Logged)
		if slices.ContainsFunc(p.Tiles, func(t tile) bool { return t.Did != nil }) {
			p.Logged = nil
		}
		if p.Watches, err = s.watchesFor(c.Request().Context(), b); err != nil {
			return bagPage{}, err
		}
	}
	from := cookieValue(c, cookieGloves)
	p.Gloves = from != "" && from != string(b.Code)
	return p, nil
}

// loggedEntry is the entry that the page before has just logged.
func loggedEntry(b store.Bag, id string) *grow.Entry {
	for _, e := range b.Entries {
		if id != "" && string(e.ID) == id && e.VoidedBy == "" {
			return &e
		}
	}
	return nil
}

func expectInput(b store.Bag, farm *store.Farm) grow.ExpectInput {
	made := grow.DateOf(b.Batch.InoculatedAt, farm.Zone)
	in := grow.ExpectInput{Species: b.Species, Day: b.Day, State: b.State, Late: b.Forecast.Overdue, Slow: b.Forecast.Slow, FirstHuntDay: farm.FirstLookDay,
		Started: b.Status.StartedAt != nil, Turned: b.Status.Turned, Pins: b.Status.PinsAt != nil, Contaminated: b.Contaminated != nil}
	if b.Status.GrownOverAt != nil {
		ago := b.Day - int(grow.DateOf(*b.Status.GrownOverAt, farm.Zone)-made)
		in.ColonisedDaysAgo = &ago
	}
	if r := b.Forecast.Colonised; r != nil {
		in.GrownOverDue = int(r.Likely - made)
	}
	if r := b.Forecast.Ready; r != nil {
		in.ReadyDue = int(r.Earliest - made)
	}
	for _, c := range b.Conditions {
		in.Unshaken = in.Unshaken || c.Key == "shaken" && c.Departure
	}
	return in
}

func factsOfBag(b store.Bag) bagFacts {
	return bagFacts{State: b.State, Pct: b.ColonisedPct, Mouldy: b.Contaminated != nil, Late: b.Forecast.Slow || b.Forecast.Overdue,
		Ready: b.Due != nil && b.Due.Why == grow.DueReady, Ripening: b.Species.RipeningDays.High > 0, Watched: b.Watch != nil}
}

// conditionLines are the departures as printed, what is known to be unknown,
// and all conditions in words.
func conditionLines(b store.Bag) (departures, unknown []string, all []conditionLine) {
	for _, c := range b.Conditions {
		words := grow.Unknown
		switch {
		case c.Value != nil:
			words = plainWords(*c.Value)
		case c.From == grow.BagLevel:
			unknown = append(unknown, c.Label)
		}
		if c.Printed != "" {
			departures = append(departures, c.Printed)
		}
		if c.Basis != "recorded" {
			words += " (" + c.Basis + ")"
		}
		words += onlyIf(c.Late, ", said after the mould was found")
		all = append(all, conditionLine{c.Label, words})
	}
	return departures, unknown, all
}

// settingChoices are all values of all conditions.
func settingChoices(cs grow.Conditions) []choice {
	var out []choice
	for _, key := range cs.Keys() {
		for _, v := range append(slices.Clone(cs[key].Values), grow.Unknown) {
			out = append(out, choice{key + "=" + v, cs[key].Label + ": " + plainWords(v)})
		}
	}
	return out
}

func (s *Server) postEntry(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	d, err := parseEntryForm(v, code, s.store.Zone(ctx))
	var e grow.Entry
	if err == nil {
		e, _, _, err = s.store.AddEntry(ctx, actorOf(c), d)
	}
	if err != nil {
		return s.refuseEntry(c, code, v, err)
	}
	noteMould(c, e)
	return c.Redirect(http.StatusSeeOther, afterEntry(v, e))
}

// afterEntry is where a logged entry leads.
func afterEntry(v url.Values, e grow.Entry) string {
	page := "/B/" + string(e.Bag)
	switch {
	case e.Kind == grow.KindVoid:
		return page
	case e.Kind == grow.KindContaminated, v.Get("next") == "mould":
		page += "/mould"
	}
	return page + "?logged=" + string(e.ID)
}

// refuseEntry shows the bag's page again with what was typed and why it was
// refused, or the page on its mould where that was the one posted from.
func (s *Server) refuseEntry(c echo.Context, code grow.Code, v url.Values, refusal error) error {
	f, ok := newForm(v).refused(refusal)
	if !ok {
		return refusal
	}
	b, err := s.store.Bag(c.Request().Context(), code)
	if err != nil {
		return refusal
	}
	if v.Get("next") == "mould" && b.Contaminated != nil {
		return s.drawMould(c, statusOf(grow.KindOf(refusal)), code, &f)
	}
	p, err := s.newBagPage(c, b)
	if err != nil {
		return err
	}
	p.Form, p.Open, p.When = f, v.Get("kind"), v.Get("at") != ""
	return s.show(c, statusOf(grow.KindOf(refusal)), "bag", p)
}

func (s *Server) postBagPhoto(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	data, err := pictureBytes(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	photo, _, err := s.keepPhoto(ctx, actorOf(c), data)
	if err != nil {
		return s.refuseEntry(c, code, url.Values{"kind": {"photo"}}, err)
	}
	id, err := newID()
	if err != nil {
		return err
	}
	d := grow.Draft{ID: id, Bag: code, Kind: grow.KindPhoto, Details: grow.Details{Photo: photo}}
	e, _, _, err := s.store.AddEntry(ctx, actorOf(c), d)
	if err != nil {
		return s.refuseEntry(c, code, url.Values{"kind": {"photo"}}, err)
	}
	return c.Redirect(http.StatusSeeOther, afterEntry(nil, e))
}

// SeenAt asks in one of the further forms when it was seen.
func (p bagPage) SeenAt(kind string) field {
	f := p.Form.Field("at", "When").As("datetime-local").Hint("Empty: now.")
	if p.Open == kind {
		return f
	}
	f.Value, f.Error = "", ""
	return f.In(kind)
}
