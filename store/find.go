package store

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"strings"
	"time"

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

	made time.Time
}

// hits reads the bags that a WHERE … ORDER BY … clause over bags g and batches
// b picks.
func (t *tx) hits(farm *Farm, where string, args ...any) ([]BagHit, error) {
	out := []BagHit{}
	err := t.each(`SELECT g.code, g.number, b.code, b.species, b.strain, b.inoculated_at, g.state, g.contaminated_at IS NOT NULL, nullif(g.status ->> '$.place', '')
		FROM bags g JOIN batches b ON b.id = g.batch_id AND g.given_back_at IS NULL WHERE `+where, args, func(rows *sql.Rows) error {
		var h BagHit
		var strain *string
		var made int64
		err := rows.Scan(&h.Code, &h.Number, &h.Batch, &h.Species, &strain, &made, &h.State, &h.Contaminated, &h.Place)
		species, _ := farm.SpeciesOf(h.Species, strain)
		h.SpeciesName, h.Short = species.Name, species.Short
		h.made = instant(made, farm.Zone)
		h.Day = grow.Day(h.made, t.now, farm.Zone)
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
	out = []BagHit{}
	err = s.reading(ctx, func(t *tx) error {
		q := finding{tx: t, farm: farm}
		plain := strings.ToUpper(strings.TrimSpace(text))
		if code := strings.NewReplacer("-", "", " ", "", "I", "1", "L", "1", "O", "0").Replace(plain); len(code) >= 2 {
			if err := q.add(`g.code >= ? AND g.code < ? || '~'`, code, code); err != nil { // every sign of a code comes before a tilde
				return err
			}
		}
		if err := q.addBatches(plain, text); err != nil {
			return err
		}
		out = append(out, q.best()...)
		return nil
	})
	return out, err
}

// finding is a search under way. Each part of it reads along an index and stops
// at as many bags as a search gives.
type finding struct {
	*tx
	farm  *Farm
	found []BagHit
}

func (q *finding) add(where string, args ...any) error {
	hits, err := q.hits(q.farm, where+` ORDER BY g.state IN ('finished', 'culled'), b.inoculated_at DESC, b.code, g.number LIMIT ?`, append(args, mostHits)...)
	q.found = append(q.found, hits...)
	return err
}

// addBatches finds bags by their batches, those with bags in care first.
func (q *finding) addBatches(code, species string) error {
	var w clause
	if len(code) >= 2 {
		w.add(`b.code GLOB '*' || ? || '*'`, globLiteral(code))
	}
	for _, sp := range grow.FindSpecies(q.farm.Species, species) {
		w.add(`b.species = ?`, string(sp.Slug))
	}
	if len(w.terms) == 0 {
		return nil
	}
	for _, state := range []string{`g.state NOT IN ('finished', 'culled')`, `g.state IN ('finished', 'culled')`} { // as the indexes have it
		batches, err := q.texts(`SELECT b.code FROM batches b WHERE (`+strings.Join(w.terms, ` OR `)+`)
			AND EXISTS (SELECT 1 FROM bags g WHERE g.batch_id = b.id AND `+state+`)
			ORDER BY b.inoculated_at DESC, b.code LIMIT ?`, append(w.args, mostHits)...)
		if err != nil {
			return err
		}
		for _, b := range batches {
			if len(q.found) >= 2*mostHits {
				break
			}
			if err := q.add(`b.code = ? AND `+state, b); err != nil {
				return err
			}
		}
	}
	return nil
}

// best are the first of all found, each once.
func (q *finding) best() []BagHit {
	rank := func(h BagHit) int {
		if h.State.Out() {
			return 1
		}
		return 0
	}
	slices.SortStableFunc(q.found, func(a, b BagHit) int {
		return cmp.Or(rank(a)-rank(b), b.made.Compare(a.made), cmp.Compare(a.Batch, b.Batch), cmp.Compare(a.Number, b.Number))
	})
	all := slices.CompactFunc(q.found, func(a, b BagHit) bool { return a.Code == b.Code })
	return all[:min(len(all), mostHits)]
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
	State  grow.State // of a bag
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
			var state *grow.State
			err := t.one(`SELECT c.kind,
					coalesce((SELECT name FROM places WHERE code = c.code), (SELECT name FROM lots WHERE code = c.code),
						(SELECT l.name || ' jar ' || j.number FROM jars j JOIN lots l ON l.id = j.lot_id WHERE j.code = c.code),
						(SELECT name FROM steriliser_runs WHERE code = c.code),
						(SELECT CASE s.control WHEN 1 THEN 'control of ' ELSE 'sterile, ' END || r.name FROM sterile_bags s JOIN steriliser_runs r ON r.id = s.run_id WHERE s.code = c.code AND s.bag_id IS NULL), (SELECT does FROM cards WHERE code = c.code)),
					b.code, g.number, g.state
				FROM codes c
				LEFT JOIN old_codes o ON o.code = c.code
				LEFT JOIN bags g ON g.code = c.code OR g.id = o.bag_id
				LEFT JOIN batches b ON b.id = g.batch_id
				WHERE c.code = ?`, []any{string(c)}, &th.Kind, &name, &batch, &number, &state)
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
				th.Batch, th.Number, th.State = *batch, *number, *state
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
