package server

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"bagmark/grow"
	"bagmark/labels"
	"bagmark/store"
)

// LabelRequest says which labels to print, and how: those of a batch, of a
// whole lab day, or of any codes.
type LabelRequest struct {
	Batch  grow.BatchCode
	LabDay string
	Codes  []grow.Code
	Bags   string // of a batch, like 1-5,9; "" for all
	Sheet  string // "" for the farm's usual one
	Start  int    // first free position of a part-used sheet, from 1; 0 means 1
	Copies int    // of each label; 0 means 1
}

// PrintLabels draws a label sheet. The same request gives the same bytes while
// nothing that is printed changes, whoever asks.
func PrintLabels(ctx context.Context, st *store.Store, r LabelRequest) ([]byte, error) {
	farm, err := st.Farm(ctx)
	if err != nil {
		return nil, err
	}
	job := labels.Job{Start: r.Start, Copies: r.Copies}
	if job.Sheet, job.Correction, err = stockOf(ctx, st, farm, r.Sheet); err != nil {
		return nil, err
	}
	w := labelWriter{ctx: ctx, store: st, farm: farm, address: FarmAddress(farm)}
	if job.Labels, err = w.labels(r); err != nil {
		return nil, err
	}
	return job.PDF()
}

// labelWriter turns what the farm knows into the words of labels.
type labelWriter struct {
	ctx     context.Context
	store   *store.Store
	farm    *store.Farm
	address grow.Address
}

func (w labelWriter) labels(r LabelRequest) ([]labels.Label, error) {
	switch {
	case r.Batch != "":
		return w.batch(r.Batch, r.Bags)
	case r.LabDay != "":
		return w.labDay(r.LabDay)
	}
	return w.codes(r.Codes)
}

// batch gives the labels of a batch's bags in number order.
func (w labelWriter) batch(code grow.BatchCode, bags string) ([]labels.Label, error) {
	whole, err := w.store.Batch(w.ctx, code)
	if err != nil {
		return nil, err
	}
	wanted := map[int]bool{}
	if bags != "" {
		numbers, err := grow.ParseBagRange(bags, whole.Batch.Bags)
		if err != nil {
			p := grow.Problems{"bags": err.Error()}
			return nil, p.Err("these labels cannot be printed")
		}
		for _, n := range numbers {
			wanted[n] = true
		}
	}
	var out []labels.Label
	for _, bag := range whole.Bags {
		if bags == "" || wanted[bag.Number] {
			out = append(out, w.bag(whole.Batch, bag))
		}
	}
	return out, nil
}

// labDay gives the labels of all batches made in one go, in the order in which
// they were made.
func (w labelWriter) labDay(name string) ([]labels.Label, error) {
	var batches []store.Batch
	for filter := (store.BatchFilter{LabDay: name, Limit: 200}); ; {
		page, err := w.store.Batches(w.ctx, filter)
		if err != nil {
			return nil, err
		}
		if batches = append(batches, page.Batches...); page.Next == nil {
			break
		}
		filter.After = *page.Next
	}
	if len(batches) == 0 {
		return nil, grow.Errorf(grow.NotFound, "there is no lab day %q", name)
	}
	slices.SortFunc(batches, func(a, b store.Batch) int {
		if c := a.MadeAt.Compare(b.MadeAt); c != 0 {
			return c
		}
		return strings.Compare(string(a.Code), string(b.Code))
	})
	var out []labels.Label
	for _, b := range batches {
		some, err := w.batch(b.Code, "")
		if err != nil {
			return nil, err
		}
		out = append(out, some...)
	}
	return out, nil
}

// bag is the label of one bag.
func (w labelWriter) bag(b store.Batch, bag store.BatchBag) labels.Label {
	made := grow.DateOf(b.InoculatedAt, w.farm.Zone)
	l := labels.Label{
		Payload: w.address.Payload(grow.BagCode, bag.Code), Code: bag.Code.Spaced(),
		Name: b.Short, Species: b.SpeciesName, Batch: string(b.Code), Number: fmt.Sprintf("%d/%d", bag.Number, b.Bags),
		Date: labelDate(made), Weekday: made.Time().Format("Mon"), Departures: bag.Departures, PenBoxes: w.penBoxes(bag.Departures),
		Hint: "hunt from " + labelDate(made+grow.Date(w.farm.FirstLookDay)),
	}
	if b.Strain != nil {
		l.Strain = *b.Strain
	}
	return l
}

// labelDate is a date as labels have it: 14 MAR.
func labelDate(d grow.Date) string { return strings.ToUpper(d.Time().Format("2 Jan")) }

// penBoxes are the boxes to be crossed by hand when something departs from
// routine after printing; what departs already is printed large and needs none.
func (w labelWriter) penBoxes(departures []string) []string {
	var out []string
	for _, key := range w.farm.Conditions.Keys() {
		c := w.farm.Conditions[key]
		if c.Pen == "" || c.Level != grow.BagLevel {
			continue
		}
		departed := slices.ContainsFunc(c.Values, func(v string) bool { return slices.Contains(departures, c.Printed(&v)) })
		if !departed && !slices.Contains(out, c.Pen) {
			out = append(out, c.Pen)
		}
	}
	return out
}
