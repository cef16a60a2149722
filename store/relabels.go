package store

import (
	"context"
	"database/sql"
	"time"

	"bagmark/grow"
)

// Relabel is a label that was put right: it changed places with another, or it
// took the place of one that was lost.
type Relabel struct {
	At   time.Time
	By   string
	Old  grow.Code // the label that this is about
	New  grow.Code // the one that hangs in its place since
	Was  string    // the bag it was on: KING-260302 #7
	Is   string    // the bag it is on since, "" where it is on none
	Swap bool      // New hangs where Old was, and Old where New was
}

// Relabels are those of a bag's labels, newest first.
func (s *Store) Relabels(ctx context.Context, code grow.Code) (out []Relabel, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	err = s.reading(ctx, func(t *tx) error {
		id, err := t.bagID(code)
		if err != nil {
			return err
		}
		// A swap is on record twice, once for each place, in the same moment.
		return t.each(`SELECT c.at, c.by_person, c.old, c.new, b.code || ' #' || substr(c.field, 14), coalesce(d.code || ' #' || substr(o.field, 14), '')
			FROM changes c JOIN batches b ON b.id = c.batch_id
			LEFT JOIN changes o ON o.old = c.new AND o.new = c.old AND o.at = c.at AND o.field LIKE 'label of bag %'
			LEFT JOIN batches d ON d.id = o.batch_id
			WHERE c.field LIKE 'label of bag %' AND c.old IN (SELECT code FROM bags WHERE id = ?1 UNION SELECT code FROM old_codes WHERE bag_id = ?1)
			ORDER BY c.id DESC`, []any{id}, func(rows *sql.Rows) error {
			var r Relabel
			var at int64
			err := rows.Scan(&at, &r.By, &r.Old, &r.New, &r.Was, &r.Is)
			r.At, r.Swap = instant(at, farm.Zone), r.Is != ""
			out = append(out, r)
			return err
		})
	})
	return out, err
}
