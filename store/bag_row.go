package store

import (
	"database/sql"
	"encoding/json"
	"errors"
	"runtime"
	"sync"
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

	madePlace  string // where it stood before its log begins, "" for with its batch
	madeMarked *time.Time
}

// bagRows reads the bags that a WHERE … ORDER BY … clause picks.
func (t *tx) bagRows(where string, args ...any) ([]bagRow, error) {
	var out []bagRow
	err := t.eachBagRows(where, args, func(bags []bagRow) error {
		out = append(out, bags...)
		return nil
	})
	return out, err
}

// readTogether is how many bags of a large farm are read at once: decoding their
// statuses is most of the work, so all processors share it.
const readTogether = 4096

// bagBlock is some bags whose statuses are being decoded.
type bagBlock struct {
	bags     []bagRow
	statuses [][]byte
	decoded  chan error
}

// eachBagRows calls do for some of the bags at a time. It may keep the bags, but
// not the slice. While one block is decoded the next is read.
func (t *tx) eachBagRows(where string, args []any, do func([]bagRow) error) error {
	reading, decoding := &bagBlock{}, &bagBlock{}
	finish := func(b *bagBlock) error { // of what is being decoded
		if b.decoded == nil {
			return nil
		}
		err := <-b.decoded
		if err == nil {
			err = do(b.bags)
		}
		clear(b.bags)
		b.bags, b.statuses, b.decoded = b.bags[:0], b.statuses[:0], nil
		return err
	}
	flush := func() error {
		b := reading
		b.decoded = make(chan error, 1)
		go func() { b.decoded <- decodeStatuses(b.statuses, b.bags) }()
		reading, decoding = decoding, reading
		return finish(reading)
	}
	err := t.each(`SELECT g.id, g.batch_id, g.number, g.code, g.status, (SELECT name FROM places WHERE id = g.made_place_id), g.made_marked_at FROM bags g WHERE `+where, args, func(rows *sql.Rows) error {
		var g bagRow
		var status []byte
		var place *string
		var marked *int64
		if err := rows.Scan(&g.id, &g.batch, &g.number, &g.code, &status, &place, &marked); err != nil {
			return err
		}
		if place != nil {
			g.madePlace = *place
		}
		g.madeMarked = timeOr(marked)
		reading.bags, reading.statuses = append(reading.bags, g), append(reading.statuses, status)
		if len(reading.bags) < readTogether {
			return nil
		}
		return flush()
	})
	if err == nil && len(reading.bags) > 0 {
		err = flush()
	}
	if err != nil {
		if decoding.decoded != nil {
			<-decoding.decoded
		}
		return err
	}
	return finish(decoding)
}

// decodeStatuses decodes the statuses of bags into them.
func decodeStatuses(statuses [][]byte, bags []bagRow) error {
	const least = 64 // bags that are worth a goroutine
	size := max(least, (len(statuses)+runtime.GOMAXPROCS(0)-1)/runtime.GOMAXPROCS(0))
	errs := make([]error, (len(statuses)+size-1)/size)
	var all sync.WaitGroup
	for k := range errs {
		all.Go(func() {
			for i := k * size; i < min((k+1)*size, len(statuses)) && errs[k] == nil; i++ {
				errs[k] = json.Unmarshal(statuses[i], &bags[i].status)
			}
		})
	}
	all.Wait()
	return errors.Join(errs...)
}

// saveStatus keeps what replaying a bag's log gave, and the columns drawn from
// it that lists and statistics read. Whoever saves other looks at its growth
// than before also calls looksChanged.
func (t *tx) saveStatus(bag int64, s grow.Status) error {
	text, err := json.Marshal(s)
	if err != nil {
		return err
	}
	_, err = t.exec(`UPDATE bags SET state = ?, status = ?, contaminated_at = ?, started_at = ?, not_yet_at = ?, grown_over_at = ?, last_clean_at = ?, last_seen_at = ?, ended_at = ?, spawn_jar = ? WHERE id = ?`,
		string(s.State), string(text), contaminatedAt(s), microsOr(s.StartedAt), microsOr(s.NotYetAt), microsOr(s.GrownOverAt),
		microsOr(s.LastCleanAt), microsOr(s.LastSeenAt), microsOr(s.EndedAt), s.SpawnJar(), bag)
	return err
}

func contaminatedAt(s grow.Status) *int64 {
	if s.Contaminated == nil {
		return nil
	}
	return microsOr(&s.Contaminated.At)
}

// start is what the bag has before its log begins.
func (g bagRow) start(b Batch, own map[string]*string) grow.Start {
	given := map[string]string{}
	for k, v := range b.Conditions {
		given[k] = v
	}
	for k, v := range own {
		delete(given, k)
		if v != nil {
			given[k] = *v
		}
	}
	s := grow.Start{MarkedAt: g.madeMarked, Place: g.madePlace, Given: given, LabelChangedAt: b.labelChangedAt}
	if s.Place == "" && b.Place != nil {
		s.Place = *b.Place
	}
	return s
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
	return t.ownConditionsBy(`SELECT c.bag_id, c.key, c.value FROM bag_conditions c JOIN bags g ON g.id = c.bag_id WHERE g.batch_id = ?`, batch)
}

// allOwnConditions are the same for all bags of the farm, by bag.
func (t *tx) allOwnConditions() (map[int64]map[string]*string, error) {
	return t.ownConditionsBy(`SELECT bag_id, key, value FROM bag_conditions`)
}

// ownConditionsBy gathers rows of bag, key and value by bag.
func (t *tx) ownConditionsBy(query string, args ...any) (map[int64]map[string]*string, error) {
	out := map[int64]map[string]*string{}
	err := t.each(query, args, func(rows *sql.Rows) error {
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
func (t *tx) replayBag(bag int64, f *Farm) (grow.Status, error) {
	_, status, err := t.replayedLog(bag, f)
	return status, err
}

// replayedLog is a bag's log in order, with what is voided and what fits, and
// what it gives.
func (t *tx) replayedLog(bag int64, f *Farm) ([]grow.Entry, grow.Status, error) {
	rows, err := t.bagRows(`g.id = ?`, bag)
	if err != nil {
		return nil, grow.Status{}, err
	}
	b, err := t.batch(f, `b.id = ?`, rows[0].batch)
	if err != nil {
		return nil, grow.Status{}, err
	}
	own, err := t.ownConditionsOf(bag)
	if err != nil {
		return nil, grow.Status{}, err
	}
	log, err := t.log(rows[0])
	if err != nil {
		return nil, grow.Status{}, err
	}
	return log, grow.Replay(rows[0].start(b, own), log, f.Conditions), nil
}

// refreshBag replays a bag and keeps what that gives.
func (t *tx) refreshBag(bag int64, f *Farm) error {
	status, err := t.replayBag(bag, f)
	if err != nil {
		return err
	}
	t.looksChanged(0)
	return t.saveStatus(bag, status)
}

// refreshBatch does so for every bag of a batch.
func (t *tx) refreshBatch(batch int64, f *Farm) error {
	bags, err := t.bagRows(`g.batch_id = ?`, batch)
	if err != nil {
		return err
	}
	for _, g := range bags {
		if err := t.refreshBag(g.id, f); err != nil {
			return err
		}
	}
	return nil
}
