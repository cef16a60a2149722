package store

import (
	"context"
	"database/sql"
	"fmt"

	"bagmark/grow"
)

// WatchFor is a bag that is on watch because of another one, and the entry that
// put it there.
type WatchFor struct {
	Bag   grow.Code
	Name  string // KING-260302 #7
	Entry grow.ID
}

// WatchesFor are the living bags that are on watch because of a bag, by any
// label that it has carried.
func (s *Store) WatchesFor(ctx context.Context, code grow.Code) (out []WatchFor, err error) {
	err = s.reading(ctx, func(t *tx) error {
		id, err := t.bagID(code)
		if err != nil {
			return err
		}
		// The newest entry that still counts is the one behind the watch.
		return t.each(`WITH of(code) AS (SELECT code FROM bags WHERE id = ?1 UNION SELECT code FROM old_codes WHERE bag_id = ?1)
			SELECT g.code, b.code, g.number, (SELECT e.id FROM entries e WHERE e.bag_id = g.id AND e.kind = 'watch' AND e.detail ->> '$.of' IN of
				AND NOT EXISTS (SELECT 1 FROM entries v WHERE v.bag_id = g.id AND v.kind = 'void' AND v.detail ->> '$.entry' = e.id)
				ORDER BY e.at DESC, e.seq DESC LIMIT 1) AS entry
			FROM bags g JOIN batches b ON b.id = g.batch_id
			WHERE g.state NOT IN ('finished', 'culled') AND g.status ->> '$.watch.of' IN of AND entry IS NOT NULL ORDER BY b.inoculated_at, b.id, g.number`,
			[]any{id}, func(rows *sql.Rows) error {
				var w WatchFor
				var batch string
				var number int
				err := rows.Scan(&w.Bag, &batch, &number, &w.Entry)
				w.Name = fmt.Sprintf("%s #%d", batch, number)
				out = append(out, w)
				return err
			})
	})
	return out, err
}
