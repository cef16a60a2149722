package store

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"bagmark/grow"
)

// states replays every bag's log and compares what that gives with what is
// kept beside it.
func (c *checking) states() error {
	var problems []string
	err := c.eachBag(func(k keptBag) error {
		c.Bags++
		status, err := c.replayBag(k.id, c.farm)
		if err != nil {
			problems = append(problems, fmt.Sprintf("the log of bag %s cannot be replayed: %s", k.code.Spaced(), err))
			return nil
		}
		same, err := k.agrees(status)
		if err != nil || !same {
			problems = append(problems, fmt.Sprintf("bag %s is kept as %s, but its log gives another state (%s)", k.code.Spaced(), k.state, status.State))
		}
		return nil
	})
	c.found(problems...)
	return err
}

// keptBag is a bag's status as it is kept, with the columns drawn from it.
type keptBag struct {
	id      int64
	code    grow.Code
	state   grow.State
	status  []byte
	columns [7]*int64
	jar     *string
}

// eachBag reads the bags a page at a time, so that other reads can go on
// between.
func (c *checking) eachBag(f func(keptBag) error) error {
	const page = 500
	for last := int64(0); ; {
		var bags []keptBag
		err := c.each(`SELECT id, code, state, status, contaminated_at, started_at, not_yet_at, grown_over_at, last_clean_at, last_seen_at, ended_at, spawn_jar
			FROM bags WHERE id > ? ORDER BY id LIMIT ?`, []any{last, page}, func(rows *sql.Rows) error {
			var k keptBag
			into := []any{&k.id, &k.code, &k.state, &k.status}
			for i := range k.columns {
				into = append(into, &k.columns[i])
			}
			err := rows.Scan(append(into, &k.jar)...)
			bags = append(bags, k)
			return err
		})
		if err != nil {
			return err
		}
		for _, k := range bags {
			last = k.id
			if err := f(k); err != nil {
				return err
			}
		}
		if len(bags) < page {
			return nil
		}
	}
}

func (k keptBag) agrees(s grow.Status) (bool, error) {
	text, err := json.Marshal(s)
	if err != nil {
		return false, err
	}
	same, err := sameJSON(text, k.status)
	columns := [7]*int64{contaminatedAt(s), microsOr(s.StartedAt), microsOr(s.NotYetAt), microsOr(s.GrownOverAt), microsOr(s.LastCleanAt), microsOr(s.LastSeenAt), microsOr(s.EndedAt)}
	for i, c := range columns {
		if (c == nil) != (k.columns[i] == nil) || c != nil && *c != *k.columns[i] {
			return false, err
		}
	}
	jar := s.SpawnJar()
	return same && k.state == s.State && (jar == nil) == (k.jar == nil) && (jar == nil || *jar == *k.jar), err
}

// sameJSON tells whether two JSON texts say the same, times by instant.
func sameJSON(a, b []byte) (bool, error) {
	if bytes.Equal(a, b) {
		return true, nil
	}
	var x, y any
	if err := errors.Join(json.Unmarshal(a, &x), json.Unmarshal(b, &y)); err != nil {
		return false, err
	}
	one, err := json.Marshal(inUTC(x))
	two, err2 := json.Marshal(inUTC(y))
	return bytes.Equal(one, two), errors.Join(err, err2)
}

// inUTC writes every time in a JSON value in UTC.
func inUTC(v any) any {
	switch v := v.(type) {
	case map[string]any:
		for k := range v {
			v[k] = inUTC(v[k])
		}
	case []any:
		for i := range v {
			v[i] = inUTC(v[i])
		}
	case string:
		if t, err := time.Parse(time.RFC3339Nano, v); err == nil {
			return t.UTC().Format(time.RFC3339Nano)
		}
	}
	return v
}
