package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"slices"
	"time"

	"bagmark/grow"
)

// AddEntry keeps one entry of a bag's log, and the status it leads to, in one
// transaction, and reads the bag as it stands then in another: what it returned
// without an error is on the disk, and what was kept is found again under its id
// if only the reading failed. The same id
// with the same body again gives the entry kept before and created false;
// another body is a conflict.
func (s *Store) AddEntry(ctx context.Context, by Actor, d grow.Draft) (e grow.Entry, b Bag, created bool, err error) {
	var a adding
	err = s.changing(ctx, func(t *tx, farm *Farm) (err error) {
		if d, err = tidy(d, farm.Conditions); err != nil {
			return err
		}
		a = adding{tx: t, farm: farm, by: by, draft: d}
		return a.add()
	})
	if err != nil {
		return e, b, false, err
	}
	err = s.reading(ctx, func(t *tx) (err error) { // the next one need not wait for this
		if a.created {
			b, err = t.viewBag(a.farm, a.batch, a.bag, a.own, a.log)
		} else {
			b, err = t.bag(a.farm, a.bag.id)
		}
		return err
	})
	if err != nil {
		return e, b, false, err
	}
	return b.Entries[slices.IndexFunc(b.Entries, func(x grow.Entry) bool { return x.ID == d.ID })], b, a.created, nil
}

// EntryResult is what became of one of many entries: the entry and whether it
// is new, or the reason why it was refused.
type EntryResult struct {
	ID      grow.ID
	Entry   *grow.Entry
	Created bool
	Err     error
}

// AddEntries keeps many entries, in the order given, in one transaction. Each
// has its own outcome: what is good is kept. An error means that nothing was.
func (s *Store) AddEntries(ctx context.Context, by Actor, drafts []grow.Draft) ([]EntryResult, error) {
	out := make([]EntryResult, len(drafts))
	err := s.changing(ctx, func(t *tx, farm *Farm) (err error) {
		for i, d := range drafts {
			if out[i], err = t.addOne(farm, by, d); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// AddEntriesAndNote adds entries, and a line to the note of a batch: all of it or
// nothing.
func (s *Store) AddEntriesAndNote(ctx context.Context, by Actor, drafts []grow.Draft, batch grow.BatchCode, line string) error {
	return s.changing(ctx, func(t *tx, farm *Farm) error {
		for _, d := range drafts {
			r, err := t.addOne(farm, by, d)
			if err == nil {
				err = r.Err
			}
			if err != nil {
				return err
			}
		}
		return t.addNote(farm, by, batch, line)
	})
}

// addNote adds a line to a batch's note, as a correction that is kept.
func (t *tx) addNote(f *Farm, by Actor, batch grow.BatchCode, line string) error {
	b, err := t.batchByCode(f, batch)
	if err != nil {
		return err
	}
	fields := b.Fields()
	if fields.Note != nil {
		line = *fields.Note + "\n" + line
	}
	fields.Note = &line
	var p grow.Problems
	fields.Validate(&p, t.now, f.Knows, f.Conditions)
	if err := p.Err("the batch's note has no room for one more line"); err != nil {
		return err
	}
	return t.patchBatch(f, by, b, fields)
}

// addOne adds an entry inside a savepoint, so that a refusal leaves nothing
// behind. Its error is one of the farm's, not of the entry.
func (t *tx) addOne(f *Farm, by Actor, d grow.Draft) (EntryResult, error) {
	r := EntryResult{ID: d.ID}
	if d, r.Err = tidy(d, f.Conditions); r.Err != nil {
		return r, nil
	}
	r.ID = d.ID // in its one spelling
	if _, err := t.exec(`SAVEPOINT one_entry`); err != nil {
		return r, err
	}
	a := adding{tx: t, farm: f, by: by, draft: d}
	if err := a.add(); err != nil {
		if isFault(err) {
			return r, err
		}
		r.Err = err
		_, err = t.exec(`ROLLBACK TO one_entry; RELEASE one_entry`)
		return r, err
	}
	if !a.created {
		if err := a.bringUpToDate(); err != nil {
			return r, err
		}
	}
	e := entryIn(a.entry, f.Zone)
	r.Entry, r.Created = &e, a.created
	_, err := t.exec(`RELEASE one_entry`)
	return r, err
}

// bringUpToDate notes on an entry kept before whether it was voided since, and
// whether it still fits.
func (a *adding) bringUpToDate() error {
	if err := a.load(); err != nil {
		return err
	}
	grow.Replay(a.bag.start(a.batch, a.own), a.log, a.farm.Conditions)
	a.entry = a.log[slices.IndexFunc(a.log, func(e grow.Entry) bool { return e.ID == a.entry.ID })]
	return nil
}

// tidy validates a draft and writes its ids and codes in their one spelling.
func tidy(d grow.Draft, conditions grow.Conditions) (grow.Draft, error) {
	if err := d.Validate(conditions); err != nil {
		return d, err
	}
	d.ID, _ = grow.ParseID(string(d.ID)) // valid by now
	if d.Entry != "" {
		d.Entry, _ = grow.ParseID(string(d.Entry))
	}
	if d.Of != "" {
		d.Of, _ = grow.ParseCode(string(d.Of))
	}
	if v := d.Value.Known; d.Key == grow.SpawnJarKey && v != nil {
		jar, _ := grow.ParseCode(*v)
		d.Value = grow.KnownValue(string(jar))
	}
	bag, err := grow.ParseCode(string(d.Bag))
	if err != nil {
		p := grow.Problems{"bag": err.Error()}
		return d, p.Err("this entry cannot be kept as it is")
	}
	d.Bag = bag
	return d, nil
}

// adding is an entry on its way into the log.
type adding struct {
	*tx
	farm    *Farm
	by      Actor
	draft   grow.Draft
	entry   grow.Entry
	created bool

	bag   bagRow
	batch Batch
	own   map[string]*string
	log   []grow.Entry // in order, replayed
}

// add loads the bag's log, lets grow decide, and saves.
func (a *adding) add() (err error) {
	sum := sha256.Sum256(a.draft.Sent())
	if again, err := a.sentBefore(sum[:]); again || err != nil {
		return err
	}
	if a.bag.id, err = a.bagFor(a.draft.Bag); err != nil {
		return err
	}
	if err := a.resolveNames(); err != nil {
		return err
	}
	if err := a.load(); err != nil {
		return err
	}
	last, before, err := a.lastEntry()
	if err != nil {
		return err
	}
	hearing := grow.Hearing{Now: a.now, Zone: a.farm.Zone, InoculatedOn: grow.DateOf(a.batch.InoculatedAt, a.farm.Zone), By: a.by.Person, Device: a.by.Device, Seq: last + 1}
	was := a.bag.status
	a.entry, a.bag.status, a.log, err = grow.Judge(a.bag.start(a.batch, a.own), a.log, a.draft, hearing, a.farm.Conditions)
	if err != nil {
		return a.unlessSetBack(err)
	}
	if err := a.insertEntry(a.entry, a.bag.id, sum[:], before); err != nil {
		return err
	}
	if !sameTime(was.NotYetAt, a.bag.status.NotYetAt) || !sameTime(was.GrownOverAt, a.bag.status.GrownOverAt) {
		if err := a.looksOf(a.bag.batch); err != nil { // before and after differ by this bag
			return err
		}
	}
	if err := a.stood(a.entry); err != nil {
		return err
	}
	a.created = true
	bag, batch := a.bag.id, a.bag.batch
	a.after = append(a.after, func() { a.store.counts.changed(bag, batch) })
	return a.saveStatus(a.bag.id, a.bag.status)
}

// unlessSetBack lets nobody give up an entry for its time while the farm's own
// clock stands before what it has heard of late: that clock is the wrong one.
func (a *adding) unlessSetBack(refusal error) error {
	var e *grow.Error
	if !errors.As(refusal, &e) || e.Fields["at"] == "" {
		return refusal
	}
	var heard int64
	if err := a.one(`SELECT coalesce(max(received_at), 0) FROM (SELECT received_at FROM entries ORDER BY seq DESC LIMIT 200)`, nil, &heard); err != nil {
		return err
	}
	if a.now.Add(grow.AheadLimit).UnixMicro() < heard {
		return grow.Errorf(grow.Busy, "the clock of the farm's computer was set back, to %s: nothing was saved; set it right, then send this again", a.now.In(a.farm.Zone).Format("2 Jan 2006 15:04"))
	}
	return refusal
}

func sameTime(a, b *time.Time) bool {
	return a == nil && b == nil || a != nil && b != nil && a.Equal(*b)
}

// load reads all that the decision rests on.
func (a *adding) load() error {
	rows, err := a.bagRows(`g.id = ?`, a.bag.id)
	if err != nil {
		return err
	}
	a.bag = rows[0]
	if a.batch, err = a.tx.batch(a.farm, `b.id = ?`, a.bag.batch); err != nil {
		return err
	}
	if a.own, err = a.ownConditionsOf(a.bag.id); err != nil {
		return err
	}
	a.log, err = a.tx.log(a.bag)
	return err
}

// sentBefore tells whether the farm has this entry already, and then loads it.
func (a *adding) sentBefore(sum []byte) (bool, error) {
	row := a.QueryRowContext(a.ctx, `SELECT `+entryColumns+`, g.code FROM entries e JOIN bags g ON g.id = e.bag_id WHERE e.id = ?`, string(a.draft.ID))
	var code grow.Code
	r, err := scanEntry(row, &code)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return false, a.notInStock()
	case err != nil:
		return false, err
	case !bytes.Equal(r.sent, sum):
		return false, grow.Errorf(grow.Conflict, "another entry has been kept under the id %s", a.draft.ID)
	}
	a.bag.id = r.bag
	if a.entry, err = r.entry(code); err != nil {
		return false, err
	}
	return true, a.nameNow(&a.entry)
}

// notInStock refuses an id that an entry of a lot or a jar has: there is one id
// space for all logs.
func (a *adding) notInStock() error {
	var taken int
	err := a.one(`SELECT count(*) FROM stock_entries WHERE id = ?`, []any{string(a.draft.ID)}, &taken)
	if err == nil && taken > 0 {
		err = grow.Errorf(grow.Conflict, "another entry has been kept under the id %s", a.draft.ID)
	}
	return err
}

// bagFor finds the bag; a blank label has none, which stands in the entry's way.
func (a *adding) bagFor(code grow.Code) (int64, error) {
	id, err := a.bagID(code)
	if err != nil && grow.KindOf(err) == grow.NotFound {
		kind, fault := a.kindOf(code)
		if fault != nil && isFault(fault) {
			return 0, fault
		}
		if kind == grow.BlankCode {
			return 0, grow.Errorf(grow.Conflict, "%s is a blank label: no bag has taken it yet, so nothing can be logged", code.Spaced())
		}
	}
	return id, err
}

// resolveNames turns what the entry names into what the farm knows: a place by
// name or code, a photo, another bag.
func (a *adding) resolveNames() error {
	d := &a.draft
	refuse := func(field string, err error) error {
		if isFault(err) {
			return err
		}
		p := grow.Problems{field: err.Error()}
		return p.Err("this entry cannot be kept as it is")
	}
	if d.Place != "" {
		place, err := a.resolvePlace(d.Place)
		if err != nil {
			return refuse("place", err)
		}
		d.Place = place.name
	}
	if d.Of != "" {
		if _, err := a.bagID(d.Of); err != nil {
			return refuse("of", err)
		}
	}
	if v := d.Value.Known; d.Key == grow.SpawnJarKey && v != nil {
		if _, err := a.lotOrJar(grow.Code(*v)); err != nil {
			return refuse("value", err)
		}
	}
	if d.Photo != "" {
		if err := a.usePhoto(d.Photo); err != nil {
			return refuse("photo", err)
		}
	}
	return nil
}

// usePhoto notes that an entry shows a photo, so that it is never dropped.
func (t *tx) usePhoto(id string) error {
	r, err := t.exec(`UPDATE photos SET used = 1 WHERE id = ?`, id)
	if err != nil {
		return err
	}
	if n, err := r.RowsAffected(); err != nil || n == 1 {
		return err
	}
	return grow.Errorf(grow.Invalid, "is not a photo of this farm; upload it first")
}
