package server

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"bagmark/grow"
)

// begin finds the bags that the walk should see.
func (a *sweepAct) begin() (*sweepState, error) {
	sweep := &sweepState{Answer: a.v.Get("answer"), Round: a.how.id, Began: a.how.when(a.store.Now())}
	err := a.fill(sweep)
	if err == nil && sweep.Round == "" {
		sweep.Round, err = newID()
	}
	if err != nil {
		return nil, err
	}
	switch {
	case a.v.Get("list") == "ready":
		return sweep, a.overReady(sweep)
	case a.v.Get("batch") != "":
		err = a.overBatch(sweep, grow.BatchCode(a.v.Get("batch")), nil)
		sweep.Title = a.v.Get("batch")
	case a.v.Get("at") != "":
		err = a.overPlace(sweep, grow.Code(a.v.Get("at")))
	}
	slices.SortStableFunc(sweep.Bags, func(x, y sweepBag) int {
		return cmp.Or(cmp.Compare(x.Turn, y.Turn), strings.Compare(x.Place, y.Place), cmp.Compare(x.Day, y.Day))
	})
	return sweep, err
}

// fill takes what the answer needs beside itself.
func (a *sweepAct) fill(sweep *sweepState) error {
	var p grow.Problems
	if sweep.draft().Kind == "" {
		p.Add("answer", "is missing")
	}
	switch sweep.Answer {
	case "move", "fruiting":
		var err error
		if sweep.Place, err = a.placeNamed(typed(a.v, "place")); err != nil {
			return err
		}
	case "sold", "given":
		sweep.To = typed(a.v, "to")
	case "hold":
		d, err := holdDraft(a.v, a.how.day(a.store.Now(), a.store.Zone(a.ctx)))
		if err != nil {
			return err
		}
		sweep.Until, sweep.Because = d.On, d.Because
	}
	return p.Err("a sweep has one answer")
}

// overReady adds what is ready for fruiting, what spoils first first.
func (a *sweepAct) overReady(sweep *sweepState) error {
	list, err := a.store.ToFruiting(a.ctx)
	sweep.Listed, sweep.Title = true, "What spoils first comes first."
	for _, row := range list.Rows {
		for _, b := range row.Bags {
			sweep.Bags = append(sweep.Bags, sweepBag{Code: b.Bag, Name: fmt.Sprintf("%s #%d", b.Short, b.Number), Place: deref(b.Place), Day: b.Day})
		}
	}
	return err
}

// overBatch adds the bags of a batch, those of a list alone if there is one.
func (a *sweepAct) overBatch(sweep *sweepState, code grow.BatchCode, only []grow.Code) error {
	whole, err := a.store.Batch(a.ctx, code)
	if err != nil {
		return err
	}
	for _, b := range whole.Bags {
		if b.State.Out() || only != nil && !slices.Contains(only, b.Code) {
			continue
		}
		turn := rank(b.Watched)
		if b.Contaminated != nil || b.State == grow.Isolated {
			turn = 2
		}
		sweep.Bags = append(sweep.Bags, sweepBag{b.Code, fmt.Sprintf("%s #%d", whole.Batch.Short, b.Number), deref(b.Place), turn, b.Day})
	}
	return nil
}

// overPlace adds what stands at a place and at its parts.
func (a *sweepAct) overPlace(sweep *sweepState, place grow.Code) error {
	name, is, err := a.placeOf(place)
	if err == nil && !is {
		err = grow.Errorf(grow.NotFound, "this farm has no place %s", place.Spaced())
	}
	if err != nil {
		return err
	}
	sweep.Title, sweep.At = name, name
	bags, err := a.store.Standing(a.ctx, name)
	if err != nil {
		return err
	}
	var batches []grow.BatchCode
	codes := []grow.Code{}
	for _, b := range bags {
		codes = append(codes, b.Code)
		if !slices.Contains(batches, b.Batch) {
			batches = append(batches, b.Batch)
		}
	}
	for _, batch := range batches {
		if err := a.overBatch(sweep, batch, codes); err != nil {
			return err
		}
	}
	return nil
}
