package store

import (
	"context"
	"database/sql"
	"fmt"
	"strconv"
	"strings"

	"bagmark/grow"
)

// BatchFilter picks batches. Zero fields pick all; From and To are dates of
// inoculation, inclusive; State asks for at least one bag in it.
type BatchFilter struct {
	Species  grow.Slug
	State    grow.State
	LabDay   string
	From, To *grow.Date
	After    string
	Limit    int
}

// BatchPage is a page of batches and the cursor of the next one.
type BatchPage struct {
	Batches []Batch `json:"batches"`
	Next    *string `json:"next"`
}

// clause is a WHERE clause under way.
type clause struct {
	terms []string
	args  []any
}

func (c *clause) add(term string, args ...any) {
	c.terms = append(c.terms, term)
	c.args = append(c.args, args...)
}

func (c *clause) String() string {
	if len(c.terms) == 0 {
		return "1"
	}
	return strings.Join(c.terms, " AND ")
}

// Batches lists batches, newest inoculation first, then by code.
func (s *Store) Batches(ctx context.Context, q BatchFilter) (BatchPage, error) {
	page := BatchPage{Batches: []Batch{}}
	farm, err := s.Farm(ctx)
	if err != nil {
		return page, err
	}
	limit, err := limitOr(q.Limit)
	if err != nil {
		return page, err
	}
	where, err := q.clause(farm)
	if err != nil {
		return page, err
	}
	err = s.reading(ctx, func(t *tx) error {
		page.Batches, err = t.batches(farm, where.String()+fmt.Sprintf(` ORDER BY b.inoculated_at DESC, b.code LIMIT %d`, limit+1), where.args...)
		return err
	})
	if len(page.Batches) > limit {
		page.Batches = page.Batches[:limit]
		last := page.Batches[limit-1]
		next := strconv.FormatInt(micros(last.InoculatedAt), 10) + "." + string(last.Code)
		page.Next = &next
	}
	return page, err
}

func (q BatchFilter) clause(f *Farm) (clause, error) {
	var w clause
	var p grow.Problems
	if q.Species != "" {
		if !f.Knows(q.Species) {
			p.Add("species", "%q is not a species this farm knows", q.Species)
		}
		w.add(`b.species = ?`, string(q.Species))
	}
	if q.State != "" {
		if !isState(q.State) {
			p.Add("state", "must be one of %v", grow.States)
		}
		w.add(`EXISTS (SELECT 1 FROM bags g WHERE g.batch_id = b.id AND g.given_back_at IS NULL AND g.state = ?)`, string(q.State))
	}
	if q.LabDay != "" {
		w.add(`b.lab_day = ?`, q.LabDay)
	}
	w.dates(f, q.From, q.To)
	if q.After != "" {
		us, code, ok := strings.Cut(q.After, ".")
		at, err := strconv.ParseInt(us, 10, 64)
		if !ok || err != nil {
			p.Add("after", "is not a cursor that this list gave")
		}
		w.add(`(b.inoculated_at < ? OR b.inoculated_at = ? AND b.code > ?)`, at, at, code)
	}
	return w, p.Err("the list cannot be given like this")
}

// dates picks batches inoculated on dates of the farm's zone, both included.
func (c *clause) dates(f *Farm, from, to *grow.Date) {
	if from != nil {
		c.add(`b.inoculated_at >= ?`, micros(from.In(f.Zone, 0)))
	}
	if to != nil {
		c.add(`b.inoculated_at < ?`, micros((*to+1).In(f.Zone, 0)))
	}
}

func isState(s grow.State) bool {
	for _, known := range grow.States {
		if s == known {
			return true
		}
	}
	return false
}

// LabDay is what was made in one go.
type LabDay struct {
	Name    string    `json:"name"`
	Date    grow.Date `json:"date"`
	Batches []Batch   `json:"batches"`
}

// LabDays lists lab days, newest first.
func (s *Store) LabDays(ctx context.Context, limit int) ([]LabDay, error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	if limit, err = limitOr(limit); err != nil {
		return nil, err
	}
	out := []LabDay{}
	err = s.reading(ctx, func(t *tx) error {
		names, err := t.texts(`SELECT lab_day FROM batches WHERE lab_day IS NOT NULL GROUP BY lab_day ORDER BY max(inoculated_at) DESC LIMIT ?`, limit)
		if err != nil {
			return err
		}
		for _, name := range names {
			batches, err := t.batches(farm, `b.lab_day = ? ORDER BY b.id`, name)
			if err != nil {
				return err
			}
			out = append(out, LabDay{Name: name, Date: grow.DateOf(batches[0].InoculatedAt, farm.Zone), Batches: batches})
		}
		return nil
	})
	return out, err
}

// texts reads a list of texts.
func (t *tx) texts(query string, args ...any) (out []string, err error) {
	err = t.each(query, args, func(rows *sql.Rows) error {
		var v string
		err := rows.Scan(&v)
		out = append(out, v)
		return err
	})
	return out, err
}

// LastHead is what the newest batch of a lab day was made with, for "like the last
// one". Bags taken up from the racks or a spreadsheet were made on no lab day, and
// little is known of them.
func (s *Store) LastHead(ctx context.Context) (fields grow.BatchFields, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return fields, err
	}
	err = s.reading(ctx, func(t *tx) error {
		b, err := t.batch(farm, `b.lab_day IS NOT NULL ORDER BY b.id DESC LIMIT 1`)
		fields = b.Fields()
		return err
	})
	return fields, err
}
