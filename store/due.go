package store

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
)

// DueItem is a bag that is due for something, and what.
type DueItem struct {
	Bag         grow.Code      `json:"bag"`
	Batch       grow.BatchCode `json:"batch"`
	Number      int            `json:"number"`
	Place       *string        `json:"place"`
	Why         grow.Why       `json:"why"`
	Since       grow.Date      `json:"since"`
	Words       string         `json:"words"`
	Short       string         `json:"short"`
	SpeciesName string         `json:"species_name"`
	Day         int            `json:"day"`
	State       grow.State     `json:"state"`

	made time.Time
	task grow.Task
	nags bool // it has no label yet and should
}

// DuePage is a page of bags due, the most pressing first, and how many are due
// for each reason in all.
type DuePage struct {
	AsOf   time.Time        `json:"as_of"`
	Items  []DueItem        `json:"items"`
	Next   *string          `json:"next"`
	Counts map[grow.Why]int `json:"counts"`
}

// Due lists the bags that are due for something today.
func (s *Store) Due(ctx context.Context, after string, limit int) (DuePage, error) {
	page := DuePage{Items: []DueItem{}, Counts: map[grow.Why]int{}}
	limit, err := limitOr(limit)
	if err != nil {
		return page, err
	}
	from := 0
	if after != "" {
		if from, err = strconv.Atoi(after); err != nil || from < 0 {
			p := grow.Problems{"after": "is not a cursor that this list gave"}
			return page, p.Err("the list cannot be given like this")
		}
	}
	all, asOf, err := s.allDue(ctx)
	if err != nil {
		return page, err
	}
	page.AsOf = asOf
	for _, why := range grow.Whys {
		page.Counts[why] = 0
	}
	for _, item := range all {
		page.Counts[item.Why]++
	}
	to := min(from+limit, len(all))
	if from < to {
		page.Items = all[from:to]
	}
	if to < len(all) {
		next := strconv.Itoa(to)
		page.Next = &next
	}
	return page, nil
}

// allDue are all bags due: by reason, then by place, batch and number.
func (s *Store) allDue(ctx context.Context) (items []DueItem, asOf time.Time, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, asOf, err
	}
	items = []DueItem{}
	err = s.reading(ctx, func(t *tx) error {
		asOf = t.now.In(farm.Zone)
		return t.eachInCare(farm, func(p *prospect, g bagRow) error {
			if item, ok := p.of(g, t.now).item(p.batch, g); ok {
				items = append(items, item)
			}
			return nil
		})
	})
	rank := map[grow.Why]int{}
	for i, why := range grow.Whys {
		rank[why] = i
	}
	slices.SortStableFunc(items, func(a, b DueItem) int {
		return cmp.Or(cmp.Compare(rank[a.Why], rank[b.Why]), strings.Compare(placeOf(a), placeOf(b)),
			a.made.Compare(b.made), strings.Compare(string(a.Batch), string(b.Batch)), cmp.Compare(a.Number, b.Number))
	})
	return items, asOf, err
}

func placeOf(i DueItem) string {
	if i.Place == nil {
		return "\uffff" // after every named place
	}
	return strings.ToLower(*i.Place)
}

// eachInCare calls f for every bag in the farm's care, batch by batch.
func (t *tx) eachInCare(f *Farm, do func(*prospect, bagRow) error) error {
	batches, err := t.batches(f, `EXISTS (SELECT 1 FROM bags g WHERE g.batch_id = b.id AND g.state NOT IN ('finished', 'culled')) ORDER BY b.inoculated_at, b.code`)
	if err != nil {
		return err
	}
	for _, b := range batches {
		bags, err := t.bagRows(`g.batch_id = ? AND g.state NOT IN ('finished', 'culled') ORDER BY g.number`, b.row)
		if err != nil {
			return err
		}
		sisters, err := t.sisterSpans(b, f.Zone)
		if err != nil {
			return err
		}
		p, err := t.prospect(f, b, sisters)
		if err != nil {
			return err
		}
		for _, g := range bags {
			if err := do(p, g); err != nil {
				return err
			}
		}
	}
	return nil
}
