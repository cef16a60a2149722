package store

import (
	"database/sql"
	"encoding/json"
	"errors"
	"time"

	"bagmark/grow"
)

// stockRow is what stands before the bag: a lot, a jar of it, or a sterile bag.
type stockRow struct {
	code grow.Code
	lot  int64 // 0 of a sterile bag
	jar  *jarRow
	made time.Time // when the farm first heard of it
	on   *grow.Date
}

// jarRow is one jar of a lot.
type jarRow struct {
	id     int64
	number int
}

// stockBy finds the lot, jar or sterile bag that carries a code.
func (t *tx) stockBy(code grow.Code) (stockRow, error) {
	r := stockRow{code: code}
	var made int64
	var jar, number *int64
	err := t.one(`SELECT l.id, NULL, NULL, l.made_at, l.made_on FROM lots l WHERE l.code = ?1
		UNION ALL SELECT l.id, j.id, j.number, j.made_at, l.made_on FROM jars j JOIN lots l ON l.id = j.lot_id WHERE j.code = ?1
		UNION ALL SELECT 0, NULL, NULL, made_at, filled_on FROM sterile_bags WHERE code = ?1`,
		[]any{string(code)}, &r.lot, &jar, &number, &made, &r.on)
	if errors.Is(err, sql.ErrNoRows) {
		word, err := t.wordOf(code)
		if err != nil {
			return r, err
		}
		return r, grow.Errorf(grow.NotFound, "%s is the label of a %s, not of a lot or a jar", code.Spaced(), word)
	}
	if err != nil {
		return r, err
	}
	r.made = time.UnixMicro(made).UTC()
	if jar != nil {
		r.jar = &jarRow{*jar, int(*number)}
	}
	return r, nil
}

// lotOrJar is stockBy for what spawn can come from.
func (t *tx) lotOrJar(code grow.Code) (stockRow, error) {
	r, err := t.stockBy(code)
	if err == nil && r.lot == 0 {
		err = grow.Errorf(grow.NotFound, "%s is the label of a sterile bag, not of a lot or a jar", code.Spaced())
	}
	return r, err
}

// start is what stock has before its log begins: it needs no label to be there.
func (r stockRow) start() grow.Start { return grow.Start{MarkedAt: &r.made} }

// since is the first day that its log may speak of; what nobody dated may be
// as old as anything the farm keeps.
func (r stockRow) since(zone *time.Location) grow.Date {
	if r.on != nil {
		return *r.on
	}
	return grow.DateOn(2000, time.January, 1)
}

// stockStatus is what a log gave, as it is kept; nothing logged is growing.
func (t *tx) stockStatus(code grow.Code) (grow.Status, error) {
	s := grow.Status{State: grow.Colonising}
	var text []byte
	err := t.one(`SELECT status FROM stock_status WHERE code = ?`, []any{string(code)}, &text)
	if errors.Is(err, sql.ErrNoRows) {
		return s, nil
	}
	if err != nil {
		return s, err
	}
	return s, json.Unmarshal(text, &s)
}

func (t *tx) saveStockStatus(code grow.Code, s grow.Status) error {
	text, err := json.Marshal(s)
	if err != nil {
		return err
	}
	_, err = t.exec(`INSERT INTO stock_status (code, state, status) VALUES (?1, ?2, ?3) ON CONFLICT (code) DO UPDATE SET state = ?2, status = ?3`,
		string(code), string(s.State), string(text))
	return err
}

// noteStockChange keeps what became of a field.
func (t *tx) noteStockChange(by Actor, code grow.Code, field, old, now string) error {
	_, err := t.exec(`INSERT INTO stock_changes (code, field, old, new, at, by_person, device) VALUES (?, ?, ?, ?, ?, ?, ?)`,
		string(code), field, old, now, micros(t.now), by.Person, by.Device)
	return err
}

func (t *tx) stockChanges(f *Farm, code grow.Code) ([]Change, error) {
	out := []Change{}
	err := t.each(`SELECT field, old, new, at, by_person, device FROM stock_changes WHERE code = ? ORDER BY id DESC`, []any{string(code)}, func(rows *sql.Rows) error {
		var c Change
		var at int64
		err := rows.Scan(&c.Field, &c.Old, &c.New, &at, &c.By, &c.Device)
		c.At = instant(at, f.Zone)
		out = append(out, c)
		return err
	})
	return out, err
}
