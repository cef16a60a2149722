package store

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"strings"

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
	farm, err := s.Farm(ctx)
	if err != nil {
		return b, err
	}
	err = s.writing(ctx, func(t *tx) error {
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
		b, err = t.batch(farm, `b.id = ?`, b.row)
		return err
	})
	return b, err
}

func (t *tx) patchBatch(f *Farm, by Actor, b Batch, fields grow.BatchFields) error {
	t.after = append(t.after, t.store.counts.forget)
	was, now := fieldTexts(b.Fields()), fieldTexts(fields)
	for _, field := range slices.Sorted(maps.Keys(now)) {
		if was[field] == now[field] {
			continue
		}
		if _, err := t.exec(`INSERT INTO changes (batch_id, field, old, new, at, by_person, device) VALUES (?, ?, ?, ?, ?, ?, ?)`,
			b.row, field, was[field], now[field], micros(t.now), by.Person, by.Device); err != nil {
			return err
		}
	}
	if was["inoculated_at"] != now["inoculated_at"] {
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
	return t.refreshBatch(b.row, f)
}

// fieldTexts are the fields one by one as JSON text, times in UTC.
func fieldTexts(fields grow.BatchFields) map[string]string {
	fields.InoculatedAt = fields.InoculatedAt.UTC()
	for key, v := range fields.Conditions {
		if v == nil || *v == grow.Unknown {
			fields.Conditions = maps.Clone(fields.Conditions)
			delete(fields.Conditions, key)
		}
	}
	text, err := json.Marshal(fields)
	if err != nil {
		panic("store: the fields of a batch always have a JSON form: " + err.Error())
	}
	var raw map[string]json.RawMessage
	if err := json.Unmarshal(text, &raw); err != nil {
		panic("store: the fields of a batch are a JSON object: " + err.Error())
	}
	out := map[string]string{}
	for field, value := range raw {
		out[field] = strings.Trim(string(value), `"`)
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
			spawn_rate_pct = ?, run_id = ?, recipe = ?, operator = ?, place_id = ?, labels_later = ?, note = ?, label_changed_at = coalesce(?, label_changed_at)
		WHERE id = ?`,
		string(fields.Species), micros(fields.InoculatedAt), fields.LabDay, fields.Strain, fields.BagWetG, fields.MoisturePct, rows.lot,
		fields.SpawnRatePct, rows.run, fields.Recipe, fields.Operator, rows.place, fields.LabelsLater, fields.Note, changed, row)
	return err
}

func (t *tx) replaceBatchConditions(row int64, fields grow.BatchFields, conditions grow.Conditions) error {
	if _, err := t.exec(`DELETE FROM batch_conditions WHERE batch_id = ?`, row); err != nil {
		return err
	}
	return t.insertBatchConditions(row, grow.BatchDraft{BatchFields: fields}, conditions)
}
