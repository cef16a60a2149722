package server

import (
	"fmt"
	"slices"
	"strings"

	"bagmark/grow"
	"bagmark/labels"
	"bagmark/store"
)

// codes gives the labels of any codes, in the order asked for.
func (w labelWriter) codes(codes []grow.Code) ([]labels.Label, error) {
	things, err := w.store.WhatIs(w.ctx, codes)
	if err != nil {
		return nil, err
	}
	var p grow.Problems
	for i, code := range codes {
		if _, ok := things[code]; !ok {
			p.Add(fmt.Sprintf("codes[%d]", i), "%s is not a label of this farm", code.Spaced())
		}
	}
	if len(p) > 0 {
		return nil, &grow.Error{Kind: grow.NotFound, Message: "these labels cannot be printed", Fields: p}
	}
	batches, err := w.batchesOf(things)
	if err != nil {
		return nil, err
	}
	out := make([]labels.Label, 0, len(codes))
	for _, code := range codes {
		l, err := w.thing(code, things[code], batches)
		if err != nil {
			return nil, err
		}
		out = append(out, l)
	}
	return out, nil
}

// batchesOf loads the batch of every bag among the things, each once.
func (w labelWriter) batchesOf(things map[grow.Code]store.Thing) (map[grow.BatchCode]store.BatchWhole, error) {
	out := map[grow.BatchCode]store.BatchWhole{}
	for _, t := range things {
		if _, there := out[t.Batch]; t.Kind != grow.BagCode || there {
			continue
		}
		whole, err := w.store.Batch(w.ctx, t.Batch)
		if err != nil {
			return nil, err
		}
		out[t.Batch] = whole
	}
	return out, nil
}

// thing is the label of whatever a code stands for. A bag asked for by a label
// that it carried before gets the one it carries now.
func (w labelWriter) thing(code grow.Code, t store.Thing, batches map[grow.BatchCode]store.BatchWhole) (labels.Label, error) {
	l := labels.Label{Payload: w.address.Payload(t.Kind, code), Code: code.Spaced()}
	switch t.Kind {
	case grow.BagCode:
		whole := batches[t.Batch]
		i := slices.IndexFunc(whole.Bags, func(b store.BatchBag) bool { return b.Number == t.Number })
		if i < 0 {
			return l, grow.Errorf(grow.NotFound, "this farm has no bag %s", code.Spaced())
		}
		return w.bag(whole.Batch, whole.Bags[i]), nil
	case grow.BlankCode:
		if t.Name != "" {
			return w.sterile(l, code)
		}
		l.Rules = []string{"species", "date", "bag", "strain"}
	case grow.CardCode:
		return w.card(l, code)
	case grow.LotCode:
		return w.lot(l, code, t.Name)
	default:
		l.Name = t.Name
	}
	return l, nil
}

// sterile is the label of a bag filled before the steam: the rest is written by
// hand or on a label of its own once it is a bag of a batch.
func (w labelWriter) sterile(l labels.Label, code grow.Code) (labels.Label, error) {
	bag, _, err := w.store.Sterile(w.ctx, code)
	if err != nil {
		return l, err
	}
	l.Name, l.Batch, l.Date, l.Weekday, l.Hint = "STERILE", bag.Run, labelDate(bag.FilledOn), bag.FilledOn.Time().Format("Mon"), "not inoculated yet"
	if bag.Control {
		l.Name, l.Hint = "CONTROL", "keep closed, never inoculate"
	}
	if bag.Recipe != nil {
		l.Species = *bag.Recipe
	}
	return l, nil
}

// lot is the label of a lot or a jar: what grows in it to be read at 1 m, then
// which one, when it was made and until when it is good. A steriliser run has a
// code of the same kind.
func (w labelWriter) lot(l labels.Label, code grow.Code, name string) (labels.Label, error) {
	lot, _, err := w.store.LotAlone(w.ctx, string(code))
	if grow.KindOf(err) == grow.NotFound {
		l.Name, l.Hint = store.RunName(name), "steriliser run"
		return l, nil
	}
	if err != nil {
		return l, err
	}
	l.Name = name
	if lot.Species != nil {
		species, _ := w.farm.SpeciesOf(*lot.Species, lot.Strain)
		l.Name, l.Number, l.Species = species.Short, name, species.Name
	}
	if lot.Strain != nil {
		l.Strain = *lot.Strain
	}
	if lot.MadeOn != nil {
		l.Date = labelDate(*lot.MadeOn)
	}
	l.Lines = []string{lot.Kind.Words()}
	if lot.ExpiresOn != nil {
		l.Lines[0] += ", use by " + strings.ReplaceAll(labelDate(*lot.ExpiresOn), " ", "\u00a0")
	}
	return l, nil
}

// card is the label of a bench card: what scanning it does, in words to be read
// from a metre away.
func (w labelWriter) card(l labels.Label, code grow.Code) (labels.Label, error) {
	card, err := w.store.Card(w.ctx, code)
	if err != nil {
		return l, err
	}
	l.Name, l.Hint = strings.ToUpper(card.Label), "bench card: scan it"
	if c, ok := w.farm.Conditions[card.Key]; ok {
		if word := c.Printed(&card.Value); word != "" {
			l.Departures = []string{word} // as a bag's label would show it
		}
	}
	return l, nil
}
