package store

import (
	"context"

	"bagmark/grow"
	"bagmark/grow/trace"
)

// BatchReport is a batch's whole story: what was made, what differed, what
// happened and what that points to.
type BatchReport struct {
	BatchWhole
	Rows  []trace.Row     // conditions that differ inside the batch, against contamination
	Grown trace.TimeGroup // how long it took to be grown over
	Grams float64         // picked
	// Picked is how many bags were picked from, Efficiency what they gave for each
	// hundred grams of dry substrate, nil where the bags' mass is not known.
	Picked     int
	Efficiency *float64
}

// Report gives a batch's report.
func (s *Store) Report(ctx context.Context, code grow.BatchCode) (out BatchReport, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, err
	}
	if out.BatchWhole, err = s.Batch(ctx, code); err != nil {
		return out, err
	}
	r, bags, err := s.recordsFor(ctx, farm, ContaminationQuery{Batch: out.Batch.Code})
	if err != nil {
		return out, err
	}
	var columns []trace.Column
	for _, key := range farm.Conditions.Keys() {
		columns = append(columns, r.column(farm, key, bags))
	}
	for _, row := range trace.Compare(r.traceBags(bags), columns, farm.Margin) {
		if row.Verdict != trace.NothingToCompare {
			out.Rows = append(out.Rows, row)
		}
	}
	out.Grown = grownGroup(out.Batch, bags)
	return out, s.reading(ctx, func(t *tx) error { return t.picked(&out) })
}

// grownGroup are all bags of a batch as one group.
func grownGroup(b Batch, bags []bagRecord) trace.TimeGroup {
	column := trace.Column{Key: "batch", Values: make([]trace.Exposure, len(bags))}
	for i := range column.Values {
		column.Values[i].Value = string(b.Code)
	}
	groups := trace.CompareTimes(column, trace.EventColonised, timed(bags, column, trace.EventColonised)).Groups
	if len(groups) == 0 {
		return trace.TimeGroup{}
	}
	return groups[0]
}

// picked adds up the harvests.
func (t *tx) picked(out *BatchReport) error {
	bags, err := t.bagRows(`g.batch_id = ?`, out.Batch.row)
	for _, g := range bags {
		if g.status.Grams > 0 {
			out.Picked++
			out.Grams += g.status.Grams
		}
	}
	if b := out.Batch; out.Picked > 0 && b.BagWetG != nil && b.MoisturePct != nil && *b.MoisturePct < 100 {
		efficiency := 100 * out.Grams / (float64(out.Picked) * *b.BagWetG * (1 - *b.MoisturePct/100))
		out.Efficiency = &efficiency
	}
	return err
}
