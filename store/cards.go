package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"

	"bagmark/grow"
)

// Card is a bench card: scanned instead of touching the screen. Does is a
// condition's key and value ("flow_hood off") or one of "undo", "done" and
// "last bag too".
type Card struct {
	Code    grow.Code `json:"code"`
	Does    string    `json:"does"`
	Payload string    `json:"payload"`
	Key     string    `json:"key,omitempty"`
	Value   string    `json:"value,omitempty"`
	Label   string    `json:"label"` // for a person: "flow hood: off"
}

// What the cards without a condition do.
const (
	CardUndo       = "undo"
	CardDone       = "done"
	CardLastBagToo = "last bag too"
)

// ensureCards makes the cards that the conditions need and the three others.
func (t *tx) ensureCards(conditions []grow.Condition) error {
	does := []string{CardUndo, CardDone, CardLastBagToo}
	for _, c := range conditions {
		for _, v := range c.Values {
			does = append(does, c.Key+" "+v)
		}
	}
	for _, d := range does {
		if err := t.ensureCard(d); err != nil {
			return err
		}
	}
	return nil
}

func (t *tx) ensureCard(does string) error {
	var id int64
	err := t.one(`SELECT id FROM cards WHERE does = ?`, []any{does}, &id)
	if !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	code, err := t.newCode(grow.CardCode)
	if err != nil {
		return err
	}
	_, err = t.exec(`INSERT INTO cards (code, does) VALUES (?, ?)`, string(code), does)
	return err
}

func (f *Farm) card(code grow.Code, does string) Card {
	c := Card{Code: code, Does: does, Label: does}
	if key, value, ok := strings.Cut(does, " "); ok && does != CardLastBagToo {
		c.Key, c.Value = key, value
		c.Label = f.Conditions[key].Label + ": " + strings.ReplaceAll(value, "_", " ")
	}
	return c
}

// Cards are all bench cards: those of the conditions in their order, then the
// others.
func (s *Store) Cards(ctx context.Context) ([]Card, error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	byDoes := map[string]Card{}
	err = s.reading(ctx, func(t *tx) error {
		return t.each(`SELECT code, does FROM cards`, nil, func(rows *sql.Rows) error {
			var code grow.Code
			var does string
			err := rows.Scan(&code, &does)
			byDoes[does] = farm.card(code, does)
			return err
		})
	})
	out := []Card{}
	take := func(does string) {
		if c, ok := byDoes[does]; ok {
			out = append(out, c)
		}
	}
	for _, key := range farm.Conditions.Keys() {
		for _, v := range farm.Conditions[key].Values {
			take(key + " " + v)
		}
	}
	for _, does := range []string{CardLastBagToo, CardUndo, CardDone} {
		take(does)
	}
	return out, err
}

// Card gives one card.
func (s *Store) Card(ctx context.Context, code grow.Code) (c Card, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return c, err
	}
	err = s.reading(ctx, func(t *tx) error {
		var does string
		err := t.one(`SELECT does FROM cards WHERE code = ?`, []any{string(code)}, &does)
		if errors.Is(err, sql.ErrNoRows) {
			return grow.Errorf(grow.NotFound, "%s is not one of this farm's bench cards", code.Spaced())
		}
		c = farm.card(code, does)
		return err
	})
	return c, err
}
