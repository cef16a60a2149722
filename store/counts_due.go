package store

import (
	"maps"
	"slices"
	"time"

	"bagmark/grow"
)

// keptDue is what is due on a day: all of it in order until anything changes,
// and batch by batch until something of that batch does.
type keptDue struct {
	farm    *Farm
	on      grow.Date
	all     []DueItem // nil if not kept
	batches map[int64]batchDue
}

// batchDue is what is due of one batch. It rests on the batch's own bags and on
// the law of their days, which others change.
type batchDue struct {
	items  []DueItem
	others int // changes that other batches had made to laws
}

func (k *keptDue) forgetBatch(batch int64) {
	k.all = nil
	delete(k.batches, batch)
}

// dueCount works out what is due, taking over what is kept.
type dueCount struct {
	farm    *Farm
	changes int             // of bags, when it began
	laws    func(int64) int // changes of laws by others than a batch, when it began
	kept    map[int64]batchDue
	now     map[int64]batchDue
}

// dueNow is all that is due, if that is kept; else the count that works it out.
func (s *Store) dueNow(f *Farm, now time.Time) ([]DueItem, *dueCount) {
	laws := s.laws.byOthers()
	c := &s.counts
	c.Lock()
	defer c.Unlock()
	count := &dueCount{farm: f, changes: c.changes, laws: laws, now: map[int64]batchDue{}}
	if c.due.farm != f || c.due.on != grow.DateOf(now, f.Zone) {
		return nil, count
	}
	if c.due.all != nil {
		return slices.Clone(c.due.all), nil
	}
	count.kept = maps.Clone(c.due.batches)
	return nil, count
}

// of is what is kept of a batch.
func (d *dueCount) of(batch int64) ([]DueItem, bool) {
	k, ok := d.kept[batch]
	if ok = ok && k.others == d.laws(batch); ok {
		d.now[batch] = k
	}
	return k.items, ok
}

// note keeps what was worked out of a batch.
func (d *dueCount) note(batch int64, items []DueItem) {
	d.now[batch] = batchDue{items, d.laws(batch)}
}

// keepDue keeps a count, unless bags have changed since it began.
func (s *Store) keepDue(d *dueCount, now time.Time, all []DueItem) {
	c := &s.counts
	c.Lock()
	defer c.Unlock()
	if c.changes == d.changes {
		c.due = keptDue{farm: d.farm, on: grow.DateOf(now, d.farm.Zone), all: slices.Clone(all), batches: d.now}
	}
}

// byOthers gives the changes of laws that others than a batch have made by now.
func (c *cachedLaws) byOthers() func(batch int64) int {
	c.Lock()
	defer c.Unlock()
	changes, of := c.changes, maps.Clone(c.of)
	return func(batch int64) int { return changes - of[batch] }
}
