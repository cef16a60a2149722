package store

import (
	"context"
	"database/sql"
	"strings"

	"bagmark/grow"
)

// BagHit is a bag in a few words, for lists.
type BagHit struct {
	Code         grow.Code      `json:"code"`
	Number       int            `json:"number"`
	Batch        grow.BatchCode `json:"batch"`
	Species      grow.Slug      `json:"species"`
	SpeciesName  string         `json:"species_name"`
	Short        string         `json:"short"`
	State        grow.State     `json:"state"`
	Day          int            `json:"day"`
	Contaminated bool           `json:"contaminated"`
	Place        *string        `json:"place"`
}

// hits reads the bags that a WHERE … ORDER BY … clause over bags g and batches
// b picks.
func (t *tx) hits(farm *Farm, where string, args ...any) ([]BagHit, error) {
	out := []BagHit{}
	err := t.each(`SELECT g.code, g.number, b.code, b.species, b.strain, b.inoculated_at, g.state, g.contaminated_at IS NOT NULL, nullif(g.status ->> '$.place', '')
		FROM bags g JOIN batches b ON b.id = g.batch_id WHERE `+where, args, func(rows *sql.Rows) error {
		var h BagHit
		var strain *string
		var made int64
		err := rows.Scan(&h.Code, &h.Number, &h.Batch, &h.Species, &strain, &made, &h.State, &h.Contaminated, &h.Place)
		species, _ := farm.SpeciesOf(h.Species, strain)
		h.SpeciesName, h.Short = species.Name, species.Short
		h.Day = grow.Day(instant(made, farm.Zone), t.now, farm.Zone)
		out = append(out, h)
		return err
	})
	return out, err
}

// mostHits is how many bags a search gives.
const mostHits = 20

// FindBags searches by the beginning of a code, a batch's code, or a species by
// any of its names; bags in the farm's care come first, newest first.
func (s *Store) FindBags(ctx context.Context, text string) (out []BagHit, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	var w clause
	var terms []string
	add := func(term string, args ...any) {
		terms = append(terms, term)
		w.args = append(w.args, args...)
	}
	plain := strings.ToUpper(strings.TrimSpace(text))
	if code := strings.NewReplacer("-", "", " ", "", "I", "1", "L", "1", "O", "0").Replace(plain); len(code) >= 2 {
		add(`g.code GLOB ? || '*'`, globLiteral(code))
	}
	if len(plain) >= 2 {
		add(`b.code GLOB '*' || ? || '*'`, globLiteral(plain))
	}
	for _, sp := range grow.FindSpecies(farm.Species, text) {
		add(`b.species = ?`, string(sp.Slug))
	}
	if len(terms) == 0 {
		return []BagHit{}, nil
	}
	w.add(`(`+strings.Join(terms, ` OR `)+`)`, mostHits)
	err = s.reading(ctx, func(t *tx) error {
		out, err = t.hits(farm, w.String()+` ORDER BY g.state IN ('finished', 'culled'), b.inoculated_at DESC, b.code, g.number LIMIT ?`, w.args...)
		return err
	})
	return out, err
}

// globLiteral takes the meaning from the signs that GLOB gives one.
func globLiteral(s string) string {
	return strings.NewReplacer("*", "[*]", "?", "[?]", "[", "[[]").Replace(s)
}

// Thing is what a code stands for.
type Thing struct {
	Kind   grow.CodeKind
	Name   string // of a place, lot or card; of a bag its batch and number
	Batch  grow.BatchCode
	Number int
}

// WhatIs tells what codes stand for; a code that this farm never made is not
// among the answers.
func (s *Store) WhatIs(ctx context.Context, codes []grow.Code) (map[grow.Code]Thing, error) {
	out := map[grow.Code]Thing{}
	err := s.reading(ctx, func(t *tx) error {
		for _, c := range codes {
			var th Thing
			var name *string
			var batch *grow.BatchCode
			var number *int
			err := t.one(`SELECT c.kind,
					coalesce((SELECT name FROM places WHERE code = c.code), (SELECT name FROM lots WHERE code = c.code), (SELECT does FROM cards WHERE code = c.code)),
					b.code, g.number
				FROM codes c
				LEFT JOIN old_codes o ON o.code = c.code
				LEFT JOIN bags g ON g.code = c.code OR g.id = o.bag_id
				LEFT JOIN batches b ON b.id = g.batch_id
				WHERE c.code = ?`, []any{string(c)}, &th.Kind, &name, &batch, &number)
			if err == sql.ErrNoRows {
				continue
			}
			if err != nil {
				return err
			}
			if name != nil {
				th.Name = *name
			}
			if batch != nil {
				th.Batch, th.Number = *batch, *number
			}
			out[c] = th
		}
		return nil
	})
	return out, err
}

// Known is a code that the farm has printed or may print.
type Known struct {
	Kind grow.CodeKind
	Code grow.Code
}

// KnownCodes are the codes that a picture may show: bags in the farm's care
// first, newest first, then blanks, places, lots and cards.
func (s *Store) KnownCodes(ctx context.Context) ([]Known, error) {
	var out []Known
	err := s.reading(ctx, func(t *tx) error {
		return t.each(`SELECT kind, code FROM (
				SELECT 1 AS rank, 'bag' AS kind, code, -id AS nth FROM bags WHERE state NOT IN ('finished', 'culled')
				UNION ALL SELECT 2, kind, code, 0 FROM codes WHERE kind <> 'bag') ORDER BY rank, nth, code`, nil, func(rows *sql.Rows) error {
			var k Known
			err := rows.Scan(&k.Kind, &k.Code)
			out = append(out, k)
			return err
		})
	})
	return out, err
}
