package store

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"time"

	"bagmark/grow"
)

// entryRow is an entry as it is kept.
type entryRow struct {
	seq      int64
	id       grow.ID
	bag      int64
	kind     grow.EntryKind
	at       int64
	received int64
	atSent   *int64
	by       string
	device   string
	detail   string
	sent     []byte
}

// sum is the entry's hash: SHA-256 of the hash of the entry received before it
// (nothing for the first) and of this entry in one spelling. What was changed
// on the disk later no longer agrees.
func (r entryRow) sum(before []byte) []byte {
	text, err := json.Marshal([]any{r.seq, r.id, r.bag, r.kind, r.at, r.received, r.atSent, r.by, r.device, r.detail, hex.EncodeToString(r.sent)})
	if err != nil {
		panic("store: an entry always has a JSON form: " + err.Error())
	}
	h := sha256.New()
	h.Write(before)
	h.Write(text)
	return h.Sum(nil)
}

const entryColumns = `e.seq, e.id, e.bag_id, e.kind, e.at, e.received_at, e.at_sent, e.by_person, e.device, e.detail, e.sent_sha256`

func scanEntry(rows interface{ Scan(...any) error }, also ...any) (r entryRow, err error) {
	err = rows.Scan(append([]any{&r.seq, &r.id, &r.bag, &r.kind, &r.at, &r.received, &r.atSent, &r.by, &r.device, &r.detail, &r.sent}, also...)...)
	return r, err
}

// entry turns the row into an entry of the bag with the code.
func (r entryRow) entry(code grow.Code) (grow.Entry, error) {
	e := grow.Entry{ID: r.id, Bag: code, Kind: r.kind, At: time.UnixMicro(r.at).UTC(), ReceivedAt: time.UnixMicro(r.received).UTC(),
		By: r.by, Device: r.device, Seq: r.seq, Fits: true}
	if r.atSent != nil {
		at := time.UnixMicro(*r.atSent).UTC()
		e.AtSent = &at
	}
	if r.detail == "{}" {
		return e, nil
	}
	return e, json.Unmarshal([]byte(r.detail), &e.Details)
}

// log reads a bag's whole log, in order: what replaying and showing it takes.
func (t *tx) log(bag bagRow) ([]grow.Entry, error) {
	var out []grow.Entry
	r := entryRow{bag: bag.id}
	var id, kind string // database/sql fills plain kinds without reflection
	into := []any{&r.seq, &id, &kind, &r.at, &r.received, &r.atSent, &r.by, &r.device, &r.detail}
	err := t.each(`SELECT seq, id, kind, at, received_at, at_sent, by_person, device, detail FROM entries WHERE bag_id = ? ORDER BY at, seq`, []any{bag.id}, func(rows *sql.Rows) error {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		r.id, r.kind = grow.ID(id), grow.EntryKind(kind)
		e, err := r.entry(bag.code)
		out = append(out, e)
		return err
	})
	for i := range out {
		if err == nil {
			err = t.nameNow(&out[i])
		}
	}
	return out, err
}

// lastEntry is the sequence number and the hash of the entry received last;
// zero and nothing on a new farm.
func (t *tx) lastEntry() (seq int64, sum []byte, err error) {
	err = t.one(`SELECT seq, hash FROM entries ORDER BY seq DESC LIMIT 1`, nil, &seq, &sum)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	return seq, sum, err
}

func (t *tx) insertEntry(e grow.Entry, bag int64, sent, before []byte) error {
	detail, err := json.Marshal(e.Details)
	if err != nil {
		return err
	}
	r := entryRow{seq: e.Seq, id: e.ID, bag: bag, kind: e.Kind, at: micros(e.At), received: micros(e.ReceivedAt), atSent: microsOr(e.AtSent),
		by: e.By, device: e.Device, detail: string(detail), sent: sent}
	_, err = t.exec(`INSERT INTO entries (seq, id, bag_id, kind, at, received_at, at_sent, by_person, device, detail, sent_sha256, hash) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		r.seq, string(r.id), r.bag, string(r.kind), r.at, r.received, r.atSent, r.by, r.device, r.detail, r.sent, r.sum(before))
	return err
}
