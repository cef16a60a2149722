package store

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"fmt"

	"bagmark/grow"
)

// stockChain works out anew the hash of each entry of lots and jars from the one
// received before it.
func (c *checking) stockChain() error {
	var problems []string
	var before []byte
	err := c.each(`SELECT `+stockEntryColumns+`, hash FROM stock_entries ORDER BY seq`, nil, func(rows *sql.Rows) error {
		var hash []byte
		r, err := scanStockEntry(rows, &hash)
		if err != nil {
			return err
		}
		c.Entries++
		if !bytes.Equal(r.sum(before), hash) {
			problems = append(problems, fmt.Sprintf("entry %s (the %d. received about a lot or a jar) or the one before it was changed or taken out after it was kept", r.id, r.seq))
		}
		before = hash
		return nil
	})
	c.found(problems...)
	return err
}

// stockStates replays the log of every lot and jar that has one and compares
// what that gives with what is kept beside it.
func (c *checking) stockStates() error {
	codes, err := texts(c.ctx, c, `SELECT code FROM stock_entries UNION SELECT code FROM stock_status ORDER BY code`)
	if err != nil {
		return err
	}
	var problems []string
	for _, text := range codes {
		code := grow.Code(text)
		same, err := c.stockAgrees(code)
		switch {
		case err != nil && isFault(err):
			return err
		case err != nil:
			problems = append(problems, fmt.Sprintf("the log of %s cannot be replayed: %s", code.Spaced(), err))
		case !same:
			problems = append(problems, fmt.Sprintf("the lot or jar %s is kept in another state than its log gives", code.Spaced()))
		}
	}
	c.found(problems...)
	return nil
}

func (c *checking) stockAgrees(code grow.Code) (bool, error) {
	row, err := c.stockBy(code)
	if err != nil {
		return false, err
	}
	log, err := c.stockLog(code)
	if err != nil {
		return false, err
	}
	status := grow.Replay(row.start(), log, nil)
	text, err := json.Marshal(status)
	if err != nil {
		return false, err
	}
	kept, err := texts(c.ctx, c, `SELECT status FROM stock_status WHERE code = ? AND state = ?`, string(code), string(status.State))
	if err != nil || len(kept) == 0 {
		return false, err
	}
	return sameJSON(text, []byte(kept[0]))
}
