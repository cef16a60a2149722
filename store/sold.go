package store

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"strings"

	"bagmark/grow"
)

// Parting is bags that went to one person or shop on one day.
type Parting struct {
	On   grow.Date  `json:"on"`
	Why  string     `json:"why"` // sold or given
	To   *string    `json:"to"`  // nil where nobody said
	Bags []Recalled `json:"bags"`
}

// compare sorts partings: the latest first, those of a day by why and to whom.
func (p Parting) compare(o Parting) int {
	return cmp.Or(cmp.Compare(o.On, p.On), cmp.Compare(p.Why, o.Why), cmp.Compare(textOf(p.To), textOf(o.To)))
}

// SoldFilter picks partings. From and To are days of them, inclusive.
type SoldFilter struct {
	From, To *grow.Date
	After    string
	Limit    int
}

// SoldPage is a page of partings and the cursor of the next one.
type SoldPage struct {
	Partings []Parting `json:"partings"`
	Next     *string   `json:"next"`
}

// Sold lists what was sold and given away, the latest first.
func (s *Store) Sold(ctx context.Context, q SoldFilter) (SoldPage, error) {
	page := SoldPage{Partings: []Parting{}}
	farm, err := s.Farm(ctx)
	if err != nil {
		return page, err
	}
	limit, err := limitOr(q.Limit)
	if err != nil {
		return page, err
	}
	after, err := partingAfter(q.After)
	if err != nil {
		return page, err
	}
	if after != nil && (q.To == nil || after.On < *q.To) {
		q.To = &after.On
	}
	err = s.reading(ctx, func(t *tx) error {
		page.Partings, err = t.partings(farm, q, after, limit)
		return err
	})
	if len(page.Partings) > limit {
		page.Partings = page.Partings[:limit]
		last := page.Partings[limit-1]
		page.Next = new(strings.Join([]string{last.On.String(), last.Why, textOf(last.To)}, "."))
	}
	return page, err
}

// partingAfter reads a cursor; nil for none.
func partingAfter(text string) (*Parting, error) {
	if text == "" {
		return nil, nil
	}
	day, rest, _ := strings.Cut(text, ".")
	why, to, whole := strings.Cut(rest, ".")
	on, err := grow.ParseDate(day)
	if err != nil || !whole {
		p := grow.Problems{"after": "is not a cursor that this list gave"}
		return nil, p.Err("the list cannot be given like this")
	}
	return &Parting{On: on, Why: why, To: textOr(to)}, nil
}

// partings reads back from the latest day, in spans of days that grow, until there
// are more than limit or none are older.
func (t *tx) partings(f *Farm, q SoldFilter, after *Parting, limit int) ([]Parting, error) {
	first, last, err := t.partingDays(f)
	if err != nil || first == nil {
		return []Parting{}, err
	}
	if q.From != nil && *q.From > *first {
		first = q.From
	}
	if q.To != nil && *q.To < *last {
		last = q.To
	}
	out := []Parting{}
	for until, span := *last+1, grow.Date(14); until > *first && len(out) <= limit; span *= 2 {
		from := max(*first, until-span)
		bags, err := t.recalled(f, `g.state = 'finished' AND g.ended_at >= ? AND g.ended_at < ? AND g.status ->> '$.ended_why' IN ('sold', 'given')`,
			micros(from.In(f.Zone, 0)), micros(until.In(f.Zone, 0)))
		if err != nil {
			return nil, err
		}
		for _, p := range partingsOf(bags) {
			if after == nil || p.compare(*after) > 0 {
				out = append(out, p)
			}
		}
		until = from
	}
	return out, nil
}

// partingDays are the first and the last day on which a bag left in the ordinary
// way; nil where none did.
func (t *tx) partingDays(f *Farm) (first, last *grow.Date, err error) {
	var from, to *int64
	err = t.each(`SELECT min(ended_at), max(ended_at) FROM bags WHERE state = 'finished'`, nil, func(rows *sql.Rows) error { return rows.Scan(&from, &to) })
	if err != nil || from == nil {
		return nil, nil, err
	}
	a, b := grow.DateOf(instant(*from, f.Zone), f.Zone), grow.DateOf(instant(*to, f.Zone), f.Zone)
	return &a, &b, nil
}

// partingsOf puts together the bags that went to one on one day.
func partingsOf(bags []Recalled) []Parting {
	type key struct {
		on      grow.Date
		why, to string
	}
	at, out := map[key]int{}, []Parting{}
	for _, g := range bags {
		k := key{*g.EndedOn, *g.EndedWhy, textOf(g.To)}
		i, known := at[k]
		if !known {
			i, out = len(out), append(out, Parting{On: k.on, Why: k.why, To: g.To})
			at[k] = i
		}
		out[i].Bags = append(out[i].Bags, g)
	}
	slices.SortFunc(out, Parting.compare)
	return out
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
		out.Picked = PickedFrom(out.Bags)
		return err
	})
	return out, err
}
