package store

import (
	"context"
	"slices"
	"sync"
	"time"

	"bagmark/grow"
)

// mostStale is how many bags are read again one by one; beyond it the whole
// farm is.
const mostStale = 2000

// cachedCounts keeps what is worked out from all bags until something changed
// or the day has turned: the records that the statistics count, and what is due.
// An entry changes one bag, so only that one is read again.
type cachedCounts struct {
	sync.Mutex
	records *records
	farm    *Farm // as which they were read
	on      grow.Date
	stale   map[int64]bool // bags whose records are older than their logs
	due     *keptDue
	changes int
}

// keptDue is what is due on a day.
type keptDue struct {
	items []DueItem
	farm  *Farm
	on    grow.Date
}

// forget is for changes of more than single bags.
func (c *cachedCounts) forget() {
	c.Lock()
	defer c.Unlock()
	c.records, c.stale, c.due = nil, nil, nil
	c.changes++
}

// changed notes that a bag's log has grown.
func (c *cachedCounts) changed(bag int64) {
	c.Lock()
	defer c.Unlock()
	if c.stale == nil {
		c.stale = map[int64]bool{}
	}
	c.stale[bag], c.due = true, nil
	c.changes++
}

// recordsNow are all bags of the farm as the statistics see them. Treat them
// as read-only.
func (s *Store) recordsNow(ctx context.Context, f *Farm) (*records, error) {
	c := &s.counts
	c.Lock()
	defer c.Unlock()
	today := grow.DateOf(s.now(), f.Zone)
	kept := c.records != nil && c.farm == f && c.on == today && len(c.stale) <= mostStale
	if kept && len(c.stale) == 0 {
		return c.records, nil
	}
	var fresh *records
	err := s.reading(ctx, func(t *tx) (err error) {
		if kept {
			fresh, err = t.refreshRecords(f, c.records, c.stale)
		} else {
			fresh, err = t.loadRecords(f)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	c.records, c.farm, c.on, c.stale = fresh, f, today, nil
	return fresh, nil
}

// dueNow is what is kept of what is due, and how many changes there have been;
// false if nothing is kept.
func (s *Store) dueNow(f *Farm, now time.Time) (items []DueItem, changes int, ok bool) {
	c := &s.counts
	c.Lock()
	defer c.Unlock()
	if c.due == nil || c.due.farm != f || c.due.on != grow.DateOf(now, f.Zone) {
		return nil, c.changes, false
	}
	return slices.Clone(c.due.items), c.changes, true
}

// keepDue keeps what is due, worked out when there had been so many changes,
// unless there have been more.
func (s *Store) keepDue(f *Farm, now time.Time, items []DueItem, changes int) {
	c := &s.counts
	c.Lock()
	defer c.Unlock()
	if c.changes == changes {
		c.due = &keptDue{slices.Clone(items), f, grow.DateOf(now, f.Zone)}
	}
}
