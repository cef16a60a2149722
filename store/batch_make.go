package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"bagmark/grow"
)

// BagRef is a bag, or a blank, as its maker gets it.
type BagRef struct {
	Code    grow.Code `json:"code"`
	Number  int       `json:"number"`
	Payload string    `json:"payload"`
}

// CreateBatch makes a batch with its bags. The same id and body again gives
// the batch made before and created false; another body under the same id is
// a conflict.
func (s *Store) CreateBatch(ctx context.Context, by Actor, d grow.BatchDraft) (b Batch, bags []BagRef, created bool, err error) {
	err = s.changing(ctx, func(t *tx, farm *Farm) (err error) {
		if err := d.Validate(t.now, farm.Knows, farm.Conditions); err != nil {
			return err
		}
		sent, err := sentSum(d)
		if err != nil {
			return err
		}
		b, bags, created, err = t.createBatch(farm, by, d, sent)
		return err
	})
	return b, bags, created, err
}

// CreateLabDay makes all batches of a lab day or none of them. Problems are
// named by their place in the list, like batches[1].bags. waiting says, by place
// in the list, of which run a batch takes the sterile bags that wait.
func (s *Store) CreateLabDay(ctx context.Context, by Actor, drafts []grow.BatchDraft, waiting map[int]grow.Code) ([]Batch, error) {
	var out []Batch
	err := s.changing(ctx, func(t *tx, farm *Farm) error {
		filled, sums, problems, err := t.takeWaiting(drafts, waiting)
		if err != nil {
			return err
		}
		if err := validateLabDay(filled, problems, t.now, farm); err != nil {
			return err
		}
		for i, d := range filled {
			b, _, _, err := t.createBatch(farm, by, d, sums[i])
			if err != nil {
				return prefixed(err, fmt.Sprintf("batches[%d].", i))
			}
			out = append(out, b)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

func validateLabDay(drafts []grow.BatchDraft, sterile map[int]string, now time.Time, f *Farm) error {
	var p grow.Problems
	for i, d := range drafts {
		if problem, ok := sterile[i]; ok {
			p.Add(fmt.Sprintf("batches[%d].sterile", i), "%s", problem)
			d.Bags = max(d.Bags, 1) // how many cannot be known then
		}
		addProblems(&p, fmt.Sprintf("batches[%d].", i), d.Validate(now, f.Knows, f.Conditions))
	}
	if len(drafts) == 0 {
		p.Add("batches", "is empty: at least one batch makes a lab day")
	}
	return p.Err("this lab day cannot be made as it is")
}

func addProblems(p *grow.Problems, prefix string, err error) {
	var e *grow.Error
	if errors.As(err, &e) {
		for field, message := range e.Fields {
			p.Add(prefix+field, "%s", message)
		}
	}
}

// prefixed puts a prefix before the fields of an error.
func prefixed(err error, prefix string) error {
	var e *grow.Error
	if !errors.As(err, &e) || len(e.Fields) == 0 {
		return err
	}
	var p grow.Problems
	addProblems(&p, prefix, err)
	return &grow.Error{Kind: e.Kind, Message: e.Message, Fields: p, Cause: e.Cause}
}

func (t *tx) createBatch(f *Farm, by Actor, d grow.BatchDraft, sent []byte) (Batch, []BagRef, bool, error) {
	if d.ID != nil {
		b, bags, err := t.batchMadeBefore(f, *d.ID, sent)
		if err != nil || bags != nil {
			return b, bags, false, err
		}
	}
	code, err := t.newBatchCode(f, d.BatchFields)
	if err != nil {
		return Batch{}, nil, false, err
	}
	row, err := t.insertBatch(by, d, code, sent)
	if err != nil {
		return Batch{}, nil, false, err
	}
	if err := t.insertBatchConditions(row, d, f.Conditions); err != nil {
		return Batch{}, nil, false, err
	}
	b, err := t.batch(f, `b.id = ?`, row)
	if err != nil {
		return b, nil, false, err
	}
	bags, err := t.insertBags(f, b, 1, d.Bags, d.Blanks, d.BagConditions)
	if err != nil {
		return b, nil, false, err
	}
	if err := t.judgeBatchOf(f, by, row); err != nil {
		return b, nil, false, err
	}
	b, err = t.batch(f, `b.id = ?`, row)
	return b, bags, true, err
}

// sentSum is the SHA-256 of a draft in one spelling: the same thing sent twice
// has the same sum.
func sentSum(d grow.BatchDraft) ([]byte, error) {
	d.ID = nil
	d.InoculatedAt = d.InoculatedAt.UTC()
	text, err := json.Marshal(d)
	sum := sha256.Sum256(text)
	return sum[:], err
}

// batchMadeBefore finds the batch that has an id already; no bags if none has.
func (t *tx) batchMadeBefore(f *Farm, id grow.ID, sent []byte) (Batch, []BagRef, error) {
	id, err := grow.ParseID(string(id))
	if err != nil {
		return Batch{}, nil, err
	}
	var row int64
	var was []byte
	err = t.one(`SELECT id, sent_sha256 FROM batches WHERE uuid = ?`, []any{string(id)}, &row, &was)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return Batch{}, nil, nil
	case err != nil:
		return Batch{}, nil, err
	case string(was) != string(sent):
		return Batch{}, nil, grow.Errorf(grow.Conflict, "another batch has been made under the id %s", id)
	}
	b, err := t.batch(f, `b.id = ?`, row)
	if err != nil {
		return b, nil, err
	}
	bags, err := t.bagRefs(`batch_id = ?`, row)
	return b, bags, err
}

// rowsOfFields are the numbers of the lots, run and place that fields name.
type rowsOfFields struct{ lot, substrate, run, place *int64 }

func (t *tx) rowsOf(f grow.BatchFields) (r rowsOfFields, err error) {
	named := func(field string, err error) error {
		if grow.KindOf(err) == grow.Conflict {
			p := grow.Problems{field: err.Error()}
			return p.Err("this batch cannot be kept as it is")
		}
		return err
	}
	if f.SpawnLot != nil {
		lot, err := t.resolve(codedLots, strings.TrimSpace(*f.SpawnLot))
		if err != nil {
			return r, named("spawn_lot", err)
		}
		r.lot = &lot.id
	}
	if f.SubstrateLot != nil {
		id, err := t.resolveSubstrate(strings.TrimSpace(*f.SubstrateLot))
		if err != nil {
			return r, named("substrate_lot", err)
		}
		r.substrate = &id
	}
	if f.Place != nil {
		place, err := t.resolvePlace(*f.Place)
		if err != nil {
			return r, named("place", err)
		}
		r.place = &place.id
	}
	if f.SteriliserRun != nil {
		id, err := t.resolveRun(strings.TrimSpace(*f.SteriliserRun))
		if err != nil {
			return r, named("steriliser_run", err)
		}
		r.run = &id
	}
	return r, nil
}

func (t *tx) insertBatch(by Actor, d grow.BatchDraft, code grow.BatchCode, sent []byte) (int64, error) {
	rows, err := t.rowsOf(d.BatchFields)
	if err != nil {
		return 0, err
	}
	var id *string
	if d.ID != nil {
		parsed, err := grow.ParseID(string(*d.ID))
		if err != nil {
			return 0, err
		}
		text := string(parsed)
		id = &text
	}
	own, err := json.Marshal(append([]grow.BagConditions{}, d.BagConditions...))
	if err != nil {
		return 0, err
	}
	return t.insert(`INSERT INTO batches (code, uuid, sent_sha256, species, inoculated_at, bags, lab_day, strain, bag_wet_g, moisture_pct, spawn_lot_id,
			spawn_rate_pct, run_id, substrate_lot_id, recipe, operator, place_id, labels_later, note, bag_conditions, made_at, made_by, made_device)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		string(code), id, sent, string(d.Species), micros(d.InoculatedAt), d.Bags, d.LabDay, d.Strain, d.BagWetG, d.MoisturePct, rows.lot,
		d.SpawnRatePct, rows.run, rows.substrate, d.Recipe, d.Operator, rows.place, d.LabelsLater, d.Note, string(own), micros(t.now), by.Person, by.Device)
}

// newBatchCode is the first free code of the species' short name and the date.
func (t *tx) newBatchCode(f *Farm, fields grow.BatchFields) (grow.BatchCode, error) {
	species, _ := f.SpeciesOf(fields.Species, fields.Strain)
	on := grow.DateOf(fields.InoculatedAt, f.Zone)
	for nth := 1; ; nth++ {
		code := grow.NewBatchCode(species.Short, on, nth)
		var taken int
		if err := t.one(`SELECT count(*) FROM batches WHERE code = ?`, []any{string(code)}, &taken); err != nil || taken == 0 {
			return code, err
		}
	}
}

func (t *tx) insertBatchConditions(row int64, d grow.BatchDraft, conditions grow.Conditions) error {
	for key, value := range conditions.Parse(d.Conditions, "", new(grow.Problems)) {
		if _, err := t.exec(`INSERT INTO batch_conditions (batch_id, key, value) VALUES (?, ?, ?)`, row, key, value); err != nil {
			return err
		}
	}
	return nil
}
