package store

import (
	"math"
	"strings"
)

// A short run raises a departure on every batch it made: the condition below, in
// the name of the readings. Where they no longer say so, what stood before comes
// back, unless a person has changed it meanwhile.
const (
	runCondition = "run_complete"
	shortValue   = "short"
	judgedBy     = "readings of the steriliser run"
)

// judgeRun works out what the readings of a run say and brings the batches it
// made into line.
func (t *tx) judgeRun(f *Farm, by Actor, row int64) error {
	r, err := t.run(f, row)
	if err != nil {
		return err
	}
	series, err := t.series(f, r)
	if err != nil {
		return err
	}
	v, _, err := f.verdict(r, series)
	if err != nil {
		return err
	}
	if _, err := t.exec(`UPDATE steriliser_runs SET f0 = ?, short = ? WHERE id = ?`, v.F0, v.Short, row); err != nil {
		return err
	}
	batches, err := t.batches(f, `b.run_id = ?`, row)
	if err != nil {
		return err
	}
	for _, b := range batches {
		inLine := false
		if isTrue(v.Short) == isTrue(r.Short) { // nothing new: what a person said since then stands
			if inLine, err = t.batchInLine(f, b, isTrue(v.Short)); err != nil {
				return err
			}
		}
		if inLine {
			continue
		}
		if err := t.judgeBatch(f, by, b, isTrue(v.Short)); err != nil {
			return err
		}
	}
	return nil
}

func isTrue(b *bool) bool { return b != nil && *b }

// judgeRuns judges anew the runs that another target gives another verdict.
func (t *tx) judgeRuns(f *Farm, by Actor) error {
	runs, err := t.runs(f, `r.id IN (SELECT run_id FROM run_series) ORDER BY r.id`)
	if err != nil {
		return err
	}
	for _, r := range runs {
		same, err := t.verdictStands(f, r)
		if err != nil && !isFault(err) {
			continue // damaged readings keep their verdict; check names them
		}
		if err == nil && !same {
			err = t.judgeRun(f, by, r.row)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// verdictStands tells whether what is kept of a run is what its readings say.
func (t *tx) verdictStands(f *Farm, r Run) (bool, error) {
	series, err := t.series(f, r)
	if err != nil {
		return false, err
	}
	v, _, err := f.verdict(r, series)
	return nearlyEqual(v.F0, r.F0) && equalOr(v.Short, r.Short), err
}

// nearlyEqual allows for another processor's last bit.
func nearlyEqual(a, b *float64) bool {
	return (a == nil) == (b == nil) && (a == nil || math.Abs(*a-*b) <= 1e-9*math.Max(1, math.Abs(*b)))
}

func equalOr[T comparable](a, b *T) bool { return (a == nil) == (b == nil) && (a == nil || *a == *b) }

// judgeBatchOf does so for one batch that was made or given another run.
func (t *tx) judgeBatchOf(f *Farm, by Actor, row int64) error {
	b, err := t.batch(f, `b.id = ?`, row)
	if err != nil {
		return err
	}
	var short int
	err = t.one(`SELECT coalesce((SELECT r.short FROM batches b JOIN steriliser_runs r ON r.id = b.run_id WHERE b.id = ?), 0)`, []any{row}, &short)
	if err != nil {
		return err
	}
	return t.judgeBatch(f, by, b, short == 1)
}

// batchInLine tells whether a batch says of its run what the readings say, or what
// a person said after them.
func (t *tx) batchInLine(f *Farm, b Batch, short bool) (bool, error) {
	c, known := f.Conditions[runCondition]
	if _, err := c.Value(new(shortValue)); !known || err != nil || short == (b.Conditions[runCondition] == shortValue) {
		return true, nil
	}
	last, err := t.lastWord(b.row)
	if short {
		return last.said && !last.ours, err
	}
	return !last.ours, err
}

// alignBatches judges the batches that are not in line: those that could not say
// so before the condition had the value.
func (t *tx) alignBatches(f *Farm, by Actor) error {
	return t.eachOutOfLine(f, func(r Run, b Batch) error { return t.judgeBatch(f, by, b, isTrue(r.Short)) })
}

func (t *tx) eachOutOfLine(f *Farm, do func(Run, Batch) error) error {
	runs, err := t.runs(f, `r.id IN (SELECT run_id FROM run_series) ORDER BY r.id`)
	if err != nil {
		return err
	}
	for _, r := range runs {
		batches, err := t.batches(f, `b.run_id = ? ORDER BY b.id`, r.row)
		if err != nil {
			return err
		}
		for _, b := range batches {
			inLine, err := t.batchInLine(f, b, isTrue(r.Short))
			if err == nil && !inLine {
				err = do(r, b)
			}
			if err != nil {
				return err
			}
		}
	}
	return nil
}

func (t *tx) judgeBatch(f *Farm, by Actor, b Batch, short bool) error {
	c, known := f.Conditions[runCondition]
	if _, err := c.Value(new(shortValue)); !known || err != nil {
		return nil // the farm has given up the condition
	}
	was := b.Conditions[runCondition]
	fields := b.Fields()
	switch {
	case short && was != shortValue:
		fields.Conditions[runCondition] = new(shortValue)
	case !short && was == shortValue:
		last, err := t.lastWord(b.row)
		if err != nil || !last.ours {
			return err
		}
		delete(fields.Conditions, runCondition)
		if last.before != "" {
			fields.Conditions[runCondition] = &last.before
		}
	default:
		return nil
	}
	return t.patchBatch(f, Actor{Person: by.Person, Device: judgedBy}, b, fields)
}

// lastWord is who changed the condition of a batch last.
type lastWord struct {
	said   bool   // by anybody, after the batch was made
	ours   bool   // by readings, not a person
	before string // what it was until then
}

func (t *tx) lastWord(batch int64) (w lastWord, err error) {
	list, err := t.texts(`SELECT device || char(10) || old FROM changes WHERE batch_id = ? AND field = ? ORDER BY id DESC LIMIT 1`, batch, "conditions."+runCondition)
	if err != nil || len(list) == 0 {
		return w, err
	}
	device, before, _ := strings.Cut(list[0], "\n")
	return lastWord{true, device == judgedBy, before}, nil
}
