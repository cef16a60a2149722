package server

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"bagmark/grow"
	"bagmark/scanner"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// sweepAct is one thing done on a sweep.
type sweepAct struct {
	*Server
	ctx context.Context
	who store.Actor
	v   url.Values
	d   *deviceState
	how heard
	did string // logged or refused: the sound of it
	// anyway logs a bag of another batch too: somebody said so.
	anyway bool
}

func (a *sweepAct) do() error {
	a.did = "logged"
	if a.v.Get("act") == "begin" {
		sweep, err := a.begin()
		if err == nil {
			a.d.Sweep = sweep
		}
		return err
	}
	sweep := a.d.Sweep
	if sweep == nil && a.v.Get("act") == "done" {
		return nil
	}
	if sweep == nil && a.v.Get("act") != "scan" {
		return grow.Errorf(grow.Conflict, "no sweep is under way on this phone: choose an answer first")
	}
	if sweep == nil {
		sweep, err := a.labelOf(a.v.Get("code"))
		if err == nil {
			a.d.Sweep = sweep
			a.how.done(&sweep.Done)
		}
		return err
	}
	if a.how.done(&sweep.Done) {
		return nil
	}
	sweep.Note = ""
	err := a.one(sweep)
	if err != nil {
		sweep.Done = slices.DeleteFunc(sweep.Done, func(id grow.ID) bool { return id == a.how.id }) // refused: it may come again
	}
	return err
}

func (a *sweepAct) one(sweep *sweepState) error {
	switch a.v.Get("act") {
	case "done":
		a.d.Sweep = nil
		return nil
	case "undo":
		return a.undo(sweep)
	case "here":
		return a.here(sweep)
	case "rest":
		return a.rest(sweep)
	case "maybe":
		return a.maybe(sweep)
	case "to":
		return a.choose(sweep)
	}
	ref, err := scanner.ParseTyped(a.v.Get("code"))
	if err != nil {
		return err
	}
	if sweep.Answer == "move" || sweep.Answer == "fruiting" {
		if place, ok, err := a.placeOf(ref.Code); ok || err != nil {
			if err == nil {
				a.turnTo(sweep, place)
			}
			return err
		}
	}
	return a.see(sweep, ref.Code, sweep.draft(), 0)
}

// see logs a draft for one bag, unless it was counted already.
func (a *sweepAct) see(sweep *sweepState, code grow.Code, d grow.Draft, n int) error {
	b, err := a.store.Bag(a.ctx, code)
	if err != nil {
		return err
	}
	if d.Kind == grow.KindMove {
		return a.moveOne(sweep, b, n)
	}
	if sweep.counts(b.Code, d) {
		sweep.Note, a.did = nameOfBag(b)+" has been seen already; it counts once.", "refused"
		if sweep.Answer == "fruiting" {
			sweep.Note = nameOfBag(b) + " is already on the trolley."
		}
		return nil
	}
	if d.Kind == grow.KindFruiting && b.State == grow.Fruiting && (d.Place == "" || d.Place == deref(b.Place)) {
		sweep.Note, a.did = nameOfBag(b)+" is in fruiting already"+onlyIf(b.Place != nil, ", "+deref(b.Place))+": nothing logged.", "refused"
		return nil
	}
	if of := sweep.strays(b); of != "" && sweep.At == "" && !a.anyway {
		sweep.asks(sweepAsk{b.Code, nameOfBag(b), of, isGlance(d)})
		a.did = "refused"
		return nil
	}
	if b.Contaminated != nil && (d.Kind == grow.KindLook || d.Kind == grow.KindColonised) {
		sweep.Note = nameOfBag(b) + " is mouldy: counted as seen, nothing logged. Say on its own page what becomes of it."
		a.did = "refused"
		sweep.saw(sweepSeen{Act: a.how.id, Bag: b.Code, Name: nameOfBag(b)})
		return a.sighted(sweep, b.Code)
	}
	if b.Contaminated != nil && goesOn(d) {
		return grow.Errorf(grow.Conflict, "%s is mouldy, so it stays: keep it closed, and say on its own page what becomes of it. Nothing was logged", nameOfBag(b))
	}
	d.Bag = b.Code
	if err := a.how.stamp(&d, n); err != nil {
		return err
	}
	e, _, _, err := a.store.AddEntry(a.ctx, a.who, d)
	if err != nil {
		return err
	}
	sweep.saw(sweepSeen{Act: a.how.id, Bag: b.Code, Name: nameOfBag(b), Entry: e.ID, Strays: sweep.strays(b), Glance: isGlance(d)})
	if err := a.sighted(sweep, b.Code); err != nil {
		return err
	}
	return a.tellFull(sweep)
}

// goesOn tells whether a bag goes where others would breathe or eat what it holds.
func goesOn(d grow.Draft) bool {
	return d.Kind == grow.KindFruiting || d.Kind == grow.KindFinish && (d.Why == "sold" || d.Why == "given")
}

// sighted keeps where the walk saw a bag, if it goes over a place with an answer
// that leaves bags where they are.
func (a *sweepAct) sighted(sweep *sweepState, code grow.Code) error {
	switch sweep.draft().Kind {
	case grow.KindLook, grow.KindColonised, grow.KindMarked:
	default:
		return nil
	}
	if sweep.At == "" || sweep.Round == "" {
		return nil
	}
	return a.store.See(a.ctx, a.who, store.Round{ID: sweep.Round, Place: sweep.At, BeganAt: sweep.Began}, a.how.when(a.store.Now()), code)
}

// strays says where a bag belongs that the walk did not expect; "" where it did,
// or where any bag may come.
func (s sweepState) strays(b store.Bag) string {
	expected := slices.ContainsFunc(s.Bags, func(x sweepBag) bool { return x.Code == b.Code })
	switch {
	case expected, len(s.Bags) == 0, s.Answer == "move", s.Answer == "fruiting", s.Answer == "hold":
		return ""
	case s.At != "":
		return cmp.Or(deref(b.Place), "no place said")
	}
	return string(b.Batch.Code)
}

// here moves the bag seen last to the place that the walk goes over.
func (a *sweepAct) here(sweep *sweepState) error {
	last := sweep.Last()
	if last == nil || sweep.At == "" || last.Strays == "" {
		return grow.Errorf(grow.Conflict, "there is no bag to be moved here")
	}
	d := grow.Draft{Bag: last.Bag, Kind: grow.KindMove, Details: grow.Details{Place: sweep.At}}
	if err := a.how.stamp(&d, 0); err != nil {
		return err
	}
	if _, _, _, err := a.store.AddEntry(a.ctx, a.who, d); err != nil {
		return err
	}
	last.Strays = ""
	sweep.Note = last.Name + " stands at " + sweep.At + " now."
	return nil
}

// rest gives the walk's answer to all bags still ticked.
func (a *sweepAct) rest(sweep *sweepState) error {
	if (sweepPage{Sweep: sweep}).ForAll() == "" {
		return grow.Errorf(grow.Conflict, "for this answer each bag is scanned by itself")
	}
	var codes []grow.Code
	for _, text := range a.v["bag"] {
		code, err := grow.ParseCode(text)
		if err != nil {
			return err
		}
		codes = append(codes, code)
	}
	if a.v.Get("all") == "yes" {
		for _, b := range sweep.Rest() {
			codes = append(codes, b.Code)
		}
	}
	each := a.seeAll
	if sweep.Moving() {
		each = func(s *sweepState, codes []grow.Code, _ grow.Draft) (string, error) { return a.moveAll(s, codes) }
	}
	not, err := each(sweep, codes, sweep.draft())
	if not != "" {
		sweep.Note, a.did = strings.TrimSpace(sweep.Note+" "+not), "refused"
	}
	return err
}

// seeAll logs a draft for many bags. One that it does not fit holds up no other;
// the words say which and why.
func (a *sweepAct) seeAll(sweep *sweepState, codes []grow.Code, d grow.Draft) (not string, err error) {
	for n, code := range codes {
		err := a.see(sweep, code, d, n)
		switch kind := grow.KindOf(err); {
		case err == nil:
		case kind == grow.Conflict || kind == grow.Invalid || kind == grow.NotFound:
			not += fmt.Sprintf(" Not logged, %s: %s.", code.Spaced(), asError(err).Message)
		default:
			return "", err
		}
	}
	return strings.TrimSpace(not), nil
}

// maybe logs a label that a person says was read rightly.
func (a *sweepAct) maybe(sweep *sweepState) error {
	code, err := grow.ParseCode(a.v.Get("code"))
	if err != nil {
		return err
	}
	d := sweep.onPhotos()
	if i := slices.IndexFunc(sweep.Asks, func(x sweepAsk) bool { return x.Code == code }); i >= 0 {
		if !sweep.Asks[i].Glance {
			d = sweep.draft()
		}
		a.anyway = true
		sweep.Asks = slices.Delete(sweep.Asks, i, i+1)
	}
	sweep.Maybe = slices.DeleteFunc(sweep.Maybe, func(m sweepMaybe) bool { return m.Code == code })
	if a.v.Get("sure") != "yes" {
		return nil
	}
	return a.see(sweep, code, d, 0)
}

// asks puts a bag of another batch on top of those asked about.
func (s *sweepState) asks(x sweepAsk) {
	s.Asks = append([]sweepAsk{x}, slices.DeleteFunc(s.Asks, func(was sweepAsk) bool { return was.Code == x.Code })...)
}

// counts tells whether a bag was seen with as much as a draft says: after a
// glance, on a photo of the shelf, there is more to be said.
func (s sweepState) counts(code grow.Code, d grow.Draft) bool {
	return slices.ContainsFunc(s.Seen, func(x sweepSeen) bool { return x.Bag == code && (!x.Glance || isGlance(d)) })
}

func isGlance(d grow.Draft) bool { return d.Kind == grow.KindLook && d.Seen == "glance" }

// onPhotos is what a label on a photo says of its bag: that it was seen, or, of a
// photo taken to move what it shows, that it stands there now.
func (s sweepState) onPhotos() grow.Draft {
	if s.Moving() {
		return s.draft()
	}
	return glance()
}

func glance() grow.Draft {
	return grow.Draft{Kind: grow.KindLook, Details: grow.Details{Seen: "glance"}}
}

func (a *sweepAct) undo(sweep *sweepState) error {
	n := sweep.Together()
	if n == 0 {
		return grow.Errorf(grow.Invalid, "there is nothing to take back")
	}
	for range n {
		last := sweep.Seen[0]
		if err := a.takeBack(a.ctx, a.who, last.Bag, []grow.ID{last.Entry}); err != nil {
			return err
		}
		if err := a.unsee(sweep, last); err != nil {
			return err
		}
		sweep.Seen = sweep.Seen[1:]
	}
	return nil
}

// unsee takes back that the walk saw a bag.
func (a *sweepAct) unsee(sweep *sweepState, x sweepSeen) error {
	switch {
	case slices.ContainsFunc(sweep.Seen[1:], func(was sweepSeen) bool { return was.Bag == x.Bag && !sweep.Moving() }): // a photo showed it before
		return nil
	case !sweep.Moving() && sweep.Round != "":
		return a.store.Unsee(a.ctx, sweep.Round, x.Bag)
	case sweep.Moving() && x.Entry == "": // it stood there already
		return a.store.Unsee(a.ctx, "", x.Bag)
	}
	return nil
}

// postSweepPhoto takes every label that a photo of a shelf surely shows as a
// glance; one that was only probably read waits for a tap.
func (s *Server) postSweepPhoto(c echo.Context) error {
	ctx, who := c.Request().Context(), actorOf(c)
	data, refusal := pictureBytes(c)
	var result scanned
	if refusal == nil {
		result, refusal = s.scan(ctx, data, nil)
	}
	defer s.devices.take(who.DeviceID)()
	d, err := s.deviceState(ctx, who)
	if err != nil {
		return err
	}
	if d.Sweep == nil {
		return c.Redirect(http.StatusSeeOther, "/sweep")
	}
	if refusal != nil {
		return s.refuseSweep(c, d.Sweep, refusal)
	}
	id, err := newID()
	if err != nil {
		return err
	}
	act := sweepAct{Server: s, ctx: ctx, who: who, d: &d, how: heard{id: id}, did: "logged"}
	if err := act.photo(d.Sweep, result.Found); err != nil {
		return s.refuseSweep(c, d.Sweep, err)
	}
	if err := s.keepDeviceState(ctx, who, d); err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, "/sweep?did="+act.did)
}

func (a *sweepAct) photo(sweep *sweepState, found []foundLabel) error {
	before, bags := len(sweep.Seen), 0
	sweep.Maybe = nil
	turned, err := a.turnByPhoto(sweep, found)
	if err != nil {
		return err
	}
	var sure []grow.Code
	for _, label := range found {
		if !label.Known || label.Kind != grow.BagCode {
			continue
		}
		bags++
		if !label.Certain {
			if !sweep.sawBag(label.Code) {
				sweep.Maybe = append(sweep.Maybe, sweepMaybe{label.Code, label.Says()})
			}
			continue
		}
		sure = append(sure, label.Code)
	}
	not, err := a.seeAll(sweep, sure, sweep.onPhotos())
	switch {
	case err != nil:
		return err
	case bags == 0 && turned:
		return nil
	case bags == 0:
		return grow.Errorf(grow.Invalid, "no label was found on the photo: nearer, flatter, less glare")
	}
	fresh := len(sweep.Seen) - before
	a.did = "logged"
	says := "as a glance"
	if sweep.Moving() {
		says = "moved here"
	}
	sweep.Note = strings.TrimSpace(fmt.Sprintf("%s on the photo: %d new, %s. %s", plural(bags, "label", "labels"), fresh, says, not))
	return nil
}

func (s *Server) refuseSweep(c echo.Context, sweep *sweepState, refusal error) error {
	f, ok := newForm(url.Values{}).refused(refusal)
	if !ok {
		return refusal
	}
	return s.drawSweep(c, statusOf(grow.KindOf(refusal)), sweep, f, "refused")
}
