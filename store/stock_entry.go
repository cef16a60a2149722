package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"slices"
	"strings"

	"bagmark/grow"
)

// StockEntry is an entry in the log of what stands before the bag.
type StockEntry struct {
	grow.Entry
	Bag  *grow.Code `json:"bag,omitempty"` // none: it is no bag
	Code grow.Code  `json:"code"`
}

func stockEntry(e grow.Entry, f *Farm) StockEntry {
	return StockEntry{Entry: entryIn(e, f.Zone), Code: e.Bag}
}

// AddStockEntry keeps one entry of the log of a lot or a jar, named by the
// draft's Bag, and the status it leads to, under the rules of bags: one id, one
// entry; the same body again gives the entry kept before and created false.
func (s *Store) AddStockEntry(ctx context.Context, by Actor, d grow.Draft) (e StockEntry, created bool, err error) {
	err = s.changing(ctx, func(t *tx, farm *Farm) (err error) {
		e, created, err = t.addStock(farm, by, d)
		return err
	})
	return e, created, err
}

func (t *tx) addStock(f *Farm, by Actor, d grow.Draft) (StockEntry, bool, error) {
	refuse := func(err error) (StockEntry, bool, error) { return StockEntry{}, false, err }
	d, err := tidyStock(d)
	if err != nil {
		return refuse(err)
	}
	sum := sha256.Sum256(d.Sent())
	if again, err := t.stockSentBefore(f, d, sum[:]); again != nil || err != nil {
		if again == nil {
			return refuse(err)
		}
		return *again, false, err
	}
	row, err := t.stockBy(d.Bag)
	if err != nil {
		return refuse(err)
	}
	if err := t.notInoculated(row); err != nil {
		return refuse(err)
	}
	names := adding{tx: t, farm: f, by: by, draft: d}
	if err := names.resolveNames(); err != nil {
		return refuse(err)
	}
	last, before, err := t.lastStockEntry()
	if err != nil {
		return refuse(err)
	}
	log, err := t.stockLog(row.code)
	if err != nil {
		return refuse(err)
	}
	hearing := grow.Hearing{Now: t.now, Zone: f.Zone, InoculatedOn: row.since(f.Zone), By: by.Person, Device: by.Device, Seq: last + 1}
	entry, status, log, err := grow.Judge(row.start(), log, names.draft, hearing, nil)
	if err != nil {
		return refuse(ofStock(names.unlessSetBack(err), row))
	}
	if err := t.insertStockEntry(entry, sum[:], before); err != nil {
		return refuse(err)
	}
	kept := log[slices.IndexFunc(log, func(x grow.Entry) bool { return x.ID == entry.ID })]
	return stockEntry(kept, f), true, t.saveStockStatus(row.code, status)
}

// ofStock lets a refusal speak of the jar, lot or sterile bag that it is about.
func ofStock(err error, r stockRow) error {
	what := "this sterile bag"
	switch {
	case r.jar != nil:
		what = "this jar"
	case r.lot != 0:
		what = "this lot"
	}
	var e *grow.Error
	if !errors.As(err, &e) {
		return err
	}
	said := *e
	said.Message = strings.ReplaceAll(e.Message, "this bag", what)
	return &said
}

// notInoculated refuses a sterile bag that a batch has taken: it has a log of its
// own now.
func (t *tx) notInoculated(r stockRow) error {
	if r.lot != 0 {
		return nil
	}
	taken, err := t.texts(`SELECT b.code || ' #' || g.number FROM sterile_bags s JOIN bags g ON g.id = s.bag_id JOIN batches b ON b.id = g.batch_id WHERE s.code = ?`, string(r.code))
	if err == nil && len(taken) > 0 {
		err = grow.Errorf(grow.Conflict, "this sterile bag is %s now: log on that", taken[0])
	}
	return err
}

// tidyStock validates a draft and writes its ids and code in their one spelling.
func tidyStock(d grow.Draft) (grow.Draft, error) {
	if err := d.ValidateStock(); err != nil {
		return d, err
	}
	d.ID, _ = grow.ParseID(string(d.ID)) // valid by now
	if d.Entry != "" {
		d.Entry, _ = grow.ParseID(string(d.Entry))
	}
	code, err := grow.ParseCode(string(d.Bag))
	d.Bag = code
	return d, err
}

// stockSentBefore gives the entry that has the draft's id already, nil if none
// has. Bags and stock share one id space.
func (t *tx) stockSentBefore(f *Farm, d grow.Draft, sum []byte) (*StockEntry, error) {
	taken := grow.Errorf(grow.Conflict, "another entry has been kept under the id %s", d.ID)
	var code grow.Code
	var sent []byte
	err := t.one(`SELECT code, sent_sha256 FROM stock_entries WHERE id = ?1 UNION ALL SELECT '', sent_sha256 FROM entries WHERE id = ?1`, []any{string(d.ID)}, &code, &sent)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil, nil
	case err != nil:
		return nil, err
	case code == "" || !bytes.Equal(sent, sum):
		return nil, taken
	}
	log, err := t.replayedStock(code)
	if err != nil {
		return nil, err
	}
	e := stockEntry(log[slices.IndexFunc(log, func(x grow.Entry) bool { return x.ID == d.ID })], f)
	return &e, nil
}

// replayedStock is a log in order, with what is voided and what fits.
func (t *tx) replayedStock(code grow.Code) ([]grow.Entry, error) {
	row, err := t.stockBy(code)
	if err != nil {
		return nil, err
	}
	log, err := t.stockLog(code)
	if err == nil {
		grow.Replay(row.start(), log, nil)
	}
	return log, err
}

// stockRowOf is an entry as it is kept, with the code of what it is about.
type stockEntryRow struct {
	entryRow
	code grow.Code
}

// sum is the entry's hash, as [entryRow.sum] makes it.
func (r stockEntryRow) sum(before []byte) []byte {
	text, err := json.Marshal([]any{r.seq, r.id, r.code, r.kind, r.at, r.received, r.atSent, r.by, r.device, r.detail, hex.EncodeToString(r.sent)})
	if err != nil {
		panic("store: an entry always has a JSON form: " + err.Error())
	}
	h := sha256.New()
	h.Write(before)
	h.Write(text)
	return h.Sum(nil)
}

const stockEntryColumns = `seq, id, code, kind, at, received_at, at_sent, by_person, device, detail, sent_sha256`

func scanStockEntry(rows *sql.Rows, also ...any) (r stockEntryRow, err error) {
	err = rows.Scan(append([]any{&r.seq, &r.id, &r.code, &r.kind, &r.at, &r.received, &r.atSent, &r.by, &r.device, &r.detail, &r.sent}, also...)...)
	return r, err
}

// stockLog reads a whole log, in order.
func (t *tx) stockLog(code grow.Code) ([]grow.Entry, error) {
	var out []grow.Entry
	err := t.each(`SELECT `+stockEntryColumns+` FROM stock_entries WHERE code = ? ORDER BY at, seq`, []any{string(code)}, func(rows *sql.Rows) error {
		r, err := scanStockEntry(rows)
		if err != nil {
			return err
		}
		e, err := r.entry(r.code)
		out = append(out, e)
		return err
	})
	return out, err
}

func (t *tx) lastStockEntry() (seq int64, sum []byte, err error) {
	err = t.one(`SELECT seq, hash FROM stock_entries ORDER BY seq DESC LIMIT 1`, nil, &seq, &sum)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	return seq, sum, err
}

func (t *tx) insertStockEntry(e grow.Entry, sent, before []byte) error {
	detail, err := json.Marshal(e.Details)
	if err != nil {
		return err
	}
	r := stockEntryRow{code: e.Bag, entryRow: entryRow{seq: e.Seq, id: e.ID, kind: e.Kind, at: micros(e.At), received: micros(e.ReceivedAt), atSent: microsOr(e.AtSent),
		by: e.By, device: e.Device, detail: string(detail), sent: sent}}
	_, err = t.exec(`INSERT INTO stock_entries (`+stockEntryColumns+`, hash) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		r.seq, string(r.id), string(r.code), string(r.kind), r.at, r.received, r.atSent, r.by, r.device, r.detail, r.sent, r.sum(before))
	return err
}
