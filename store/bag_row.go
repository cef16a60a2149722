package store

import (
	"database/sql"
	"encoding/json"
	"time"

	"bagmark/grow"
)

// bagRow is a bag as it is kept: its status is what replaying its log gave.
type bagRow struct {
	id     int64
	batch  int64
	number int
	code   grow.Code
	status grow.Status
}

// bagRows reads the bags that a WHERE … ORDER BY … clause picks.
func (t *tx) bagRows(where string, args ...any) ([]bagRow, error) {
	var out []bagRow
	err := t.each(`SELECT g.id, g.batch_id, g.number, g.code, g.status FROM bags g WHERE `+where, args, func(rows *sql.Rows) error {
		var g bagRow
		var status []byte
		if err := rows.Scan(&g.id, &g.batch, &g.number, &g.code, &status); err != nil {
			return err
		}
		err := json.Unmarshal(status, &g.status)
		out = append(out, g)
		return err
	})
	return out, err
}

// saveStatus keeps what replaying a bag's log gave, and the columns drawn from
// it that lists and statistics read. Whoever saves other looks at its growth
// than before also calls looksChanged.
func (t *tx) saveStatus(bag int64, s grow.Status) error {
	text, err := json.Marshal(s)
	if err != nil {
		return err
	}
	_, err = t.exec(`UPDATE bags SET state = ?, status = ?, contaminated_at = ?, started_at = ?, not_yet_at = ?, grown_over_at = ?, last_clean_at = ?, last_seen_at = ?, ended_at = ? WHERE id = ?`,
		string(s.State), string(text), contaminatedAt(s), microsOr(s.StartedAt), microsOr(s.NotYetAt), microsOr(s.GrownOverAt),
		microsOr(s.LastCleanAt), microsOr(s.LastSeenAt), microsOr(s.EndedAt), bag)
	return err
}

func contaminatedAt(s grow.Status) *int64 {
	if s.Contaminated == nil {
		return nil
	}
	return microsOr(&s.Contaminated.At)
}

// start is what a bag has before its log begins.
func (t *tx) start(bag int64) (grow.Start, error) {
	var b Batch
	var changed *int64
	err := t.one(`SELECT b.id, b.label_changed_at, (SELECT name FROM places WHERE id = b.place_id) FROM bags g JOIN batches b ON b.id = g.batch_id WHERE g.id = ?`,
		[]any{bag}, &b.row, &changed, &b.Place)
	if err != nil {
		return grow.Start{}, err
	}
	if changed != nil {
		at := time.UnixMicro(*changed)
		b.labelChangedAt = &at
	}
	if b.Conditions, err = t.batchConditions(b.row); err != nil {
		return grow.Start{}, err
	}
	own, err := t.ownConditionsOf(bag)
	return b.start(own), err
}

// ownConditionsOf are a bag's own conditions at making.
func (t *tx) ownConditionsOf(bag int64) (map[string]*string, error) {
	out := map[string]*string{}
	err := t.each(`SELECT key, value FROM bag_conditions WHERE bag_id = ?`, []any{bag}, func(rows *sql.Rows) error {
		var key string
		var value *string
		err := rows.Scan(&key, &value)
		out[key] = value
		return err
	})
	return out, err
}

// ownConditionsOfBatch are the same for all bags of a batch, by bag.
func (t *tx) ownConditionsOfBatch(batch int64) (map[int64]map[string]*string, error) {
	out := map[int64]map[string]*string{}
	err := t.each(`SELECT c.bag_id, c.key, c.value FROM bag_conditions c JOIN bags g ON g.id = c.bag_id WHERE g.batch_id = ?`, []any{batch}, func(rows *sql.Rows) error {
		var bag int64
		var key string
		var value *string
		err := rows.Scan(&bag, &key, &value)
		if out[bag] == nil {
			out[bag] = map[string]*string{}
		}
		out[bag][key] = value
		return err
	})
	return out, err
}

// replayBag gives what the log of a bag says, from the log itself.
func (t *tx) replayBag(bag int64, conditions grow.Conditions) (grow.Status, error) {
	start, err := t.start(bag)
	if err != nil {
		return grow.Status{}, err
	}
	log, err := t.log(bag)
	if err != nil {
		return grow.Status{}, err
	}
	return grow.Replay(start, log, conditions), nil
}

// refreshBag replays a bag and keeps what that gives.
func (t *tx) refreshBag(bag int64, conditions grow.Conditions) error {
	status, err := t.replayBag(bag, conditions)
	if err != nil {
		return err
	}
	t.looksChanged(0)
	return t.saveStatus(bag, status)
}

// refreshBatch does so for every bag of a batch.
func (t *tx) refreshBatch(batch int64, conditions grow.Conditions) error {
	bags, err := t.bagRows(`g.batch_id = ?`, batch)
	if err != nil {
		return err
	}
	for _, g := range bags {
		if err := t.refreshBag(g.id, conditions); err != nil {
			return err
		}
	}
	return nil
}
