package store

import (
	"maps"
	"slices"
	"strconv"
	"strings"

	"bagmark/grow"
	"bagmark/grow/trace"
)

// refreshRecords are records with some bags read again. Those before stay as
// they are: somebody may be counting them.
func (t *tx) refreshRecords(f *Farm, old *records, stale map[int64]bool) (*records, error) {
	r := &records{bags: slices.Clone(old.bags), batches: old.batches, at: t.now, places: old.places}
	ids := make([]string, 0, len(stale))
	for _, id := range slices.Sorted(maps.Keys(stale)) {
		ids = append(ids, strconv.FormatInt(id, 10))
	}
	list := strings.Join(ids, ",") // numbers only
	batches, err := t.batches(f, `b.id IN (SELECT batch_id FROM bags WHERE id IN (`+list+`))`)
	if err != nil {
		return nil, err
	}
	byRow := map[int64]Batch{}
	for _, b := range batches {
		byRow[b.row] = b
	}
	rows, err := t.bagRows(`g.given_back_at IS NULL AND g.id IN (` + list + `)`)
	if err != nil {
		return nil, err
	}
	if r.units, err = t.unitsUsed(); err != nil {
		return nil, err
	}
	var changed []int
	for _, g := range rows {
		b, i := byRow[g.batch], old.places[g.id]
		record := f.record(b, g, r.bags[i].bag.Horizon, t.now)
		record.own = r.bags[i].own // how it was made does not change by its log
		r.bags[i] = record
		changed = append(changed, i)
	}
	r.carry(f, old, changed)
	return r, nil
}

// carry takes over what was worked out from older records, put right where bags
// have changed. Answers are not taken over.
func (r *records) carry(f *Farm, old *records, changed []int) {
	old.memo.mu.Lock()
	defer old.memo.mu.Unlock()
	r.memo.columns = make(map[string]trace.Column, len(old.memo.columns))
	for key, c := range old.memo.columns {
		own := false // the values are shared with the older column until one differs
		for _, i := range changed {
			e := c.Values[i]
			if _, ok := f.Conditions[key]; ok || key == grow.SpawnJarKey {
				e = r.exposure(r.bags[i], key)
			}
			if e == c.Values[i] {
				continue
			}
			if !own {
				c.Values, own = slices.Clone(c.Values), true
			}
			c.Values[i] = e
		}
		r.memo.columns[key] = c
	}
	if old.memo.bags != nil {
		r.memo.bags = slices.Clone(old.memo.bags)
		for _, i := range changed {
			r.memo.bags[i] = r.bags[i].bag
		}
	}
}
