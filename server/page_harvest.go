package server

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/scanner"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// Weighing rules
//
// A bag is scanned, then what the scale shows is typed: the tare is remembered
// and taken off here, so that what is logged is mushrooms alone. A scan chooses
// the bag and logs nothing; a weight that was typed and not logged before it
// waits, by name, until somebody logs or drops it.

// harvestState is what a device is weighing.
type harvestState struct {
	Bag    grow.Code     `json:"bag,omitempty"`
	TareG  float64       `json:"tare_g,omitempty"`
	Ounces bool          `json:"ounces,omitempty"` // the scale shows no pounds
	On     grow.Date     `json:"on,omitempty"`     // the day of Weighed
	Waits  []harvestWait `json:"waits,omitempty"`  // newest first
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

// harvestWait is a weight that was typed when the next bag was scanned, as it was
// typed.
type harvestWait struct {
	Bag    grow.Code `json:"bag"`
	Name   string    `json:"name"`
	Pounds string    `json:"pounds,omitempty"`
	Gross  string    `json:"gross"`
	Tare   string    `json:"tare"`
	Flush  string    `json:"flush"`
	Unit   string    `json:"unit,omitempty"`
}

// Was tells one weight of a bag from another.
func (w harvestWait) Was() string { return w.Pounds + "/" + w.Gross }

// Words are what the scale showed.
func (w harvestWait) Words() string {
	if w.Unit != "oz" {
		return w.Gross + " g"
	}
	return strings.TrimSpace(onlyIf(w.Pounds != "", w.Pounds+" lb ") + onlyIf(w.Gross != "", w.Gross+" oz"))
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
	var out []choice
	if next := p.Bag.Flush + 1; next <= grow.MostFlushes {
		out = append(out, choice{fmt.Sprint(next), fmt.Sprintf("flush %d, a new one", next)})
	}
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
	if state.Bag != "" {
		b, err := s.store.Bag(c.Request().Context(), state.Bag)
		if err != nil && grow.KindOf(err) != grow.NotFound {
			return err
		}
		if err == nil {
			p.Bag = &b
		}
	}
	p.fill(grow.DateOf(s.store.Now(), farm.Zone), farm.Zone)
	return s.show(c, status, "harvest", p)
}

// fill offers what was not typed: the tare used last, and the flush of the last
// pick where that was today, else the next.
func (p *harvestPage) fill(today grow.Date, zone *time.Location) {
	values := maps.Clone(p.Form.values)
	if values == nil {
		values = url.Values{}
	}
	if !values.Has("tare") {
		values.Set("tare", p.U.MassTyped(p.State.TareG, grow.Kitchen))
	}
	if p.Bag != nil && !values.Has("flush") {
		values.Set("flush", fmt.Sprint(min(p.Bag.Flush+rank(!pickedOn(*p.Bag, today, zone)), grow.MostFlushes)))
	}
	p.Form.values = values
}

// pickedOn tells whether the last pick of a bag was on a day.
func pickedOn(b store.Bag, day grow.Date, zone *time.Location) bool {
	last := slices.IndexFunc(b.Entries, func(e grow.Entry) bool {
		return e.Kind == grow.KindHarvest && e.VoidedBy == "" && e.Fits
	})
	return last >= 0 && grow.DateOf(b.Entries[last].At, zone) == day
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
	var typed form // into the fields of the bag on the scale
	if act := x.v.Get("act"); act == "weigh" || act == "scan" && grow.Code(x.v.Get("bag")) == x.d.Harvest.Bag {
		typed = newForm(x.v)
	}
	f, ok := typed.refused(refusal)
	if !ok {
		return refusal
	}
	return s.drawHarvest(c, statusOf(grow.KindOf(refusal)), x.d.Harvest, f, "refused")
}

func (s *Server) harvestAct(ctx context.Context, who store.Actor, state *harvestState, v url.Values, how heard) error {
	switch v.Get("act") {
	case "weigh":
		if err := s.weigh(ctx, who, state, v, how); err != nil {
			return err
		}
		state.Bag = ""
		return nil
	case "late":
		return s.weigh(ctx, who, state, v, how)
	case "drop":
		state.waitsNoMore(v)
		return nil
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
	return s.toScale(ctx, state, v)
}

// toScale puts the bag of a scanned label on the scale. What is no bag, or one
// that nothing can be picked from, leaves the bag that stands there.
func (s *Server) toScale(ctx context.Context, state *harvestState, v url.Values) error {
	ref, err := scanner.ParseTyped(v.Get("code"))
	if err != nil {
		return err
	}
	b, err := s.store.Bag(ctx, ref.Code)
	if err != nil {
		return err
	}
	if tare := typedGrams(scaleUnits(v), grow.Kitchen, v, "tare", new(grow.Problems)); tare != nil && *tare >= 0 {
		state.TareG = *tare
	}
	if b.State.Out() {
		state.Notice = fmt.Sprintf("%s is %s: nothing can be picked from it.", nameOfBag(b), b.State)
		return nil
	}
	if before := grow.Code(v.Get("bag")); before != b.Code && typed(v, "pounds")+typed(v, "gross") != "" {
		left, err := s.store.Bag(ctx, before)
		if err != nil {
			return err
		}
		state.waitsFor(left, v)
	}
	state.Bag = b.Code
	return nil
}

// waitsFor keeps a weight that was typed for a bag and not logged.
func (s *harvestState) waitsFor(b store.Bag, v url.Values) {
	w := weightTyped(v)
	w.Bag, w.Name = b.Code, nameOfBag(b)
	if !slices.Contains(s.Waits, w) { // a phone out of reach shows the page as it was, and says it again
		s.Waits = append([]harvestWait{w}, s.Waits...)
	}
}

func weightTyped(v url.Values) harvestWait {
	return harvestWait{Pounds: typed(v, "pounds"), Gross: typed(v, "gross"), Tare: typed(v, "tare"), Flush: v.Get("flush"), Unit: v.Get("unit")}
}

// waitsNoMore forgets a weight that was logged or dropped: by what it was, for
// it may have been put right, or the same one logged from the scale.
func (s *harvestState) waitsNoMore(v url.Values) {
	was := cmp.Or(v.Get("was"), weightTyped(v).Was())
	s.Waits = slices.DeleteFunc(s.Waits, func(w harvestWait) bool { return string(w.Bag) == v.Get("bag") && w.Was() == was })
}

// weigh logs what is left of the scale's weight without the tare.
func (s *Server) weigh(ctx context.Context, who store.Actor, state *harvestState, v url.Values, how heard) error {
	var p grow.Problems
	u := scaleUnits(v)
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
	d.Flush = wholeField(v, "flush", &p)
	if err := p.Err("this weight cannot be logged as it is"); err != nil {
		return err
	}
	net := math.Round((*gross-*tare)*100) / 100 // no scale shows less than a hundredth of a gram
	if err := s.doubtWeight(ctx, d.Bag, net, v, u); err != nil {
		return err
	}
	d.Grams = &net
	if err := how.stamp(&d, 0); err != nil {
		return err
	}
	e, b, _, err := s.store.AddEntry(ctx, who, d)
	if err != nil {
		return err
	}
	state.note(harvestMark{Bag: b.Code, Name: nameOfBag(b), Entry: e.ID, Grams: net, Flush: b.Flush}, grow.DateOf(s.store.Now(), s.store.Zone(ctx)))
	state.TareG = *tare
	state.waitsNoMore(v)
	if pounds := typed(v, "pounds") != ""; pounds || *gross >= grow.GramsPerPound {
		state.Ounces = !pounds && u.Weight == grow.ImperialWeight
	}
	return nil
}

// heavyG stands in for a bag whose weight nobody gave (common practice: bags hold
// 2 to 3 kg).
const heavyG = 3000

// doubtWeight asks about a picking that weighs more than the whole bag did: a
// slip of the finger, or of the unit.
func (s *Server) doubtWeight(ctx context.Context, code grow.Code, net float64, v url.Values, u grow.Units) error {
	if v.Get("sure") != "" {
		return nil
	}
	b, err := s.store.Bag(ctx, code)
	if err != nil {
		return err
	}
	bag := heavyG + 0.0
	if b.Batch.BagWetG != nil {
		bag = *b.Batch.BagWetG
	}
	if net <= bag || net > grow.MostGrams {
		return nil
	}
	p := grow.Problems{"gross": fmt.Sprintf("%s from one bag of %s, sure? Tick below that it was so", u.Mass(net), u.Mass(bag))}
	return p.Err("this weight is more than the bag's own")
}

// scaleUnits are as the page said them, whatever the farm writes by now.
func scaleUnits(v url.Values) grow.Units {
	if v.Get("unit") == "oz" {
		return grow.UnitsOf("imperial")
	}
	return grow.UnitsOf("metric")
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
