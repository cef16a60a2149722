package store

import (
	"cmp"
	"context"
	"encoding/base64"
	"encoding/json"
	"slices"
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

	made  time.Time
	task  grow.Task
	nags  bool // it has no label yet and should
	keeps grow.Keeps
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
	last, err := parseDueMark(after)
	if err != nil {
		return page, err
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
	all = slices.DeleteFunc(all, func(i DueItem) bool { return i.mark().compare(last) <= 0 })
	page.Items = all[:min(limit, len(all))]
	if len(all) > limit {
		next := all[limit-1].mark().String()
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
	asOf = s.now().In(farm.Zone)
	items, count := s.dueNow(farm, asOf)
	if count == nil {
		return items, asOf, nil
	}
	items = []DueItem{}
	err = s.reading(ctx, func(t *tx) error {
		asOf = t.now.In(farm.Zone)
		batches, err := t.batchesInCare(farm)
		for _, b := range batches {
			if err != nil {
				break
			}
			of, kept := count.of(b.row)
			if !kept {
				of, err = t.dueOf(farm, b)
				count.note(b.row, of)
			}
			items = append(items, of...)
		}
		return err
	})
	slices.SortStableFunc(items, func(a, b DueItem) int { return a.mark().compare(b.mark()) })
	if err == nil {
		s.keepDue(count, asOf, items)
	}
	return items, asOf, err
}

// dueOf is what is due of one batch.
func (t *tx) dueOf(f *Farm, b Batch) (items []DueItem, err error) {
	err = t.eachOf(f, b, func(p *prospect, g bagRow) error {
		if item, ok := p.of(g, t.now).item(p.batch, g); ok {
			items = append(items, item)
		}
		return nil
	})
	return items, err
}

// dueMark is a bag's place in the list, which is a cursor too: what was done
// meanwhile moves no other bag over it.
type dueMark struct {
	Why    int            `json:"w"`
	Place  string         `json:"p"`
	Made   int64          `json:"m"`
	Batch  grow.BatchCode `json:"b"`
	Number int            `json:"n"`
}

func (i DueItem) mark() dueMark {
	place := "\uffff" // after every named place
	if i.Place != nil {
		place = strings.ToLower(*i.Place)
	}
	return dueMark{slices.Index(grow.Whys, i.Why), place, micros(i.made), i.Batch, i.Number}
}

func (m dueMark) compare(o dueMark) int {
	return cmp.Or(cmp.Compare(m.Why, o.Why), strings.Compare(m.Place, o.Place), cmp.Compare(m.Made, o.Made),
		cmp.Compare(m.Batch, o.Batch), cmp.Compare(m.Number, o.Number))
}

func (m dueMark) String() string {
	text, err := json.Marshal(m)
	if err != nil {
		panic("store: a place in the list of bags due always has a JSON form: " + err.Error())
	}
	return base64.RawURLEncoding.EncodeToString(text)
}

// parseDueMark reads a cursor; "" stands before every bag.
func parseDueMark(cursor string) (m dueMark, err error) {
	if cursor == "" {
		return m, nil
	}
	text, err := base64.RawURLEncoding.DecodeString(cursor)
	if err == nil {
		err = json.Unmarshal(text, &m)
	}
	if err != nil {
		p := grow.Problems{"after": "is not a cursor that this list gave"}
		return m, p.Err("the list cannot be given like this")
	}
	return m, nil
}

// eachInCare calls f for every bag in the farm's care, batch by batch.
func (t *tx) eachInCare(f *Farm, do func(*prospect, bagRow) error) error {
	batches, err := t.batchesInCare(f)
	if err != nil {
		return err
	}
	for _, b := range batches {
		if err := t.eachOf(f, b, do); err != nil {
			return err
		}
	}
	return nil
}

func (t *tx) batchesInCare(f *Farm) ([]Batch, error) {
	return t.batches(f, `EXISTS (SELECT 1 FROM bags g WHERE g.batch_id = b.id AND g.state NOT IN ('finished', 'culled')) ORDER BY b.inoculated_at, b.code`)
}

// eachOf calls do for every bag of a batch in the farm's care.
func (t *tx) eachOf(f *Farm, b Batch, do func(*prospect, bagRow) error) error {
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
	return nil
}
