package server

import (
	"fmt"
	"slices"
	"strings"

	"bagmark/grow"
	"bagmark/scanner"
	"bagmark/store"
)

// Move rules
//
// A shelf's label, then bags: each is logged as moved there as it is scanned,
// until another shelf's label is scanned. A bag that stands there already is told
// and not logged again. One that is out is refused. A place that takes fewer bags
// is told and takes them all the same: they stand there.

// Moving tells whether the walk takes bags from place to place.
func (s sweepState) Moving() bool { return s.Answer == "move" }

// Moved is how many bags were logged as moved to where the next ones go.
func (s sweepState) Moved() (n int) {
	for _, x := range s.Seen {
		if x.Entry != "" && x.To == s.Place {
			n++
		}
	}
	return n
}

// Full is how full the place is that bags go to.
func (p sweepPage) Full() fullness { return fullnessOf(p.To) }

// Rest are the bags that one tap may answer for; a move needs to know where to.
func (p sweepPage) Rest() []sweepBag {
	if p.Sweep.Moving() && p.Sweep.Place == "" || p.ForAll() == "" {
		return nil
	}
	return p.Sweep.Rest()
}

// Over tells whether a link asks for a walk over a place or a batch.
func (p sweepPage) Over() bool { return p.Form.Value("at") != "" || p.Form.Value("batch") != "" }

// mostTicks is how many bags a page lists to be unticked.
const mostTicks = 150

// TooMany tells whether the rest is too long a list to untick some of it.
func (p sweepPage) TooMany() bool { return len(p.Rest()) > mostTicks }

// PlaceNames are offered where a shelf has no label.
func (p sweepPage) PlaceNames() (names []string) {
	for _, x := range p.Places {
		names = append(names, x.Name)
	}
	return names
}

// labelOf tells what a label scanned on a walk without an answer begins: a shelf's
// begins a move there.
func (a *sweepAct) labelOf(text string) (*sweepState, error) {
	ref, err := scanner.ParseTyped(text)
	if err != nil {
		return nil, err
	}
	place, is, err := a.placeOf(ref.Code)
	if err != nil {
		return nil, err
	}
	if !is {
		return nil, grow.Errorf(grow.Conflict, "no sweep is under way on this phone: choose an answer first, or scan the label of the shelf that bags are moved to")
	}
	sweep := &sweepState{Answer: "move"}
	a.turnTo(sweep, place)
	return sweep, nil
}

// placeOf tells whether a code is the label of a place, and its name.
func (a *sweepAct) placeOf(code grow.Code) (name string, is bool, err error) {
	things, err := a.store.WhatIs(a.ctx, []grow.Code{code})
	return things[code].Name, things[code].Kind == grow.PlaceCode, err
}

// turnTo makes a place the one that the next bags go to, and says so loudly.
func (a *sweepAct) turnTo(sweep *sweepState, place string) {
	sweep.Place = place
	if !sweep.Moving() {
		sweep.Note = "From here on to " + place + "."
	}
	a.did = "place"
}

// turnByPhoto turns the walk to the one place whose label a photo surely shows.
func (a *sweepAct) turnByPhoto(sweep *sweepState, found []foundLabel) (turned bool, err error) {
	if sweep.Answer != "move" && sweep.Answer != "fruiting" {
		return false, nil
	}
	for _, label := range found {
		if !label.Known || !label.Certain || label.Kind != grow.PlaceCode {
			continue
		}
		if turned && sweep.Place != label.Name {
			return false, grow.Errorf(grow.Invalid, "the photo shows the labels of two places, %s and %s: take one of them alone", sweep.Place, label.Name)
		}
		a.turnTo(sweep, label.Name)
		turned = true
	}
	return turned, nil
}

// choose takes the place that bags go to from a list, where there is no label to
// scan.
func (a *sweepAct) choose(sweep *sweepState) error {
	place, err := a.placeNamed(typed(a.v, "place"))
	if err != nil {
		return err
	}
	if place == "" {
		p := grow.Problems{"place": "is missing: where they are moved to"}
		return p.Err("the bags need a place to go to")
	}
	a.turnTo(sweep, place)
	return nil
}

// placeNamed is the full name of a place typed by its name or its code.
func (a *sweepAct) placeNamed(text string) (string, error) {
	if code, err := grow.ParseCode(text); err == nil {
		if name, is, err := a.placeOf(code); is || err != nil {
			return name, err
		}
	}
	places, err := a.store.Places(a.ctx)
	name := grow.PlaceName(text)
	for _, p := range places {
		if strings.EqualFold(p.Name, name) {
			return p.Name, err
		}
	}
	return name, err // a new one, made by the first bag that goes there
}

// moveOne moves one bag to where the walk takes them.
func (a *sweepAct) moveOne(sweep *sweepState, b store.Bag, n int) error {
	d := sweep.draft()
	switch name := nameOfBag(b); {
	case d.Place == "":
		return grow.Errorf(grow.Conflict, "scan the shelf’s label first, then the bags that go there")
	case b.State.Out():
		return grow.Errorf(grow.Conflict, "%s is %s, so it is not moved; if it does stand here, take that back on its own page first", name, stateWords[b.State])
	case b.MarkedAt != nil && deref(b.Place) == d.Place:
		return a.alreadyThere(sweep, b.Code, name)
	}
	d.Bag = b.Code
	if err := a.how.stamp(&d, n); err != nil {
		return err
	}
	e, _, _, err := a.store.AddEntry(a.ctx, a.who, d)
	if err != nil {
		return err
	}
	sweep.Place = e.Place // it may have been given another name meanwhile
	sweep.saw(sweepSeen{Act: a.how.id, Bag: b.Code, Name: nameOfBag(b), Entry: e.ID, To: e.Place})
	return a.tellFull(sweep)
}

// alreadyThere notes that a bag was seen where its log says it stands.
func (a *sweepAct) alreadyThere(sweep *sweepState, code grow.Code, name string) error {
	sweep.Note, a.did = name+" is already here. Nothing logged.", "refused"
	if !sweep.sawBag(code) {
		sweep.saw(sweepSeen{Act: a.how.id, Bag: code, Name: name, To: sweep.Place})
	}
	return a.store.See(a.ctx, a.who, store.Round{Place: sweep.Place}, a.how.when(a.store.Now()), code)
}

// moveAll moves many bags with one tap. One that cannot be moved holds up no
// other; the words say which and why.
func (a *sweepAct) moveAll(sweep *sweepState, codes []grow.Code) (not string, err error) {
	d := sweep.draft()
	if d.Place == "" {
		return "", grow.Errorf(grow.Conflict, "scan the shelf’s label first, then move them there")
	}
	there, err := a.standsAt(d.Place)
	if err != nil {
		return "", err
	}
	var drafts []grow.Draft
	already := 0
	for n, code := range codes {
		if there[code] {
			already++
			sweep.saw(sweepSeen{Act: a.how.id, Bag: code, Name: sweep.nameOf(code), To: d.Place})
			continue
		}
		d.Bag = code
		if err := a.how.stamp(&d, n); err != nil {
			return "", err
		}
		drafts = append(drafts, d)
	}
	results, err := a.store.AddEntries(a.ctx, a.who, drafts)
	if err != nil {
		return "", err
	}
	for i, r := range results {
		name := sweep.nameOf(drafts[i].Bag)
		if r.Err != nil {
			not += fmt.Sprintf(" Not moved, %s: %s.", name, asError(r.Err).Message)
			continue
		}
		sweep.saw(sweepSeen{Act: a.how.id, Bag: drafts[i].Bag, Name: name, Entry: r.ID, To: d.Place})
	}
	if already > 0 {
		not += fmt.Sprintf(" %s already.", plural(already, "bag was here", "bags were here"))
	}
	return strings.TrimSpace(not), a.tellFull(sweep)
}

// standsAt are the bags whose logs say that they stand at a place.
func (a *sweepAct) standsAt(place string) (map[grow.Code]bool, error) {
	bags, err := a.store.Standing(a.ctx, place)
	out := map[grow.Code]bool{}
	for _, b := range bags {
		out[b.Code] = deref(b.Place) == place
	}
	return out, err
}

// nameOf is what the walk calls a bag that it expects.
func (s sweepState) nameOf(code grow.Code) string {
	if i := slices.IndexFunc(s.Bags, func(b sweepBag) bool { return b.Code == code }); i >= 0 {
		return s.Bags[i].Name
	}
	return code.Spaced()
}

// tellFull says so when the place that bags go to, or what it is part of, holds
// more than it takes. The bag is logged all the same: it stands there.
func (a *sweepAct) tellFull(sweep *sweepState) error {
	if sweep.Place == "" {
		return nil
	}
	rooms, err := a.store.Rooms(a.ctx)
	if err != nil {
		return err
	}
	for _, r := range rooms {
		if grow.PlaceWithin(sweep.Place, r.Name) && fullnessOf(r).Over {
			sweep.Note = fmt.Sprintf("%s is full: %s.", r.Name, fullnessOf(r).Words)
		}
	}
	return nil
}
