package server

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"slices"

	"bagmark/grow"
	"bagmark/scanner"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// Weighing rules
//
// A bag is scanned, then what the scale shows is typed: the tare is remembered
// and taken off here, so that what is logged is mushrooms alone. A scan chooses
// the bag and logs nothing.

// harvestState is what a device is weighing.
type harvestState struct {
	Bag    grow.Code     `json:"bag,omitempty"`
	TareG  float64       `json:"tare_g,omitempty"`
	Ounces bool          `json:"ounces,omitempty"` // the scale shows no pounds
	On     grow.Date     `json:"on,omitempty"`     // the day of Weighed
	Marks  []harvestMark `json:"marks,omitempty"`
	Bags   int           `json:"bags,omitempty"` // weighed on that day, and
	Grams  float64       `json:"grams,omitempty"`
	Done   []grow.ID     `json:"done,omitempty"`
	Notice string        `json:"notice,omitempty"`
}

// harvestMark is one weighing.
type harvestMark struct {
	Bag   grow.Code `json:"bag"`
	Name  string    `json:"name"`
	Entry grow.ID   `json:"entry"`
	Grams float64   `json:"grams"`
	Flush int       `json:"flush"`
}

// mostHarvestMarks is how many weighings can be taken back from the page.
const mostHarvestMarks = 12

// Last is the weighing before, nil before the first.
func (s harvestState) Last() *harvestMark {
	if len(s.Marks) == 0 {
		return nil
	}
	return &s.Marks[0]
}

// harvestPage asks for a bag, then for its weight.
type harvestPage struct {
	frame
	State harvestState
	Bag   *store.Bag
	Form  form
	Sound string
}

// Flushes are what the weight can belong to.
func (p harvestPage) Flushes() []choice {
	next := p.Bag.Flush + 1
	out := []choice{{fmt.Sprint(next), fmt.Sprintf("flush %d, a new one", next)}}
	if p.Bag.Flush > 0 {
		out = append(out, choice{fmt.Sprint(p.Bag.Flush), fmt.Sprintf("flush %d, more of it", p.Bag.Flush)})
	}
	return out
}

// Words are a weight as the scale showed it.
func (p harvestPage) Words(grams float64) string {
	if p.State.Ounces && p.U.Weight == grow.ImperialWeight {
		return p.U.MassTyped(grams, grow.Kitchen) + " oz"
	}
	return p.U.Weighed(grams)
}

// Name of the bag that is weighed.
func (p harvestPage) Name() string { return nameOfBag(*p.Bag) }

func (s *Server) showHarvest(c echo.Context) error {
	ctx := c.Request().Context()
	d, err := s.deviceState(ctx, actorOf(c))
	if err != nil {
		return err
	}
	if text := c.QueryParam("code"); text != "" { // from the bag's own page
		code, err := grow.ParseCode(text)
		if err != nil {
			return err
		}
		d.Harvest.Bag = code
	}
	sound := ""
	if did := c.QueryParam("did"); did == "logged" || did == "refused" {
		sound = did
	}
	return s.drawHarvest(c, http.StatusOK, d.Harvest, form{}, sound)
}

func (s *Server) drawHarvest(c echo.Context, status int, state harvestState, form form, sound string) error {
	f, farm, err := s.frame(c, "Weigh")
	if err != nil {
		return err
	}
	if state.On != grow.DateOf(s.store.Now(), farm.Zone) {
		state.Bags, state.Grams = 0, 0
	}
	p := harvestPage{frame: f, State: state, Form: form, Sound: sound}
	if p.Form.values == nil {
		p.Form = formOf("tare", f.U.MassTyped(state.TareG, grow.Kitchen))
	}
	if state.Bag != "" {
		b, err := s.store.Bag(c.Request().Context(), state.Bag)
		if err != nil && grow.KindOf(err) != grow.NotFound {
			return err
		}
		if err == nil {
			p.Bag = &b
		}
	}
	return s.show(c, status, "harvest", p)
}

func (s *Server) postHarvest(c echo.Context) error {
	x, refusal, err := s.perform(c, func(x *deed) error {
		state := &x.d.Harvest
		if x.how.done(&state.Done) {
			return nil
		}
		state.Notice = ""
		err := s.harvestAct(c.Request().Context(), x.who, state, x.v, x.how)
		if err != nil {
			state.Done = slices.DeleteFunc(state.Done, func(id grow.ID) bool { return id == x.how.id }) // it may come again
		}
		return err
	})
	switch {
	case err != nil:
		return err
	case wantsJSON(c):
		return s.answerAct(c, x.how, refusal)
	case refusal == nil && x.d.Harvest.Notice != "":
		return c.Redirect(http.StatusSeeOther, "/harvest?did=refused")
	case refusal == nil:
		return c.Redirect(http.StatusSeeOther, "/harvest?did=logged")
	}
	f, ok := newForm(x.v).refused(refusal)
	if !ok {
		return refusal
	}
	return s.drawHarvest(c, statusOf(grow.KindOf(refusal)), x.d.Harvest, f, "refused")
}

func (s *Server) harvestAct(ctx context.Context, who store.Actor, state *harvestState, v url.Values, how heard) error {
	switch v.Get("act") {
	case "weigh":
		return s.weigh(ctx, who, state, v, how)
	case "other":
		state.Bag = ""
		return nil
	case "undo":
		last := state.Last()
		if last == nil {
			return grow.Errorf(grow.Conflict, "there is nothing to take back")
		}
		if err := s.takeBack(ctx, who, last.Bag, []grow.ID{last.Entry}); err != nil {
			return err
		}
		state.Bags, state.Grams, state.Marks = max(0, state.Bags-1), math.Max(0, state.Grams-last.Grams), state.Marks[1:]
		return nil
	}
	ref, err := scanner.ParseTyped(v.Get("code"))
	if err != nil {
		return err
	}
	b, err := s.store.Bag(ctx, ref.Code)
	if err != nil {
		return err
	}
	state.Bag = b.Code
	if b.State.Out() {
		state.Bag, state.Notice = "", fmt.Sprintf("%s is %s: nothing can be picked from it.", nameOfBag(b), b.State)
	}
	return nil
}

// weigh logs what is left of the scale's weight without the tare.
func (s *Server) weigh(ctx context.Context, who store.Actor, state *harvestState, v url.Values, how heard) error {
	var p grow.Problems
	u := grow.UnitsOf("metric")
	if v.Get("unit") == "oz" { // as the page said it, whatever the farm writes by now
		u = grow.UnitsOf("imperial")
	}
	gross, tare := grossOf(v, u, &p), typedGrams(u, grow.Kitchen, v, "tare", &p)
	if tare == nil {
		tare = new(0.0)
	}
	switch {
	case gross == nil && p["gross"] == "" && p["pounds"] == "":
		p.Add("gross", "is missing: what the scale shows")
	case gross != nil && *tare < 0:
		p.Add("tare", "cannot be less than nothing")
	case gross != nil && *gross < *tare:
		p.Add("gross", "is less than the tare of %s", u.Weighed(*tare))
	}
	d := grow.Draft{Bag: grow.Code(v.Get("bag")), Kind: grow.KindHarvest}
	if n := numberField(v, "flush", &p); n != nil {
		d.Flush = new(int(*n))
	}
	if err := p.Err("this weight cannot be logged as it is"); err != nil {
		return err
	}
	net := math.Round((*gross-*tare)*100) / 100 // no scale shows less than a hundredth of a gram
	d.Grams = &net
	if err := how.stamp(&d, 0); err != nil {
		return err
	}
	e, b, _, err := s.store.AddEntry(ctx, who, d)
	if err != nil {
		return err
	}
	state.note(harvestMark{Bag: b.Code, Name: nameOfBag(b), Entry: e.ID, Grams: net, Flush: b.Flush}, grow.DateOf(s.store.Now(), s.store.Zone(ctx)))
	state.TareG, state.Bag = *tare, ""
	if pounds := typed(v, "pounds") != ""; pounds || *gross >= grow.GramsPerPound {
		state.Ounces = !pounds && u.Weight == grow.ImperialWeight
	}
	return nil
}

// grossOf is what the scale shows: grams, ounces, or pounds and ounces in two fields.
func grossOf(v url.Values, u grow.Units, p *grow.Problems) *float64 {
	pounds, ounces := typed(v, "pounds"), typed(v, "gross")
	switch {
	case pounds == "":
		return typedGrams(u, grow.Kitchen, v, "gross", p)
	case ounces == "":
		return typedGrams(u, grow.Bucket, v, "pounds", p)
	}
	both := url.Values{"gross": {pounds + " lb " + ounces + " oz"}}
	return typedGrams(u, grow.Kitchen, both, "gross", p)
}

func (s *harvestState) note(m harvestMark, today grow.Date) {
	if s.On != today {
		s.On, s.Bags, s.Grams = today, 0, 0
	}
	s.Bags, s.Grams = s.Bags+1, s.Grams+m.Grams
	s.Marks = append([]harvestMark{m}, s.Marks...)
	s.Marks = s.Marks[:min(len(s.Marks), mostHarvestMarks)]
}
