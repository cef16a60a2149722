package store

import (
	"context"
	"maps"
	"slices"

	"bagmark/grow"
)

// onLabel is what the labels of a batch show of its fields.
func (f *Farm) onLabel(fields grow.BatchFields) []string {
	out := []string{string(fields.Species), "", grow.DateOf(fields.InoculatedAt, f.Zone).String()}
	if fields.Strain != nil {
		out[1] = *fields.Strain
	}
	known := f.Conditions.Parse(fields.Conditions, "", new(grow.Problems))
	for _, key := range f.Conditions.Keys() {
		if v, ok := known[key]; ok {
			out = append(out, f.Conditions[key].Printed(&v))
		} else {
			out = append(out, "")
		}
	}
	return out
}

// PatchBatch corrects a batch: change writes the corrections onto the fields
// as they stand. Every change is kept with who, when, old and new.
func (s *Store) PatchBatch(ctx context.Context, by Actor, code grow.BatchCode, change func(*grow.BatchFields) error) (b Batch, err error) {
	err = s.changing(ctx, func(t *tx, farm *Farm) error {
		if b, err = t.batchByCode(farm, code); err != nil {
			return err
		}
		fields := b.Fields()
		if err := change(&fields); err != nil {
			return err
		}
		var p grow.Problems
		fields.Validate(&p, t.now, farm.Knows, farm.Conditions)
		if err := p.Err("this correction cannot be kept as it is"); err != nil {
			return err
		}
		if err := t.patchBatch(farm, by, b, fields); err != nil {
			return err
		}
		if textCell(fields.SteriliserRun) != textCell(b.SteriliserRun) {
			if err := t.judgeBatchOf(farm, by, b.row); err != nil {
				return err
			}
		}
		b, err = t.batch(farm, `b.id = ?`, b.row)
		return err
	})
	return b, err
}

func (t *tx) patchBatch(f *Farm, by Actor, b Batch, fields grow.BatchFields) error {
	if !fields.InoculatedAt.Equal(b.InoculatedAt) {
		if err := t.notAfterItsLog(f, b, fields); err != nil {
			return err
		}
	}
	printed := !slices.Equal(f.onLabel(b.Fields()), f.onLabel(fields))
	if err := t.updateBatch(b.row, fields, printed); err != nil {
		return err
	}
	if err := t.replaceBatchConditions(b.row, fields, f.Conditions); err != nil {
		return err
	}
	if err := t.noteCorrections(f, by, b); err != nil {
		return err
	}
	return t.refreshBatch(b.row, f)
}

// noteCorrections keeps what became of each field, by what the batch was and
// what it is now: a place named by its code, or in other letters, is no change.
func (t *tx) noteCorrections(f *Farm, by Actor, was Batch) error {
	is, err := t.batch(f, `b.id = ?`, was.row)
	if err != nil {
		return err
	}
	before, after := fieldTexts(was.Fields()), fieldTexts(is.Fields())
	fields := maps.Clone(before)
	maps.Copy(fields, after)
	for _, field := range slices.Sorted(maps.Keys(fields)) {
		if before[field] == after[field] {
			continue
		}
		if err := t.noteChange(by, was.row, field, before[field], after[field]); err != nil {
			return err
		}
	}
	return nil
}

// fieldTexts are the fields one by one as a person reads them, each condition by
// itself; what was not given is empty.
func fieldTexts(fields grow.BatchFields) map[string]string {
	out := textsOf(fields)
	delete(out, "conditions")
	for key, value := range fields.Conditions {
		out["conditions."+key] = textCell(value)
	}
	return out
}

// notAfterItsLog refuses an inoculation day later than something seen already.
func (t *tx) notAfterItsLog(f *Farm, b Batch, fields grow.BatchFields) error {
	var first *int64
	err := t.one(`SELECT min(e.at) FROM entries e JOIN bags g ON g.id = e.bag_id WHERE g.batch_id = ? AND e.kind <> 'void'`, []any{b.row}, &first)
	if err != nil || first == nil {
		return err
	}
	seen := grow.DateOf(instant(*first, f.Zone), f.Zone)
	if grow.DateOf(fields.InoculatedAt, f.Zone) <= seen {
		return nil
	}
	p := grow.Problems{}
	p.Add("inoculated_at", "is after %s, when one of its bags was seen already", seen)
	return p.Err("this correction cannot be kept as it is")
}

func (t *tx) updateBatch(row int64, fields grow.BatchFields, printed bool) error {
	rows, err := t.rowsOf(fields)
	if err != nil {
		return err
	}
	var changed *int64
	if printed {
		us := micros(t.now)
		changed = &us
	}
	_, err = t.exec(`UPDATE batches SET species = ?, inoculated_at = ?, lab_day = ?, strain = ?, bag_wet_g = ?, moisture_pct = ?, spawn_lot_id = ?,
			spawn_rate_pct = ?, run_id = ?, substrate_lot_id = ?, recipe = ?, operator = ?, place_id = ?, labels_later = ?, note = ?, label_changed_at = coalesce(?, label_changed_at)
		WHERE id = ?`,
		string(fields.Species), micros(fields.InoculatedAt), fields.LabDay, fields.Strain, fields.BagWetG, fields.MoisturePct, rows.lot,
		fields.SpawnRatePct, rows.run, rows.substrate, fields.Recipe, fields.Operator, rows.place, fields.LabelsLater, fields.Note, changed, row)
	return err
}

func (t *tx) replaceBatchConditions(row int64, fields grow.BatchFields, conditions grow.Conditions) error {
	if _, err := t.exec(`DELETE FROM batch_conditions WHERE batch_id = ?`, row); err != nil {
		return err
	}
	return t.insertBatchConditions(row, grow.BatchDraft{BatchFields: fields}, conditions)
}
