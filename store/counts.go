package store

import (
	"context"
	"sync"

	"bagmark/grow"
)

// cachedCounts keeps the records that the statistics count until something
// changed or the day has turned.
type cachedCounts struct {
	sync.Mutex
	records *records
	farm    *Farm // as which they were read
	on      grow.Date
}

func (c *cachedCounts) forget() {
	c.Lock()
	c.records = nil
	c.Unlock()
}

// recordsNow are all bags of the farm as the statistics see them. Treat them
// as read-only.
func (s *Store) recordsNow(ctx context.Context, f *Farm) (*records, error) {
	s.counts.Lock()
	defer s.counts.Unlock()
	today := grow.DateOf(s.now(), f.Zone)
	if s.counts.records != nil && s.counts.farm == f && s.counts.on == today {
		return s.counts.records, nil
	}
	err := s.reading(ctx, func(t *tx) (err error) {
		s.counts.records, err = t.loadRecords(f)
		return err
	})
	s.counts.farm, s.counts.on = f, today
	return s.counts.records, err
}
