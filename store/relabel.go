package store

import (
	"context"
	"encoding/json"
	"fmt"

	"bagmark/grow"
)

// SwapLabels puts right two labels that are on each other's bags: the labels
// change places in their batches, with the conditions the bags were made with.
// What was logged stays with the label, for it was seen on the bag that
// carries it.
func (s *Store) SwapLabels(ctx context.Context, by Actor, a, b grow.Code) error {
	return s.changing(ctx, func(t *tx, farm *Farm) error {
		x, err := t.bagByCode(a)
		if err != nil {
			return err
		}
		y, err := t.bagByCode(b)
		if err != nil {
			return err
		}
		if x.id == y.id {
			return grow.Errorf(grow.Invalid, "both labels are of the same bag")
		}
		return t.swap(farm, by, x, y)
	})
}

func (t *tx) bagByCode(c grow.Code) (bagRow, error) {
	id, err := t.bagID(c)
	if err != nil {
		return bagRow{}, err
	}
	rows, err := t.bagRows(`g.id = ?`, id)
	if err != nil {
		return bagRow{}, err
	}
	return rows[0], nil
}

func (t *tx) swap(f *Farm, by Actor, x, y bagRow) error {
	own := map[int64]map[string]*string{}
	for _, g := range []bagRow{x, y} {
		var err error
		if own[g.id], err = t.ownConditionsOf(g.id); err != nil {
			return err
		}
		// Out of the way first: a batch has each number once.
		if _, err := t.exec(`DELETE FROM bag_conditions WHERE bag_id = ?`, g.id); err != nil {
			return err
		}
	}
	free, err := t.freeNumber(x.batch)
	if err != nil {
		return err
	}
	for _, move := range []struct {
		id, batch int64
		number    int
	}{{x.id, x.batch, free}, {y.id, x.batch, x.number}, {x.id, y.batch, y.number}} {
		if _, err := t.exec(`UPDATE bags SET batch_id = ?, number = ? WHERE id = ?`, move.batch, move.number, move.id); err != nil {
			return err
		}
	}
	for _, g := range []struct{ to, from int64 }{{x.id, y.id}, {y.id, x.id}} {
		for key, value := range own[g.from] {
			if _, err := t.exec(`INSERT INTO bag_conditions (bag_id, key, value) VALUES (?, ?, ?)`, g.to, key, value); err != nil {
				return err
			}
		}
		if err := t.refreshBag(g.to, f); err != nil {
			return err
		}
	}
	if err := t.noteChange(by, x.batch, "label of bag "+fmt.Sprint(x.number), string(x.code), string(y.code)); err != nil {
		return err
	}
	return t.noteChange(by, y.batch, "label of bag "+fmt.Sprint(y.number), string(y.code), string(x.code))
}

// freeNumber is a number that no bag of a batch has, for a moment inside a
// transaction.
func (t *tx) freeNumber(batch int64) (int, error) {
	var n int
	err := t.one(`WITH RECURSIVE n(i) AS (SELECT 2000 UNION ALL SELECT i - 1 FROM n WHERE i > 1)
		SELECT coalesce(max(i), 0) FROM n WHERE i NOT IN (SELECT number FROM bags WHERE batch_id = ?)`, []any{batch}, &n)
	if err == nil && n == 0 {
		return 0, grow.Errorf(grow.Conflict, "a batch of %d bags leaves no room for that", grow.MostBags)
	}
	return n, err
}

func (t *tx) noteChange(by Actor, batch int64, field, old, now string) error {
	_, err := t.exec(`INSERT INTO changes (batch_id, field, old, new, at, by_person, device) VALUES (?, ?, ?, ?, ?, ?, ?)`,
		batch, field, old, now, micros(t.now), by.Person, by.Device)
	t.after = append(t.after, t.store.counts.forget)
	return err
}

// NewLabel gives a bag another label: a blank one if given, else a new code.
// The label it had still opens it.
func (s *Store) NewLabel(ctx context.Context, by Actor, bag grow.Code, blank *grow.Code) (code grow.Code, err error) {
	err = s.changing(ctx, func(t *tx, farm *Farm) error {
		g, err := t.bagByCode(bag)
		if err != nil {
			return err
		}
		if blank != nil {
			code, err = *blank, t.takeSpare(*blank)
		} else {
			code, err = t.newCode(grow.BagCode)
		}
		if err != nil {
			return err
		}
		if _, err := t.exec(`INSERT INTO old_codes (code, bag_id) VALUES (?, ?)`, string(g.code), g.id); err != nil {
			return err
		}
		if _, err := t.exec(`UPDATE bags SET code = ? WHERE id = ?`, string(code), g.id); err != nil {
			return err
		}
		if err := t.noteChange(by, g.batch, fmt.Sprintf("label of bag %d", g.number), string(g.code), string(code)); err != nil {
			return err
		}
		return t.refreshBag(g.id, farm)
	})
	return code, err
}

// takeSpare is takeBlank for a label that must be on nothing yet.
func (t *tx) takeSpare(code grow.Code) error {
	_, found, err := t.sterileOf(code)
	if err == nil && found {
		err = grow.Errorf(grow.Conflict, "%s is on a sterile bag of its own; take a label that is on nothing", code.Spaced())
	}
	if err != nil {
		return err
	}
	return t.takeBlank(code)
}

// Bench gives what a device's bench switches say, null if it never said.
func (s *Store) Bench(ctx context.Context, by Actor) (data json.RawMessage, err error) {
	err = s.reading(ctx, func(t *tx) error {
		list, err := t.texts(`SELECT data FROM benches WHERE device_id = ?`, by.DeviceID)
		if len(list) > 0 {
			data = json.RawMessage(list[0])
		}
		return err
	})
	return data, err
}

// PutBench keeps what a device's bench switches say, so that a reload loses
// nothing.
func (s *Store) PutBench(ctx context.Context, by Actor, data json.RawMessage) error {
	return s.writing(ctx, func(t *tx) error {
		_, err := t.exec(`INSERT INTO benches (device_id, data) VALUES (?1, ?2) ON CONFLICT (device_id) DO UPDATE SET data = ?2`, by.DeviceID, string(data))
		return err
	})
}
