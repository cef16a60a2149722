package store

import (
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"

	"bagmark/grow"
)

// LabelsDraft are jars of a lot, or blank labels, to be made. The same id and
// count again gives those made before.
type LabelsDraft struct {
	ID    *grow.ID `json:"id"`
	Count int      `json:"count"`
}

// BlanksDraft are the blank labels that a batch is to take.
type BlanksDraft struct {
	ID     *grow.ID    `json:"id"`
	Blanks []grow.Code `json:"blanks"`
}

// making is labels being made: what, for which row, from what body. Sent again
// under its id it gives the labels made before; id is nil where the sender chose
// none, and each sending makes new ones.
type making struct {
	by   Actor
	id   *grow.ID
	what string // jars, blanks, sterile or adopted: the ids of all are one space
	of   int64  // the row of the lot, run or batch
	body any    // without the id
}

// once runs create unless it was done before under the same id; created tells
// which.
func (t *tx) once(m making, create func() ([]grow.Code, error)) (codes []grow.Code, created bool, err error) {
	if m.id == nil {
		codes, err = create()
		return codes, true, err
	}
	id, err := grow.ParseID(string(*m.id))
	if err != nil {
		p := grow.Problems{"id": err.Error()}
		return nil, false, p.Err("these labels cannot be made")
	}
	text, err := json.Marshal([]any{m.what, m.of, m.body})
	if err != nil {
		return nil, false, err
	}
	sum := sha256.Sum256(text)
	if codes, err = t.madeUnder(id, sum[:]); codes != nil || err != nil {
		return codes, false, err
	}
	if codes, err = create(); err != nil {
		return nil, false, err
	}
	_, err = t.exec(`INSERT INTO makings (id, sent_sha256, codes, made_at, made_by, made_device) VALUES (?, ?, ?, ?, ?, ?)`,
		string(id), sum[:], jsonList(codes), micros(t.now), m.by.Person, m.by.Device)
	return codes, true, err
}

// madeUnder are the labels made under an id, nil if none were.
func (t *tx) madeUnder(id grow.ID, sent []byte) (codes []grow.Code, err error) {
	var was, list []byte
	err = t.one(`SELECT sent_sha256, codes FROM makings WHERE id = ?`, []any{string(id)}, &was, &list)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil, nil
	case err == nil && string(was) != string(sent):
		return nil, grow.Errorf(grow.Conflict, "other labels have been made under the id %s; open the page again to make more", id)
	case err != nil:
		return nil, err
	}
	return codes, json.Unmarshal(list, &codes)
}
