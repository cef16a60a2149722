package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// benchPage marks bags as they leave the bench.
type benchPage struct {
	frame
	State     benchState
	Away      []string // as printed: HOOD OFF
	Asks      bool
	Rested    bool // nothing is scanned before it is answered
	Held      string
	Twice     string // scanned before in this run: asked about
	Stays     string // a bag that undo left in its batch
	Pen       string // cross this on the bag
	Cards     string // what each bench card does, for when the farm is out of reach
	Batches   []benchBatch
	Units     []choice      // jars and lots that spawn can be taken from
	Doubt     string        // why the jar on the bench should not be used
	Offer     []store.Batch // batches that could be picked
	Switches  []benchSwitch
	Form      form
	Last      *benchMark
	Found     []foundLabel
	Sound     string // logged, refused or off
	RefreshIn int    // seconds until the page would ask
}

// benchBatch is a batch being made.
type benchBatch struct {
	Code     grow.BatchCode
	Name     string
	Bags     int
	Marked   int
	Unmarked []store.BatchBag
}

// benchSwitch is one condition that can be flipped at the bench.
type benchSwitch struct {
	grow.Condition
	Now     string
	Choices []choice
	Away    bool
}

// MissingWords names the bags without a mark.
func (b benchBatch) MissingWords() string {
	numbers := make([]int, len(b.Unmarked))
	for i, bag := range b.Unmarked {
		numbers[i] = bag.Number
	}
	return strings.ReplaceAll(grow.BagRange(numbers), ",", ", ")
}

// Reach is how many of the last bags a switch can reach back to.
func (p benchPage) Reach() []int {
	var out []int
	for i := range min(5, len(p.State.Recent)) {
		out = append(out, i+1)
	}
	return out
}

// Shout is what the whole screen says while something is away.
func (p benchPage) Shout() string {
	return strings.Join(p.Away, " + ")
}

// AtHand are the switches that have a pen box on the label, and those that are
// away now.
func (p benchPage) AtHand() []benchSwitch { return p.pickSwitches(true) }

// Others are the rest.
func (p benchPage) Others() []benchSwitch { return p.pickSwitches(false) }

func (p benchPage) pickSwitches(atHand bool) []benchSwitch {
	var out []benchSwitch
	for _, s := range p.Switches {
		if (s.Pen != "" || s.Away) == atHand {
			out = append(out, s)
		}
	}
	return out
}

// AwayChoices are the switches that can be said of bags nobody can name.
func (p benchPage) AwayChoices() []choice {
	var out []choice
	for _, s := range p.Switches {
		out = append(out, choice{s.Key, s.Label})
	}
	return out
}

func (s *Server) showBench(c echo.Context) error {
	ctx, who := c.Request().Context(), actorOf(c)
	d, err := s.deviceState(ctx, who)
	if err != nil {
		return err
	}
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	view := viewOf(c.QueryParams(), farm)
	if code := grow.BatchCode(strings.ToUpper(c.QueryParam("batch"))); code.Legal() && !slices.Contains(d.Bench.Batches, code) {
		view.offered = code
	}
	return s.drawBench(c, http.StatusOK, d.Bench, view)
}

// benchView is what one answer shows beside the state.
type benchView struct {
	form    form
	pen     string
	held    string // a code that waits for an answer
	twice   string // a code scanned before in this run
	stays   string // of a bag that undo left in its batch
	sound   string
	found   []foundLabel
	offered grow.BatchCode // asked for by a link, not picked yet
}

// query carries what was done over to the page that follows.
func (v benchView) query() string {
	return url.Values{"did": {v.sound}, "pen": {v.pen}, "held": {v.held}, "twice": {v.twice}, "stays": {v.stays}}.Encode()
}

// viewOf reads it back, trusting nothing that the page could not have said.
func viewOf(q url.Values, farm *store.Farm) benchView {
	var v benchView
	if q.Get("did") == "logged" {
		v.sound = "logged"
	}
	if code, err := grow.ParseCode(q.Get("held")); err == nil {
		v.held = string(code)
	}
	if code, err := grow.ParseCode(q.Get("stays")); err == nil {
		v.stays = string(code)
	}
	if code, err := grow.ParseCode(q.Get("twice")); err == nil {
		v.twice, v.sound = string(code), "refused"
	}
	for _, c := range farm.Conditions {
		if c.Pen != "" && c.Pen == q.Get("pen") {
			v.pen = c.Pen
		}
	}
	return v
}

func (s *Server) drawBench(c echo.Context, status int, b benchState, view benchView) error {
	f, farm, err := s.frame(c, "Bench")
	if err != nil {
		return err
	}
	now := s.store.Now()
	p := benchPage{frame: f, State: b, Away: b.printed(farm.Conditions), Asks: b.asks(now), Rested: b.rested(now), Held: view.held, Twice: view.twice, Stays: view.stays, Pen: view.pen,
		Form: view.form, Found: view.found, Sound: view.sound}
	if p.Sound == "logged" && len(p.Away) > 0 {
		p.Sound = "off"
	}
	if len(p.Away) > 0 {
		p.Body, p.RefreshIn = "bench-off", max(1, int(b.AskedAt.Add(askAfterMinutes).Sub(now)/time.Second))
	}
	if len(b.Recent) > 0 {
		p.Last = &b.Recent[0]
	}
	for _, key := range farm.Conditions.Keys() {
		if cond := farm.Conditions[key]; cond.Normal != nil && cond.Level == grow.BagLevel {
			value, away := b.Away[key]
			p.Switches = append(p.Switches, benchSwitch{cond, value, awayChoices(cond), away})
		}
	}
	slices.SortStableFunc(p.Switches, func(a, b benchSwitch) int { return rank(b.Away) - rank(a.Away) })
	if err := s.benchBatches(c, &p, view.offered); err != nil {
		return err
	}
	if p.Cards, err = s.cardWords(c, farm); err != nil {
		return err
	}
	if err := s.benchSpawn(c, &p); err != nil {
		return err
	}
	return s.show(c, status, "bench", p)
}

// cardWords tells the phone what each bench card does: a switch by key and the
// words printed, a jar of spawn by its name, or an act by its own.
func (s *Server) cardWords(c echo.Context, farm *store.Farm) (string, error) {
	cards, err := s.store.Cards(c.Request().Context())
	if err != nil {
		return "", err
	}
	words := map[grow.Code][]string{}
	for _, card := range cards {
		words[card.Code] = []string{card.Does}
		if cond, ok := farm.Conditions[card.Key]; ok {
			printed := ""
			if cond.Departs(&card.Value) {
				printed = cond.Printed(&card.Value)
			}
			words[card.Code] = []string{card.Does, card.Key, printed}
		}
	}
	units, err := s.store.SpawnUnits(c.Request().Context())
	if err != nil {
		return "", err
	}
	for _, u := range units {
		words[u.Code] = []string{"spawn from " + u.Name, grow.SpawnJarKey, u.Name}
	}
	raw, err := json.Marshal(words)
	return string(raw), err
}

// benchSpawn fills in where spawn may come from, and whether the jar that stands
// on the bench should.
func (s *Server) benchSpawn(c echo.Context, p *benchPage) error {
	ctx := c.Request().Context()
	units, err := s.store.SpawnUnits(ctx)
	if err != nil {
		return err
	}
	p.Units = []choice{{"", "not said"}}
	for _, u := range units {
		p.Units = append(p.Units, choice{string(u.Code), u.Name})
	}
	if p.State.Spawn == nil {
		return nil
	}
	lot, jar, err := s.store.LotAlone(ctx, string(p.State.Spawn.Code))
	if err != nil {
		return err
	}
	state, bad := lot.State, lot.Contaminated
	if jar != nil && bad == nil {
		state, bad = jar.State, jar.Contaminated
	}
	switch {
	case bad != nil:
		p.Doubt = "was found mouldy on " + dayWords(bad.At)
	case state.Out():
		p.Doubt = "was logged as used up or out"
	case lot.Expired:
		p.Doubt = "is past its date"
	}
	return nil
}

func rank(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

func awayChoices(c grow.Condition) []choice {
	out := []choice{{"", plainWords(*c.Normal)}}
	for _, v := range c.Values {
		if v != *c.Normal {
			out = append(out, choice{v, plainWords(v)})
		}
	}
	return out
}

// benchBatches fills in how far the picked batches are, or which can be picked.
func (s *Server) benchBatches(c echo.Context, p *benchPage, offered grow.BatchCode) error {
	ctx := c.Request().Context()
	for _, code := range p.State.Batches {
		whole, err := s.store.Batch(ctx, code)
		if err != nil {
			return err
		}
		b := benchBatch{Code: code, Name: whole.Batch.SpeciesName, Bags: whole.Batch.Bags}
		for _, bag := range whole.Bags {
			if bag.MarkedAt == nil {
				b.Unmarked = append(b.Unmarked, bag)
			}
		}
		b.Marked = b.Bags - len(b.Unmarked)
		p.Batches = append(p.Batches, b)
	}
	page, err := s.store.Batches(ctx, store.BatchFilter{State: grow.Unmarked, Limit: 12})
	for _, b := range page.Batches {
		if !slices.Contains(p.State.Batches, b.Code) {
			p.Offer = append(p.Offer, b)
		}
	}
	slices.SortStableFunc(p.Offer, func(a, b store.Batch) int { return rank(b.Code == offered) - rank(a.Code == offered) })
	return err
}

// postBench does one thing at the bench and shows it again.
func (s *Server) postBench(c echo.Context) error {
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return err
	}
	var act benchAct
	x, refusal, err := s.perform(c, func(x *deed) error {
		act = benchAct{Server: s, c: c, farm: farm, who: x.who, v: x.v, b: &x.d.Bench, how: x.how, now: x.how.when(s.store.Now())}
		return act.do()
	})
	switch {
	case err != nil:
		return err
	case wantsJSON(c):
		return s.answerAct(c, x.how, refusal)
	case refusal == nil:
		return c.Redirect(http.StatusSeeOther, "/bench?"+act.view.query())
	}
	f, ok := newForm(x.v).refused(refusal)
	if !ok {
		return refusal
	}
	act.view.form, act.view.sound = f, "refused"
	return s.drawBench(c, statusOf(grow.KindOf(refusal)), x.d.Bench, act.view)
}

// postBenchPhoto reads a photo taken at the bench: one bag on it is marked at
// once, of several the person picks.
func (s *Server) postBenchPhoto(c echo.Context) error {
	ctx, who := c.Request().Context(), actorOf(c)
	d, err := s.deviceState(ctx, who)
	if err != nil {
		return err
	}
	data, err := pictureBytes(c)
	if err != nil {
		return s.refuseBench(c, d.Bench, err)
	}
	result, err := s.scan(ctx, data, nil)
	if err != nil {
		return s.refuseBench(c, d.Bench, err)
	}
	if len(result.Found) == 0 {
		return s.refuseBench(c, d.Bench, grow.Errorf(grow.Invalid, "no label was found on the photo: nearer, flatter, less glare, or type the code"))
	}
	return s.drawBench(c, http.StatusOK, d.Bench, benchView{found: result.Found})
}

func (s *Server) refuseBench(c echo.Context, b benchState, refusal error) error {
	f, ok := newForm(url.Values{}).refused(refusal)
	if !ok {
		return refusal
	}
	return s.drawBench(c, statusOf(grow.KindOf(refusal)), b, benchView{form: f, sound: "refused"})
}

func nameOfBag(b store.Bag) string { return fmt.Sprintf("%s #%d", b.Batch.Short, b.Number) }
