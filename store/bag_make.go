package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"

	"bagmark/grow"
)

// insertBags makes the bags first to last of a batch; blanks take the first
// numbers, the rest get new codes.
func (t *tx) insertBags(f *Farm, b Batch, first, last int, blanks []grow.Code, conditions []grow.BagConditions) ([]BagRef, error) {
	own, err := ownConditions(conditions, b.Bags, f.Conditions)
	if err != nil {
		return nil, err
	}
	t.after = append(t.after, t.store.counts.forget)
	out := make([]BagRef, 0, last-first+1)
	for n := first; n <= last; n++ {
		code, err := t.codeForBag(b, blanks, n-first)
		if err != nil {
			return nil, err
		}
		if n-first < len(blanks) {
			if own[n], err = t.sterileConditions(f, code, own[n]); err != nil {
				return nil, err
			}
		}
		if err := t.insertBag(f, b, bagRow{number: n, code: code}, own[n]); err != nil {
			return nil, err
		}
		out = append(out, BagRef{Code: code, Number: n})
	}
	if len(blanks) > 0 {
		return out, t.takeSterileRun(b.row)
	}
	return out, nil
}

// codeForBag takes the next blank if there is one left, else draws a code.
func (t *tx) codeForBag(b Batch, blanks []grow.Code, i int) (grow.Code, error) {
	if i >= len(blanks) {
		return t.newCode(grow.BagCode)
	}
	code, err := grow.ParseCode(string(blanks[i]))
	if err == nil {
		err = t.takeFilled(code, b.SteriliserRun)
	}
	if err != nil && !isFault(err) {
		p := grow.Problems{fmt.Sprintf("blanks[%d]", i): err.Error()}
		err = p.Err("a blank label cannot be used")
	}
	return code, err
}

// takeFilled is takeBlank for a label that may be on a bag filled before the
// steam.
func (t *tx) takeFilled(code grow.Code, run *string) error {
	sterile, found, err := t.sterileOf(code)
	if err == nil && found {
		err = sterile.mayAdopt(code, run)
	}
	if err != nil {
		return err
	}
	return t.takeBlank(code)
}

// takeBlank makes a blank's code a bag's.
func (t *tx) takeBlank(code grow.Code) error {
	kind, err := t.kindOf(code)
	switch {
	case err != nil:
		return err
	case kind == grow.BagCode:
		return grow.Errorf(grow.Conflict, "the label %s is on a bag already", code.Spaced())
	case kind != grow.BlankCode:
		return grow.Errorf(grow.Conflict, "%s is the label of a %s, not a blank one", code.Spaced(), kind)
	}
	_, err = t.exec(`UPDATE codes SET kind = 'bag' WHERE code = ?`, string(code))
	return err
}

// insertBag makes a bag as its row says, with its own conditions.
func (t *tx) insertBag(f *Farm, b Batch, g bagRow, own map[string]*string) error {
	status := grow.Replay(g.start(b, own), nil, f.Conditions)
	text, err := json.Marshal(status)
	if err != nil {
		return err
	}
	var place *int64
	if g.madePlace != "" {
		row, err := t.resolvePlace(g.madePlace)
		if err != nil {
			return err
		}
		place = &row.id
	}
	id, err := t.insert(`INSERT INTO bags (batch_id, number, code, made_place_id, made_marked_at, state, status) VALUES (?, ?, ?, ?, ?, ?, ?)`,
		b.row, g.number, string(g.code), place, microsOr(g.madeMarked), string(status.State), string(text))
	if err != nil {
		return err
	}
	for key, value := range own {
		if _, err := t.exec(`INSERT INTO bag_conditions (bag_id, key, value) VALUES (?, ?, ?)`, id, key, value); err != nil {
			return err
		}
	}
	return t.adoptSterile(g.code, id)
}

// ownConditions are each bag's own conditions at making, by number; nil is
// known to be unknown. "About six of them" makes the condition unknown for
// every bag of the batch that is not named.
func ownConditions(list []grow.BagConditions, bags int, conditions grow.Conditions) (map[int]map[string]*string, error) {
	out := map[int]map[string]*string{}
	set := func(n int, key string, value *string, replace bool) {
		if out[n] == nil {
			out[n] = map[string]*string{}
		}
		if _, there := out[n][key]; !there || replace {
			out[n][key] = value
		}
	}
	for _, bc := range list {
		if bc.Bags == "" {
			continue
		}
		numbers, err := grow.ParseBagRange(bc.Bags, bags)
		if err != nil {
			return nil, err
		}
		known := conditions.Parse(bc.Conditions, "", new(grow.Problems))
		for _, n := range numbers {
			for key := range bc.Conditions {
				if v, ok := known[key]; ok {
					set(n, key, &v, true)
				} else {
					set(n, key, nil, true)
				}
			}
		}
	}
	for _, bc := range list {
		if bc.Bags != "" {
			continue
		}
		for n := 1; n <= bags; n++ {
			for key := range bc.Conditions {
				set(n, key, nil, false)
			}
		}
	}
	return out, nil
}

// CreateBlanks makes codes for labels that are printed ahead and adopted later.
// The same id and count again gives those made before and created false.
func (s *Store) CreateBlanks(ctx context.Context, by Actor, d LabelsDraft) (out []BagRef, created bool, err error) {
	if d.Count < 1 || d.Count > grow.MostBags {
		p := grow.Problems{}
		p.Add("count", "must be 1 to %d", grow.MostBags)
		return nil, false, p.Err("blank labels cannot be made like this")
	}
	err = s.writing(ctx, func(t *tx) error {
		var codes []grow.Code
		codes, created, err = t.once(making{by, d.ID, "blanks", 0, d.Count}, func() ([]grow.Code, error) { return t.newCodes(grow.BlankCode, d.Count) })
		for _, code := range codes {
			out = append(out, BagRef{Code: code})
		}
		return err
	})
	return out, created, err
}

func (t *tx) newCodes(kind grow.CodeKind, count int) (out []grow.Code, err error) {
	for range count {
		code, err := t.newCode(kind)
		if err != nil {
			return nil, err
		}
		out = append(out, code)
	}
	return out, nil
}

// AddBlanks appends bags to a batch, one for each blank label. The same id and
// labels again gives the bags made before and created false.
func (s *Store) AddBlanks(ctx context.Context, by Actor, batch grow.BatchCode, d BlanksDraft) (b Batch, bags []BagRef, created bool, err error) {
	err = s.changing(ctx, func(t *tx, farm *Farm) error {
		if b, err = t.batchByCode(farm, batch); err != nil {
			return err
		}
		var codes []grow.Code
		codes, created, err = t.once(making{by, d.ID, "adopted", b.row, d.Blanks}, func() ([]grow.Code, error) { return t.addBlanks(farm, by, b, d.Blanks) })
		if err != nil {
			return err
		}
		if bags, err = t.bagRefs(`code IN (SELECT value FROM json_each(?))`, jsonList(codes)); err != nil {
			return err
		}
		b, err = t.batch(farm, `b.id = ?`, b.row)
		return err
	})
	return b, bags, created, err
}

func (t *tx) addBlanks(f *Farm, by Actor, b Batch, blanks []grow.Code) ([]grow.Code, error) {
	var highest int
	if err := t.one(`SELECT coalesce(max(number), 0) FROM bags WHERE batch_id = ? AND given_back_at IS NULL`, []any{b.row}, &highest); err != nil {
		return nil, err
	}
	first, last := highest+1, highest+len(blanks)
	if len(blanks) == 0 || last > grow.MostBags {
		p := grow.Problems{}
		p.Add("blanks", "must be at least one, and the batch at most %d bags", grow.MostBags)
		return nil, p.Err("these blanks cannot be added")
	}
	if _, err := t.exec(`UPDATE batches SET bags = bags + ? WHERE id = ?`, len(blanks), b.row); err != nil {
		return nil, err
	}
	bags, err := t.insertBags(f, b, first, last, blanks, nil)
	if err != nil {
		return nil, err
	}
	if err := t.noteCorrections(f, by, b); err != nil { // the run and the recipe that the blanks brought
		return nil, err
	}
	codes := make([]grow.Code, len(bags))
	for i, g := range bags {
		codes[i] = g.Code
	}
	now, err := t.batch(f, `b.id = ?`, b.row)
	if err != nil || equalOr(b.SteriliserRun, now.SteriliserRun) {
		return codes, err
	}
	return codes, t.judgeBatchOf(f, by, b.row)
}

// bagRefs are the bags that a WHERE clause picks, in the order of their numbers.
func (t *tx) bagRefs(where string, args ...any) ([]BagRef, error) {
	out := []BagRef{}
	err := t.each(`SELECT code, number FROM bags WHERE given_back_at IS NULL AND `+where+` ORDER BY number`, args, func(rows *sql.Rows) error {
		var g BagRef
		err := rows.Scan(&g.Code, &g.Number)
		out = append(out, g)
		return err
	})
	return out, err
}
