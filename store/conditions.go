package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"maps"

	"bagmark/grow"
)

func (t *tx) loadConditions(f *Farm) error {
	return t.each(`SELECT data FROM conditions`, nil, func(rows *sql.Rows) error {
		var data string
		if err := rows.Scan(&data); err != nil {
			return err
		}
		var c grow.Condition
		if err := json.Unmarshal([]byte(data), &c); err != nil {
			return err
		}
		f.Conditions[c.Key] = c
		return nil
	})
}

// PutCondition adds a condition of the farm's own or changes one. A value that
// is on record somewhere cannot be dropped.
func (s *Store) PutCondition(ctx context.Context, by Actor, c grow.Condition) error {
	if c.Shorts == nil {
		c.Shorts = map[string]string{}
	}
	if err := c.Validate(); err != nil {
		return err
	}
	data, err := json.Marshal(c)
	if err != nil {
		return err
	}
	return s.writing(ctx, func(t *tx) error {
		farm, err := t.loadFarm()
		if err != nil {
			return err
		}
		if err := t.keepUsedValues(c); err != nil {
			return err
		}
		if _, err := t.exec(`INSERT INTO conditions (key, data) VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE SET data = ?2`, c.Key, string(data)); err != nil {
			return err
		}
		if err := t.ensureCards([]grow.Condition{c}); err != nil {
			return err
		}
		t.farmChanged()
		farm.Conditions = maps.Clone(farm.Conditions)
		farm.Conditions[c.Key] = c
		if err := t.replayWithCondition(farm, c.Key); err != nil || c.Key != runCondition {
			return err
		}
		return t.alignBatches(farm, by)
	})
}

// keepUsedValues refuses to drop a value that a record holds.
func (t *tx) keepUsedValues(c grow.Condition) error {
	return t.each(`SELECT value FROM batch_conditions WHERE key = ?1
		UNION SELECT value FROM bag_conditions WHERE key = ?1 AND value IS NOT NULL
		UNION SELECT detail ->> '$.value' FROM entries WHERE kind = 'condition' AND detail ->> '$.key' = ?1 AND detail ->> '$.value' IS NOT NULL`,
		[]any{c.Key}, func(rows *sql.Rows) error {
			var v string
			if err := rows.Scan(&v); err != nil {
				return err
			}
			if _, err := c.Value(&v); err != nil {
				p := grow.Problems{"values": "must keep " + v + ", which is on record"}
				return p.Err("this condition cannot be kept as it is")
			}
			return nil
		})
}

// replayWithCondition brings the bags up to date whose log speaks of a
// condition that has changed.
func (t *tx) replayWithCondition(farm *Farm, key string) error {
	var ids []int64
	err := t.each(`SELECT DISTINCT bag_id FROM entries WHERE kind = 'condition' AND detail ->> '$.key' = ?`, []any{key}, func(rows *sql.Rows) error {
		var id int64
		err := rows.Scan(&id)
		ids = append(ids, id)
		return err
	})
	if err != nil {
		return err
	}
	for _, id := range ids {
		if err := t.refreshBag(id, farm); err != nil {
			return err
		}
	}
	return nil
}
