package demo

import (
	"fmt"
	"slices"
	"time"

	"bagmark/grow"
	"bagmark/grow/trace"
	"bagmark/store"
)

// A day on the farm: picking first, the lab in the morning, the racks after
// lunch, and what else befell.

// roundEvery is how many days lie between two walks along all racks; the last
// walk was yesterday.
const roundEvery = 3

// morning is the picking in the fruiting room.
func (f *farm) morning(ago int) error {
	at := f.at(ago, 7, 40)
	for _, b := range f.batches {
		for _, g := range b.bags {
			for _, d := range g.picking(b.ago - ago) {
				at = at.Add(45 * time.Second)
				f.say(wick, at, d)
			}
		}
	}
	return f.handIn()
}

// labDay makes the day's batches and takes their bags over the bench.
func (f *farm) labDay(ago int) error {
	todays := f.batchesOf(func(b *batch) bool { return b.recorded == ago })
	if len(todays) == 0 {
		return nil
	}
	f.runs++
	if err := f.makeBatches(ago, todays); err != nil {
		return err
	}
	at := f.at(ago, 10, 0)
	for _, b := range todays {
		for _, g := range b.bags {
			at = at.Add(time.Duration(days(b.random, 55, 100)) * time.Second)
			if g.unmarked {
				continue
			}
			for i, d := range g.bench() {
				f.say(b.hands(), at.Add(time.Duration(i)*2*time.Second), d)
			}
		}
		at = at.Add(12 * time.Minute)
	}
	return f.handIn()
}

func (f *farm) batchesOf(which func(*batch) bool) []*batch {
	return slices.DeleteFunc(slices.Clone(f.batches), func(b *batch) bool { return !which(b) })
}

// makeBatches records a lab day, and learns the codes of its bags.
func (f *farm) makeBatches(ago int, todays []*batch) error {
	f.clock.moveTo(f.at(ago, 9, 20))
	var drafts []grow.BatchDraft
	for _, b := range todays {
		b.made = f.at(b.ago, 10, 0)
		blanks, err := f.takeBlanks(b.plan.blanks)
		if err != nil {
			return err
		}
		d := b.draft(fmt.Sprintf("run %d", f.runs), blanks)
		if b.recorded != b.ago {
			f.clock.moveTo(f.at(ago, 16, 0))
			later := f.today + 4
			d.LabelsLater, d.LabDay = &later, nil
		}
		drafts = append(drafts, d)
	}
	if todays[0].trial != "" {
		return f.beginTrial(todays[0], drafts[0])
	}
	made, err := f.store.CreateLabDay(f.ctx, todays[0].hands(), drafts, nil)
	if err != nil {
		return err
	}
	for i, b := range todays {
		b.code = made[i].Code
		whole, err := f.store.Batch(f.ctx, b.code)
		if err != nil {
			return err
		}
		for n, g := range whole.Bags {
			b.bags[n].code = g.Code
		}
	}
	return nil
}

// trialDay is the day of its bags' life on which a trial is answered.
const trialDay = 30

// beginTrial makes a batch whose bags are drawn for a trial.
func (f *farm) beginTrial(b *batch, d grow.BatchDraft) error {
	v, _, err := f.store.CreateTrial(f.ctx, b.hands(), store.TrialDraft{BatchFields: d.BatchFields, ID: *d.ID, Question: b.trial,
		Key: "shaken", Value: "no", Against: "yes", Each: len(b.bags) / 2, Event: trace.EventColonised, Day: trialDay})
	if err != nil {
		return err
	}
	b.code = v.Batch.Code
	whole, err := f.store.Batch(f.ctx, b.code)
	if err != nil {
		return err
	}
	for n, g := range whole.Bags {
		b.bags[n].code, b.bags[n].shaken = g.Code, len(g.Departures) == 0
	}
	notShaken(b)
	return nil
}

// answerTrial asks for the answer on its day.
func (f *farm) answerTrial(ago int) error {
	for _, b := range f.batchesOf(func(b *batch) bool { return b.trial != "" && b.ago-ago == trialDay }) {
		f.clock.moveTo(f.at(ago, 17, 30))
		if _, err := f.store.AnswerTrial(f.ctx, b.code); err != nil {
			return err
		}
	}
	return nil
}

// takeBlanks takes labels printed ahead, printing two sheets of them the first
// time.
func (f *farm) takeBlanks(count int) (taken []grow.Code, err error) {
	if count > 0 && len(f.blanks) == 0 {
		made, _, err := f.store.CreateBlanks(f.ctx, maren, store.LabelsDraft{Count: 24})
		if err != nil {
			return nil, err
		}
		for _, b := range made {
			f.blanks = append(f.blanks, b.Code)
		}
	}
	taken, f.blanks = f.blanks[:count], f.blanks[count:]
	return taken, nil
}

// afternoon is the walk along the racks, daily for bags on watch, and what
// befell besides.
func (f *farm) afternoon(ago int) error {
	by := []store.Actor{wick, joss, wick, maren}[ago/roundEvery%4]
	at := f.at(ago, 14, 0)
	for _, b := range f.batches {
		age := b.ago - ago
		if b.code == "" || age < 1 {
			continue
		}
		for _, g := range b.bags {
			if !g.due(ago) {
				continue
			}
			for _, d := range g.round(age) {
				at = at.Add(time.Duration(days(b.random, 8, 16)) * time.Second)
				f.say(by, at, d)
			}
		}
	}
	if err := f.handIn(); err != nil {
		return err
	}
	if err := f.readSteriliserLog(ago); err != nil {
		return err
	}
	if err := f.befall(ago, by); err != nil {
		return err
	}
	return f.answerTrial(ago)
}

// due tells whether the bag is on the way of the day's walk: every third day,
// slow growers and ripening bags every sixth, bags on watch each day.
func (g *bag) due(ago int) bool {
	if g.watched && !g.found {
		return true
	}
	n, rest, age := ago/roundEvery, ago%roundEvery, g.ago-ago
	switch {
	case rest != 1 || g.unmarked:
		return false
	case age < 6 && g.ago > 130 && g.spoil == nil:
		return false // in its first months the farm left young bags alone
	case g.moved > 0:
		return ago < 8 // before that, picking was looking enough
	case g.grown > 0 && age < g.grown+g.ripe && !g.slow && g.spoil == nil:
		return n%2 == 0 // ripening: nothing much to see
	case g.slow:
		return n%2 == g.ago/35%2
	}
	return true
}

// befall hands in what the stories bring on a day.
func (f *farm) befall(ago int, by store.Actor) error {
	at := f.at(ago, 16, 10)
	for _, b := range f.batches {
		for _, h := range b.later {
			if h.ago != ago {
				continue
			}
			g := b.bag(h.bag)
			if h.photo != nil {
				f.clock.moveTo(at)
				id, err := f.addPhoto(by, *h.photo)
				if err != nil {
					return err
				}
				h.draft = grow.Draft{Kind: grow.KindPhoto, Details: grow.Details{Photo: id}}
			}
			h.draft.Bag = g.code
			if h.of != nil {
				h.draft.Of, g.watched = h.of.code, true
			}
			at = at.Add(20 * time.Second)
			f.say(by, at, h.draft)
		}
	}
	return f.handIn()
}
