package store

import (
	"cmp"
	"context"
	"slices"

	"bagmark/grow"
)

// Parting is bags that went to one person or shop on one day.
type Parting struct {
	On   grow.Date  `json:"on"`
	Why  string     `json:"why"` // sold or given
	To   *string    `json:"to"`  // nil where nobody said
	Bags []Recalled `json:"bags"`
}

// Sold lists what was sold and given away, the latest first. from and to are
// days of that, inclusive.
func (s *Store) Sold(ctx context.Context, from, to *grow.Date) ([]Parting, error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	out := []Parting{}
	err = s.reading(ctx, func(t *tx) error {
		bags, err := t.recalled(farm, `g.state = 'finished' AND g.status ->> '$.ended_why' IN ('sold', 'given')`)
		for _, g := range bags {
			if on := *g.EndedOn; (from == nil || on >= *from) && (to == nil || on <= *to) {
				out = addParting(out, g)
			}
		}
		return err
	})
	slices.SortStableFunc(out, func(a, b Parting) int {
		return cmp.Or(cmp.Compare(b.On, a.On), cmp.Compare(a.Why, b.Why), cmp.Compare(textOf(a.To), textOf(b.To)))
	})
	return out, err
}

func addParting(list []Parting, g Recalled) []Parting {
	i := slices.IndexFunc(list, func(p Parting) bool {
		return p.On == *g.EndedOn && p.Why == *g.EndedWhy && textOf(p.To) == textOf(g.To)
	})
	if i < 0 {
		i, list = len(list), append(list, Parting{On: *g.EndedOn, Why: *g.EndedWhy, To: g.To})
	}
	list[i].Bags = append(list[i].Bags, g)
	return list
}

// RecallBatch lists where the bags of one batch are now.
func (s *Store) RecallBatch(ctx context.Context, code grow.BatchCode) (out Recall, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, err
	}
	out = Recall{Of: string(code), Lots: []LotNode{}, Maybe: []Recalled{}, Sterile: []SterileBag{}}
	err = s.reading(ctx, func(t *tx) error {
		b, err := t.batchByCode(farm, code)
		if err != nil {
			return err
		}
		out.Bags, err = t.recalled(farm, `g.batch_id = ?`, b.row)
		return err
	})
	return out, err
}
