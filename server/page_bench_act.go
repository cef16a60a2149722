package server

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/scanner"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// benchAct is one thing done at the bench.
type benchAct struct {
	*Server
	c    echo.Context
	farm *store.Farm
	who  store.Actor
	v    url.Values
	b    *benchState
	how  heard
	now  time.Time // when it was done
	view benchView
	// adopted tells that the bag's batch took its label in this act.
	adopted bool
}

func (a *benchAct) do() error {
	if a.how.done(&a.b.Done) {
		return nil
	}
	if err := a.one(); err != nil {
		a.b.Done = slices.DeleteFunc(a.b.Done, func(id grow.ID) bool { return id == a.how.id }) // refused: it may come again
		return err
	}
	return nil
}

func (a *benchAct) one() error {
	switch a.v.Get("act") {
	case "pick":
		return a.pick()
	case "switch":
		return a.flip(a.v.Get("key"), a.v.Get("value"))
	case "still":
		return a.still()
	case "scan":
		return a.scanned(a.v.Get("code"))
	case "also":
		n, err := strconv.Atoi(a.v.Get("last"))
		if err != nil {
			return grow.Errorf(grow.Invalid, "say how many of the last bags")
		}
		return a.also(n)
	case "about":
		return a.about()
	case "spawn":
		return a.spawnFrom(a.v.Get("unit"))
	case "undo":
		return a.undo()
	case "done":
		return a.done()
	}
	return grow.Errorf(grow.Invalid, "this form was changed; open the bench again")
}

// pick takes a batch, or all batches of a lab day, onto the bench.
func (a *benchAct) pick() error {
	ctx := a.c.Request().Context()
	if day := a.v.Get("lab_day"); day != "" {
		page, err := a.store.Batches(ctx, store.BatchFilter{LabDay: day, Limit: 50})
		for _, b := range page.Batches {
			a.take(b.Code)
		}
		return err
	}
	whole, err := a.store.Batch(ctx, grow.BatchCode(strings.ToUpper(typed(a.v, "batch"))))
	if err == nil {
		a.take(whole.Batch.Code)
	}
	return err
}

func (a *benchAct) take(code grow.BatchCode) {
	if !slices.Contains(a.b.Batches, code) {
		a.b.Batches = append(a.b.Batches, code)
	}
}

// flip moves a switch and says what to cross by hand.
func (a *benchAct) flip(key, value string) error {
	c, ok := a.farm.Conditions[key]
	if !ok {
		return grow.Errorf(grow.Invalid, "this farm has no such condition")
	}
	if value != "" {
		if _, err := c.Value(&value); err != nil {
			return err
		}
	}
	a.view.pen, a.view.sound = a.b.set(c, value, a.now), "logged"
	return nil
}

// still answers whether the switches are still so, and then takes the scan that
// waited for it.
func (a *benchAct) still() error {
	if a.v.Get("still") == "yes" {
		a.b.answered(a.now)
	} else {
		for key := range a.b.Away {
			a.b.set(a.farm.Conditions[key], "", a.now)
		}
	}
	if held := a.v.Get("code"); held != "" {
		return a.scanned(held)
	}
	return nil
}

// adopt gives a label printed ahead to the batch being made: that of the bag
// scanned last, or the only one on the bench.
func (a *benchAct) adopt(code grow.Code) error {
	ctx := a.c.Request().Context()
	if err := a.store.MayAdopt(ctx, code); err != nil { // whichever batch it would be
		return err
	}
	var batch grow.BatchCode
	switch {
	case len(a.b.Recent) > 0:
		last, err := a.store.Bag(ctx, a.b.Recent[0].Bag)
		if err != nil {
			return err
		}
		batch = last.Batch.Code
	case len(a.b.Batches) == 1:
		batch = a.b.Batches[0]
	default:
		return grow.Errorf(grow.Conflict, "%s is a label printed ahead: say first which batch is being made, or scan a bag of it", code.Spaced())
	}
	_, _, _, err := a.store.AddBlanks(ctx, a.who, batch, store.BlanksDraft{Blanks: []grow.Code{code}})
	a.adopted = true
	return err
}

// scanned takes a code: a bag is marked, a bench card does what it says.
func (a *benchAct) scanned(text string) error {
	ref, err := scanner.ParseTyped(text)
	if err != nil {
		return err
	}
	things, err := a.store.WhatIs(a.c.Request().Context(), []grow.Code{ref.Code})
	if err != nil {
		return err
	}
	thing, ok := things[ref.Code]
	switch {
	case !ok:
		return grow.Errorf(grow.NotFound, "this farm has no label %s", ref.Code.Spaced())
	case thing.Kind == grow.CardCode:
		return a.card(ref.Code)
	case thing.Kind == grow.LotCode:
		return a.spawnFrom(string(ref.Code))
	case thing.Kind != grow.BagCode && thing.Kind != grow.BlankCode:
		return grow.Errorf(grow.Invalid, "%s is the label of a %s; scan the label of a bag, a jar of spawn or a bench card", ref.Code.Spaced(), thing.Kind)
	case a.b.rested(a.now):
		if wantsJSON(a.c) {
			return grow.Errorf(grow.Conflict, "%s was scanned after the bench had rested with %s: say whether it still was so, then scan it again", ref.Code.Spaced(), strings.Join(a.b.printed(a.farm.Conditions), " + "))
		}
		a.view.held = string(ref.Code)
		return nil
	case thing.Kind == grow.BlankCode:
		if err := a.adopt(ref.Code); err != nil {
			return err
		}
	}
	return a.mark(ref.Code)
}

func (a *benchAct) card(code grow.Code) error {
	card, err := a.store.Card(a.c.Request().Context(), code)
	if err != nil {
		return err
	}
	switch card.Does {
	case store.CardUndo:
		return a.undo()
	case store.CardDone:
		return a.done()
	case store.CardLastBagToo:
		return a.also(1)
	}
	return a.flip(card.Key, card.Value)
}

// spawnFrom takes the spawn of the bags that follow from a jar or a lot, until
// another is scanned; "" from none that was scanned. One that was found mouldy is
// taken as well, for what was used must be on record, and the page warns.
func (a *benchAct) spawnFrom(text string) error {
	a.view.sound = "logged"
	if text == "" {
		a.b.Spawn = nil
		return nil
	}
	lot, jar, err := a.store.LotAlone(a.c.Request().Context(), text)
	if err != nil {
		return err
	}
	a.b.Spawn = &store.SpawnUnit{Code: lot.Code, Name: lot.Name}
	if jar != nil {
		a.b.Spawn = &store.SpawnUnit{Code: jar.Code, Name: store.JarName(lot.Name, jar.Number)}
	}
	return nil
}

// mark keeps what the switches say and that the label is on the bag. A label
// scanned before in this run is asked about: twice the same bag, or two labels
// alike.
func (a *benchAct) mark(code grow.Code) error {
	ctx := a.c.Request().Context()
	bag, err := a.store.Bag(ctx, code)
	if err != nil {
		return err
	}
	if a.b.echo(bag.Code, a.now) {
		return nil
	}
	if slices.Contains(a.b.Run, bag.Code) && a.v.Get("again") != "yes" {
		if wantsJSON(a.c) {
			return grow.Errorf(grow.Conflict, "%s was scanned twice in one run: is the label on two bags?", nameOfBag(bag))
		}
		a.view.twice = string(bag.Code)
		return nil
	}
	drafts, err := a.b.drafts(bag.Code, true, a.how)
	if err != nil {
		return err
	}
	m := benchMark{Bag: bag.Code, Name: nameOfBag(bag), Words: a.b.printed(a.farm.Conditions), Adopted: a.adopted}
	if a.b.Spawn != nil {
		m.Spawn = a.b.Spawn.Name
	}
	if m.Entries, err = a.add(drafts); err != nil {
		return err
	}
	a.take(bag.Batch.Code)
	a.b.marked(m, a.now)
	a.view.sound = "logged"
	return nil
}

// add keeps entries of one bag, all of them or an error.
func (a *benchAct) add(drafts []grow.Draft) ([]grow.ID, error) {
	results, err := a.store.AddEntries(a.c.Request().Context(), a.who, drafts)
	if err != nil {
		return nil, err
	}
	var ids []grow.ID
	for _, r := range results {
		if r.Err != nil {
			return ids, r.Err
		}
		ids = append(ids, r.ID)
	}
	return ids, nil
}

// also gives the last bags what the switches say now: somebody noticed late.
func (a *benchAct) also(last int) error {
	if len(a.b.Away) == 0 {
		return grow.Errorf(grow.Invalid, "no switch is away from normal: flip it first, then say for which bags it was so already")
	}
	for i := range min(last, len(a.b.Recent)) {
		m := &a.b.Recent[i]
		drafts, err := a.b.drafts(m.Bag, false, heard{})
		if err != nil {
			return err
		}
		ids, err := a.add(drafts[:len(drafts)-1]) // the mark it has already
		if err != nil {
			return err
		}
		words := a.b.printed(a.farm.Conditions)
		if !slices.Equal(m.Words, words) {
			a.b.AwayBags++
		}
		m.Entries, m.Words = append(m.Entries, ids...), words
	}
	a.view.sound = "logged"
	return nil
}

// about makes unknown what nobody can say of which bags: every bag of a batch
// but those known to depart, with a note of about how many it was.
func (a *benchAct) about() error {
	ctx, key := a.c.Request().Context(), a.v.Get("key")
	c, ok := a.farm.Conditions[key]
	if !ok {
		return grow.Errorf(grow.Invalid, "this farm has no such condition")
	}
	whole, err := a.store.Batch(ctx, grow.BatchCode(a.v.Get("batch")))
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(typed(a.v, "about"))
	if err != nil || n < 1 || n > whole.Batch.Bags {
		p := grow.Problems{"about": fmt.Sprintf("must be 1 to %d", whole.Batch.Bags)}
		return p.Err("say about how many bags it was")
	}
	var drafts []grow.Draft
	for _, bag := range whole.Bags {
		if slices.ContainsFunc(c.Values, func(v string) bool { return slices.Contains(bag.Departures, c.Printed(&v)) }) {
			continue
		}
		id, err := newID()
		if err != nil {
			return err
		}
		drafts = append(drafts, grow.Draft{ID: id, Bag: bag.Code, Kind: grow.KindCondition, Details: grow.Details{Key: key, Value: grow.Value{Given: true}, Basis: "remembered"}})
	}
	a.view.sound = "logged"
	note := fmt.Sprintf("%s: away from normal for about %d bags, not known which.", capital(c.Label), n)
	return a.store.AddEntriesAndNote(ctx, a.who, drafts, whole.Batch.Code, note)
}

// undo takes back the last scan with all its entries, the newest first.
func (a *benchAct) undo() error {
	if len(a.b.Recent) == 0 {
		return grow.Errorf(grow.Invalid, "there is nothing to take back")
	}
	m := a.b.Recent[0]
	if err := a.takeBack(a.c.Request().Context(), a.who, m.Bag, m.Entries); err != nil {
		return err
	}
	if err := a.giveBack(m); err != nil {
		return err
	}
	a.b.Recent = a.b.Recent[1:]
	a.b.Run = slices.DeleteFunc(a.b.Run, func(code grow.Code) bool { return code == m.Bag })
	a.b.AwayBags = max(0, a.b.AwayBags-min(1, len(m.Words)))
	a.view.sound = "logged"
	return nil
}

// giveBack undoes that the batch took the label of a scan, unless more is known of the
// bag by now.
func (a *benchAct) giveBack(m benchMark) error {
	if !m.Adopted {
		return nil
	}
	var ids [2]grow.ID
	for i := range ids {
		var err error
		if ids[i], err = newID(); err != nil {
			return err
		}
	}
	err := a.store.GiveBack(a.c.Request().Context(), a.who, m.Bag, ids)
	if grow.KindOf(err) == grow.Conflict {
		a.view.stays = string(m.Bag)
		return nil
	}
	return err
}

// done clears the bench: batches and switches.
func (a *benchAct) done() error {
	*a.b = benchState{Done: a.b.Done}
	a.view.sound = "logged"
	return nil
}
