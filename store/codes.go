package store

import (
	"database/sql"
	"errors"

	"bagmark/grow"
)

// newCode draws a code that the farm has not used for anything and takes it.
func (t *tx) newCode(kind grow.CodeKind) (grow.Code, error) {
	for {
		c, err := grow.NewCode(t.store.random)
		if err != nil {
			return "", err
		}
		r, err := t.exec(`INSERT INTO codes (code, kind, made_at) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`, string(c), string(kind), micros(t.now))
		if err != nil {
			return "", err
		}
		if n, err := r.RowsAffected(); err != nil || n == 1 {
			return c, err
		}
	}
}

// kindOf is what a code stands for; [grow.NotFound] if this farm never made it.
func (t *tx) kindOf(c grow.Code) (grow.CodeKind, error) {
	var kind string
	err := t.one(`SELECT kind FROM codes WHERE code = ?`, []any{string(c)}, &kind)
	if errors.Is(err, sql.ErrNoRows) {
		return "", grow.Errorf(grow.NotFound, "this farm has no label %s", c.Spaced())
	}
	return grow.CodeKind(kind), err
}

// bagID finds a bag by the code it carries, or carried before it got another.
// A blank is no bag yet.
func (t *tx) bagID(c grow.Code) (int64, error) {
	var id int64
	err := t.one(`SELECT id FROM bags WHERE code = ?1 UNION ALL SELECT bag_id FROM old_codes WHERE code = ?1 LIMIT 1`, []any{string(c)}, &id)
	if !errors.Is(err, sql.ErrNoRows) {
		return id, err
	}
	kind, err := t.kindOf(c)
	switch {
	case err != nil:
		return 0, err
	case kind == grow.BlankCode:
		return 0, grow.Errorf(grow.NotFound, "%s is a blank label: no bag has taken it yet", c.Spaced())
	}
	return 0, grow.Errorf(grow.NotFound, "%s is the label of a %s, not of a bag", c.Spaced(), kind)
}
