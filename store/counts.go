package store

import (
	"context"
	"sync"

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
	due     keptDue
	changes int
}

// forget is for changes of more than single bags.
func (c *cachedCounts) forget() {
	c.Lock()
	defer c.Unlock()
	c.records, c.stale, c.due = nil, nil, keptDue{}
	c.changes++
}

// changed notes that the log of a bag of a batch has grown.
func (c *cachedCounts) changed(bag, batch int64) {
	c.Lock()
	defer c.Unlock()
	if c.stale == nil {
		c.stale = map[int64]bool{}
	}
	c.stale[bag] = true
	c.due.forgetBatch(batch)
	c.changes++
}

// airChanged notes that forecasts have changed though no bag has.
func (c *cachedCounts) airChanged() {
	c.Lock()
	defer c.Unlock()
	c.due = keptDue{}
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
