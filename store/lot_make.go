package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"bagmark/grow"
)

// CreateLot makes a lot with its jars. The same id and body again gives the lot
// made before and created false; another body under the same id is a conflict.
// A lot that so far is only a name, made by naming it, takes the draft's fields.
func (s *Store) CreateLot(ctx context.Context, by Actor, d grow.LotDraft) (l Lot, jars []Jar, created bool, err error) {
	err = s.changing(ctx, func(t *tx, farm *Farm) error {
		if err := d.Validate(t.now, farm.Zone, farm.Knows); err != nil {
			return err
		}
		row, made, err := t.createLot(by, d)
		if err != nil {
			return err
		}
		created = made
		if l, err = t.lot(farm, row); err != nil {
			return err
		}
		jars, err = t.jars(farm, row)
		return err
	})
	return l, jars, created, err
}

func (t *tx) createLot(by Actor, d grow.LotDraft) (row int64, created bool, err error) {
	sent, err := sentSumOfLot(d)
	if err != nil {
		return 0, false, err
	}
	var id *string
	if d.ID != nil {
		parsed, _ := grow.ParseID(string(*d.ID)) // valid by now
		text := string(parsed)
		id = &text
		if row, err := t.lotMadeBefore(parsed, sent); row != 0 || err != nil {
			return row, false, err
		}
	}
	if row, err = t.newLotRow(d); err != nil {
		return 0, false, err
	}
	if _, err := t.exec(`UPDATE lots SET uuid = ?, sent_sha256 = ?, made_by = ?, made_device = ? WHERE id = ?`, id, sent, by.Person, by.Device, row); err != nil {
		return 0, false, err
	}
	if err := t.writeLot(row, d.LotFields); err != nil {
		return 0, false, err
	}
	_, err = t.insertJars(row, d.Jars)
	return row, true, err
}

func sentSumOfLot(d grow.LotDraft) ([]byte, error) {
	d.ID = nil
	text, err := json.Marshal(d)
	sum := sha256.Sum256(text)
	return sum[:], err
}

// lotMadeBefore finds the lot that has an id already, 0 if none has.
func (t *tx) lotMadeBefore(id grow.ID, sent []byte) (row int64, err error) {
	var was []byte
	err = t.one(`SELECT id, sent_sha256 FROM lots WHERE uuid = ?`, []any{string(id)}, &row, &was)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return 0, nil
	case err == nil && string(was) != string(sent):
		return 0, grow.Errorf(grow.Conflict, "another lot has been made under the id %s", id)
	}
	return row, err
}

// newLotRow makes the row of a lot, or takes that of a lot that is only a name.
func (t *tx) newLotRow(d grow.LotDraft) (int64, error) {
	name := strings.TrimSpace(d.Name)
	if code, err := grow.ParseCode(name); err == nil {
		if kind, err := t.kindOf(code); err == nil {
			p := grow.Problems{"name": fmt.Sprintf("%s is the label of a %s; a lot needs a name of its own", code.Spaced(), kind)}
			return 0, p.Err("this lot cannot be made as it is")
		}
	}
	r, err := t.byName(codedLots, name)
	if err != nil || r.created {
		return r.id, err
	}
	var details int
	err = t.one(`SELECT (made_by <> '') + (SELECT count(*) FROM jars WHERE lot_id = l.id) + (SELECT count(*) FROM lot_sources WHERE lot_id = l.id)
			+ (SELECT count(*) FROM stock_changes WHERE code = l.code)
		FROM lots l WHERE id = ?`, []any{r.id}, &details)
	if err == nil && details > 0 {
		return 0, grow.Errorf(grow.Conflict, "there is a lot %s already (%s): correct that one, or give this another name", r.name, r.code.Spaced())
	}
	return r.id, err
}

// writeLot writes the fields of a lot and what it was made from.
func (t *tx) writeLot(row int64, f grow.LotFields) error {
	var run *int64
	if f.SteriliserRun != nil {
		id, err := t.resolveRun(strings.TrimSpace(*f.SteriliserRun))
		if err != nil {
			return namedField("steriliser_run", err)
		}
		run = &id
	}
	var species *string
	if f.Species != nil {
		text := string(*f.Species)
		species = &text
	}
	name := strings.TrimSpace(f.Name)
	_, err := t.exec(`UPDATE lots SET kind = ?, name = ?, name_key = ?, species = ?, strain = ?, made_on = ?, expires_on = ?, amount = ?, look = ?, recipe = ?, run_id = ?, note = ? WHERE id = ?`,
		string(f.Kind), name, nameKey(name), species, f.Strain, f.MadeOn, f.ExpiresOn, f.Amount, f.Look, f.Recipe, run, f.Note, row)
	if err != nil {
		return err
	}
	return t.writeSources(row, f)
}

// namedField makes a conflict in a name or code a problem of its field.
func namedField(field string, err error) error {
	if isFault(err) {
		return err
	}
	var e *grow.Error
	p := grow.Problems{field: err.Error()}
	if errors.As(err, &e) {
		p[field] = e.Message
	}
	return p.Err("this cannot be kept as it is")
}

func (t *tx) writeSources(row int64, f grow.LotFields) error {
	if _, err := t.exec(`DELETE FROM lot_sources WHERE lot_id = ?`, row); err != nil {
		return err
	}
	for i, text := range f.MadeFrom {
		field := fmt.Sprintf("made_from[%d]", i)
		lot, jar, err := t.resolveSource(strings.TrimSpace(text), f.Kind)
		if err != nil {
			return namedField(field, err)
		}
		if err := t.noCycle(row, lot); err != nil {
			return namedField(field, err)
		}
		if _, err := t.exec(`INSERT INTO lot_sources (lot_id, from_id, jar_id) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`, row, lot, jar); err != nil {
			return err
		}
	}
	return nil
}

// resolveSource finds a lot by name or code, or a jar by its code. A new name
// makes a culture, or for substrate another substrate.
func (t *tx) resolveSource(text string, kind grow.LotKind) (lot int64, jar *int64, err error) {
	if code, err := grow.ParseCode(text); err == nil {
		if r, err := t.lotOrJar(code); err == nil {
			if r.jar != nil {
				jar = &r.jar.id
			}
			return r.lot, jar, nil
		} else if isFault(err) {
			return 0, nil, err
		} else if _, unknown := t.kindOf(code); unknown == nil {
			return 0, nil, err
		}
	}
	made := codedLots
	made.value = `, 'culture'`
	if kind == grow.SubstrateLot {
		made.value = `, 'substrate'`
	}
	r, err := t.byName(made, text)
	return r.id, nil, err
}

// noCycle refuses a source that was itself made from the lot.
func (t *tx) noCycle(lot, source int64) error {
	var found int
	err := t.one(`WITH RECURSIVE up(id) AS (SELECT ? UNION SELECT s.from_id FROM lot_sources s JOIN up ON s.lot_id = up.id) SELECT count(*) FROM up WHERE id = ?`,
		[]any{source, lot}, &found)
	if err != nil || found == 0 {
		return err
	}
	return grow.Errorf(grow.Conflict, "was itself made from this lot, or is this lot: nothing is made from itself")
}

// insertJars adds jars to a lot, numbered on from the last.
func (t *tx) insertJars(lot int64, count int) (codes []grow.Code, err error) {
	var first int
	if err := t.one(`SELECT coalesce(max(number), 0) + 1 FROM jars WHERE lot_id = ?`, []any{lot}, &first); err != nil {
		return nil, err
	}
	if last := first + count - 1; last > grow.MostJars {
		p := grow.Problems{}
		p.Add("count", "would make more than %d jars of one lot", grow.MostJars)
		return nil, p.Err("these jars cannot be made")
	}
	if codes, err = t.newCodes(grow.LotCode, count); err != nil {
		return nil, err
	}
	for i, code := range codes {
		if _, err := t.exec(`INSERT INTO jars (lot_id, number, code, made_at) VALUES (?, ?, ?, ?)`, lot, first+i, string(code), micros(t.now)); err != nil {
			return nil, err
		}
	}
	return codes, nil
}

// AddJars adds jars to a lot. The same id and count again gives those added
// before and created false.
func (s *Store) AddJars(ctx context.Context, by Actor, lot string, d LabelsDraft) (l Lot, jars []Jar, created bool, err error) {
	if d.Count < 1 || d.Count > grow.MostJars {
		p := grow.Problems{}
		p.Add("count", "must be 1 to %d", grow.MostJars)
		return l, nil, false, p.Err("these jars cannot be made")
	}
	err = s.changing(ctx, func(t *tx, farm *Farm) error {
		row, err := t.findLot(lot)
		if err != nil {
			return err
		}
		var codes []grow.Code
		codes, created, err = t.once(making{by, d.ID, "jars", row.lot, d.Count}, func() ([]grow.Code, error) { return t.insertJars(row.lot, d.Count) })
		if err != nil {
			return err
		}
		if l, err = t.lot(farm, row.lot); err != nil {
			return err
		}
		all, err := t.jars(farm, row.lot)
		jars = slices.DeleteFunc(all, func(j Jar) bool { return !slices.Contains(codes, j.Code) })
		return err
	})
	return l, jars, created, err
}

// PatchLot corrects a lot: change writes the corrections onto the fields as they
// stand. Every change is kept with who, when, old and new.
func (s *Store) PatchLot(ctx context.Context, by Actor, lot string, change func(*grow.LotFields) error) (l Lot, err error) {
	err = s.changing(ctx, func(t *tx, farm *Farm) error {
		row, err := t.findLot(lot)
		if err != nil {
			return err
		}
		was, err := t.lot(farm, row.lot)
		if err != nil {
			return err
		}
		fields := was.Fields()
		if err := change(&fields); err != nil {
			return err
		}
		if err := t.mayBeLot(farm, row.lot, fields); err != nil {
			return err
		}
		if err := t.writeLot(row.lot, fields); err != nil {
			return err
		}
		if l, err = t.lot(farm, row.lot); err != nil {
			return err
		}
		t.after = append(t.after, t.store.counts.forget) // its name stands in what is counted
		return t.noteStockCorrections(by, was.Code, was.Fields(), l.Fields())
	})
	return l, err
}

func (t *tx) mayBeLot(f *Farm, row int64, fields grow.LotFields) error {
	var p grow.Problems
	fields.Validate(&p, grow.DateOf(t.now, f.Zone), f.Knows)
	var other int
	if err := t.one(`SELECT count(*) FROM lots WHERE name_key = ? AND id <> ?`, []any{nameKey(fields.Name), row}, &other); err != nil {
		return err
	}
	if other > 0 {
		p.Add("name", "is the name of another lot")
	}
	return p.Err("this correction cannot be kept as it is")
}

// noteStockCorrections keeps what became of each field.
func (t *tx) noteStockCorrections(by Actor, code grow.Code, was, is any) error {
	before, after := textsOf(was), textsOf(is)
	fields := maps.Clone(before)
	maps.Copy(fields, after)
	for _, field := range slices.Sorted(maps.Keys(fields)) {
		if before[field] != after[field] {
			if err := t.noteStockChange(by, code, field, before[field], after[field]); err != nil {
				return err
			}
		}
	}
	return nil
}

// textsOf are the fields of a value one by one as a person reads them.
func textsOf(fields any) map[string]string {
	text, err := json.Marshal(fields)
	if err != nil {
		panic("store: fields always have a JSON form: " + err.Error())
	}
	var raw map[string]json.RawMessage
	if err := json.Unmarshal(text, &raw); err != nil {
		panic("store: fields are a JSON object: " + err.Error())
	}
	out := map[string]string{}
	for field, value := range raw {
		out[field] = cellOf(value)
	}
	return out
}

// findLot finds a lot, or a jar, by its code or a lot by its name.
func (t *tx) findLot(text string) (stockRow, error) {
	if code, err := grow.ParseCode(text); err == nil {
		r, err := t.lotOrJar(code)
		if err == nil || isFault(err) {
			return r, err
		}
	}
	var code grow.Code
	err := t.one(`SELECT code FROM lots WHERE name_key = ?`, []any{nameKey(text)}, &code)
	if errors.Is(err, sql.ErrNoRows) {
		return stockRow{}, grow.Errorf(grow.NotFound, "this farm has no lot %s", text)
	}
	if err != nil {
		return stockRow{}, err
	}
	return t.lotOrJar(code)
}
