package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"strings"

	"bagmark/grow"
)

// runsMigration is the schema's version from which on runs have labels.
const runsMigration = 9

// codeRuns gives a label's code to every run that has none.
func (t *tx) codeRuns() error {
	rows, err := t.numbers(`SELECT id FROM steriliser_runs WHERE code IS NULL ORDER BY id`)
	if err != nil {
		return err
	}
	for _, row := range rows {
		code, err := t.newCode(grow.LotCode)
		if err != nil {
			return err
		}
		if _, err := t.exec(`UPDATE steriliser_runs SET code = ? WHERE id = ?`, string(code), row); err != nil {
			return err
		}
	}
	return nil
}

// CreateRun puts a run on record. The same id and body again gives the run made
// before and created false; a run that so far is only a name takes the draft's
// fields.
func (s *Store) CreateRun(ctx context.Context, by Actor, d grow.RunDraft) (w RunWhole, created bool, err error) {
	err = s.changing(ctx, func(t *tx, farm *Farm) error {
		if err := d.Validate(t.now); err != nil {
			return err
		}
		row, made, err := t.createRun(by, d)
		if err != nil {
			return err
		}
		created = made
		if made {
			if err := t.judgeRun(farm, by, row); err != nil {
				return err
			}
		}
		w, err = t.runWhole(farm, row)
		return err
	})
	return w, created, err
}

func (t *tx) createRun(by Actor, d grow.RunDraft) (row int64, created bool, err error) {
	plain := d
	plain.ID = nil
	text, err := json.Marshal(plain)
	if err != nil {
		return 0, false, err
	}
	sum := sha256.Sum256(text)
	var id *string
	if d.ID != nil {
		parsed, _ := grow.ParseID(string(*d.ID)) // valid by now
		spelt := string(parsed)
		id = &spelt
		var was []byte
		err := t.one(`SELECT id, sent_sha256 FROM steriliser_runs WHERE uuid = ?`, []any{spelt}, &row, &was)
		switch {
		case err == nil && string(was) != string(sum[:]):
			return 0, false, grow.Errorf(grow.Conflict, "another run has been made under the id %s", parsed)
		case err == nil || !errors.Is(err, sql.ErrNoRows):
			return row, false, err
		}
	}
	if row, err = t.newRunRow(d.Name); err != nil {
		return 0, false, err
	}
	if _, err := t.exec(`UPDATE steriliser_runs SET uuid = ?, sent_sha256 = ?, made_by = ?, made_device = ? WHERE id = ?`, id, sum[:], by.Person, by.Device, row); err != nil {
		return 0, false, err
	}
	return row, true, t.writeRun(row, d.RunFields)
}

// newRunRow makes the row of a run, or takes that of a run that is only a name.
func (t *tx) newRunRow(name string) (int64, error) {
	row, err := t.resolveRun(strings.TrimSpace(name))
	if err != nil {
		return 0, namedField("name", err)
	}
	var details int
	if err := t.one(`SELECT (made_by <> '') + (SELECT count(*) FROM stock_changes WHERE code = r.code) FROM steriliser_runs r WHERE id = ?`, []any{row}, &details); err != nil || details == 0 {
		return row, err
	}
	return 0, grow.Errorf(grow.Conflict, "there is a steriliser run %s already: correct that one, or give this another name", strings.TrimSpace(name))
}

func (t *tx) writeRun(row int64, f grow.RunFields) error {
	load, err := json.Marshal(append([]grow.LoadPlace{}, f.Load...))
	if err != nil {
		return err
	}
	var method *string
	if f.Method != nil {
		method = new(string(*f.Method))
	}
	name := strings.TrimSpace(f.Name)
	_, err = t.exec(`UPDATE steriliser_runs SET name = ?, name_key = ?, method = ?, started_at = ?, vessel = ?, hold_c = ?, target_f0 = ?, gauge_kpa = ?, recipe = ?, load = ?, note = ? WHERE id = ?`,
		name, nameKey(name), method, microsOr(f.StartedAt), f.Vessel, f.HoldC, f.TargetF0, f.GaugeKPa, f.Recipe, string(load), f.Note, row)
	return err
}

// PatchRun corrects a run. Every change is kept with who, when, old and new; what
// it made is judged anew.
func (s *Store) PatchRun(ctx context.Context, by Actor, run string, change func(*grow.RunFields) error) (w RunWhole, err error) {
	err = s.changing(ctx, func(t *tx, farm *Farm) error {
		row, err := t.findRun(run)
		if err != nil {
			return err
		}
		was, err := t.run(farm, row)
		if err != nil {
			return err
		}
		fields := was.Fields()
		if err := change(&fields); err != nil {
			return err
		}
		if err := t.mayBeRun(row, fields); err != nil {
			return err
		}
		if err := t.writeRun(row, fields); err != nil {
			return err
		}
		if err := t.judgeRun(farm, by, row); err != nil {
			return err
		}
		if w, err = t.runWhole(farm, row); err != nil {
			return err
		}
		t.after = append(t.after, t.store.counts.forget) // its name stands in what is counted
		if err := t.noteStockCorrections(by, was.Code, was.Fields(), w.Run.Fields()); err != nil {
			return err
		}
		w.Changes, err = t.stockChanges(farm, was.Code)
		return err
	})
	return w, err
}

func (t *tx) mayBeRun(row int64, fields grow.RunFields) error {
	var p grow.Problems
	fields.Validate(&p, t.now)
	var other int
	if err := t.one(`SELECT count(*) FROM steriliser_runs WHERE name_key = ? AND id <> ?`, []any{nameKey(fields.Name), row}, &other); err != nil {
		return err
	}
	if other > 0 {
		p.Add("name", "is the name of another run")
	}
	return p.Err("this correction cannot be kept as it is")
}
