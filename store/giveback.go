package store

import (
	"context"
	"errors"
	"fmt"

	"bagmark/grow"
)

// GiveBack undoes that a batch took a label printed ahead, while nothing is in the
// bag's log but a mark that was taken back: the label is a blank again, or on a
// sterile bag that waits. The bag that never was is culled as a mistake; its log stays, and it is counted nowhere. Ids are
// for the entries that say so.
func (s *Store) GiveBack(ctx context.Context, by Actor, label grow.Code, ids [2]grow.ID) error {
	return s.changing(ctx, func(t *tx, farm *Farm) error {
		g, err := t.bagByCode(label)
		if err != nil {
			return err
		}
		b, err := t.batch(farm, `b.id = ?`, g.batch)
		if err != nil {
			return err
		}
		if err := t.mayGiveBack(g, label); err != nil {
			return err
		}
		r, err := t.addOne(farm, by, grow.Draft{ID: ids[0], Bag: label, Kind: grow.KindCull, Details: grow.Details{Why: "mistake"}})
		if err = errors.Join(err, r.Err); err != nil {
			return err
		}
		if err := t.unlabel(g, label); err != nil {
			return err
		}
		if _, err := t.exec(`UPDATE batches SET bags = bags - 1 WHERE id = ?`, g.batch); err != nil {
			return err
		}
		t.looksChanged(0)
		t.after = append(t.after, t.store.counts.forget)
		return t.noteGivenBack(farm, by, label, ids[1], fmt.Sprintf("Scanned at the bench by mistake as %s #%d, and given back.", b.Code, g.number))
	})
}

// mayGiveBack refuses a bag of which more is known than that it was scanned.
func (t *tx) mayGiveBack(g bagRow, label grow.Code) error {
	log, err := t.log(g)
	if err != nil {
		return err
	}
	var more int
	err = t.one(`SELECT (SELECT count(*) FROM old_codes WHERE bag_id = ?1) + (SELECT count(*) FROM sightings WHERE bag_id = ?1)`, []any{g.id}, &more)
	if err != nil {
		return err
	}
	voided := map[grow.ID]bool{}
	for _, e := range log {
		voided[e.Entry] = voided[e.Entry] || e.Kind == grow.KindVoid
	}
	for _, e := range log {
		scanned := e.Kind == grow.KindMarked || e.Kind == grow.KindCondition
		if e.Kind != grow.KindVoid && !(scanned && voided[e.ID]) {
			more++
		}
	}
	if more > 0 || g.code != label {
		return grow.Errorf(grow.Conflict, "more is known of this bag by now than that it was scanned at the bench; it stays in its batch")
	}
	return nil
}

// unlabel takes the label off the bag that never was and moves its number out of
// the way of the next one's.
func (t *tx) unlabel(g bagRow, label grow.Code) error {
	number, err := t.freeNumber(g.batch)
	if err != nil {
		return err
	}
	code, err := t.newCode(grow.BagCode)
	if err != nil {
		return err
	}
	if _, err := t.exec(`UPDATE bags SET code = ?, number = ?, given_back_at = ? WHERE id = ?`, string(code), number, micros(t.now), g.id); err != nil {
		return err
	}
	if _, err := t.exec(`UPDATE sterile_bags SET bag_id = NULL WHERE code = ?`, string(label)); err != nil {
		return err
	}
	_, err = t.exec(`UPDATE codes SET kind = 'blank' WHERE code = ?`, string(label))
	return err
}

// noteGivenBack says so in the log of a sterile bag; an ordinary blank has none.
func (t *tx) noteGivenBack(f *Farm, by Actor, label grow.Code, id grow.ID, words string) error {
	_, sterile, err := t.sterileOf(label)
	if err != nil || !sterile {
		return err
	}
	_, _, err = t.addStock(f, by, grow.Draft{ID: id, Bag: label, Kind: grow.KindNote, Details: grow.Details{Text: words}})
	return err
}
