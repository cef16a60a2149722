package store

import (
	"context"
	"database/sql"
	"errors"

	"bagmark/grow"
)

// Place is a room, rack or shelf by its full name.
type Place struct {
	Code    grow.Code `json:"code"`
	Name    string    `json:"name"`
	Payload string    `json:"payload"`
	// CapacityBags is how many bags it takes, with all that is part of it; nil
	// where nobody said.
	CapacityBags *int `json:"capacity_bags"`
}

// coded finds a row of places or lots by a code or a name, making it if the
// name is new. It gives the row's number, code and name.
type coded struct {
	table string
	kind  grow.CodeKind
	made  string // extra columns of a new row
	value string
	word  string // what it is called
}

var (
	codedPlaces = coded{table: "places", kind: grow.PlaceCode, word: "place"}
	codedLots   = coded{table: "lots", kind: grow.LotCode, made: ", kind", value: ", 'spawn'", word: "lot"}
	codedMixes  = coded{table: "lots", kind: grow.LotCode, made: ", kind", value: ", 'substrate'", word: "lot"}
	codedRuns   = coded{table: "steriliser_runs", kind: grow.LotCode, word: "steriliser run"}
)

type codedRow struct {
	id      int64
	code    grow.Code
	name    string
	created bool
}

func (t *tx) resolve(c coded, text string) (codedRow, error) {
	if code, err := grow.ParseCode(text); err == nil {
		if r, err := t.byCode(c, code); err == nil || grow.KindOf(err) == grow.Conflict {
			return r, err
		}
	}
	return t.byName(c, text)
}

func (t *tx) byCode(c coded, code grow.Code) (codedRow, error) {
	r := codedRow{code: code}
	err := t.one(`SELECT id, name FROM `+c.table+` WHERE code = ?`, []any{string(code)}, &r.id, &r.name)
	if !errors.Is(err, sql.ErrNoRows) {
		return r, err
	}
	word, err := t.wordOf(code)
	if err != nil {
		return r, err
	}
	return r, grow.Errorf(grow.Conflict, "%s is the label of a %s, not of a %s", code.Spaced(), word, c.word)
}

// wordOf is what people call the thing that carries a code.
func (t *tx) wordOf(code grow.Code) (string, error) {
	kind, err := t.kindOf(code)
	if err != nil || kind != grow.LotCode {
		return string(kind), err
	}
	word := "lot"
	err = t.one(`SELECT CASE WHEN EXISTS (SELECT 1 FROM jars WHERE code = ?1) THEN 'jar' WHEN EXISTS (SELECT 1 FROM steriliser_runs WHERE code = ?1) THEN 'steriliser run' ELSE 'lot' END`,
		[]any{string(code)}, &word)
	return word, err
}

func (t *tx) byName(c coded, name string) (codedRow, error) {
	r := codedRow{name: name}
	err := t.one(`SELECT id, code, name FROM `+c.table+` WHERE name_key = ?`, []any{nameKey(name)}, &r.id, &r.code, &r.name)
	if !errors.Is(err, sql.ErrNoRows) {
		return r, err
	}
	if c == codedPlaces {
		if former, known, err := t.byFormerName(name); known || err != nil {
			return former, err
		}
	}
	if r.code, err = t.newCode(c.kind); err != nil {
		return r, err
	}
	r.created = true
	r.id, err = t.insert(`INSERT INTO `+c.table+` (code, name, name_key, made_at`+c.made+`) VALUES (?, ?, ?, ?`+c.value+`)`,
		string(r.code), name, nameKey(name), micros(t.now))
	return r, err
}

// resolvePlace is resolve for places: their names are tidied first.
func (t *tx) resolvePlace(text string) (codedRow, error) {
	name, err := t.speltLike(grow.PlaceName(text), "")
	if err != nil {
		return codedRow{}, err
	}
	return t.resolve(codedPlaces, name)
}

// resolveSubstrate finds a lot of substrate by its code or its name, making it if
// the name is new. A lot of another kind is a conflict.
func (t *tx) resolveSubstrate(text string) (id int64, err error) {
	lot, err := t.resolve(codedMixes, text)
	if err != nil {
		return 0, err
	}
	var kind grow.LotKind
	if err := t.one(`SELECT kind FROM lots WHERE id = ?`, []any{lot.id}, &kind); err != nil {
		return 0, err
	}
	if kind != grow.SubstrateLot {
		return 0, grow.Errorf(grow.Conflict, "%s is a lot of %s, not of substrate", lot.name, kind.Words())
	}
	return lot.id, nil
}

// resolveRun finds a steriliser run by its code or its name, making it if the
// name is new.
func (t *tx) resolveRun(text string) (id int64, err error) {
	r, err := t.resolve(codedRuns, text)
	return r.id, err
}

// Places are all places by name.
func (s *Store) Places(ctx context.Context) ([]Place, error) {
	out := []Place{}
	err := s.reading(ctx, func(t *tx) error {
		return t.each(`SELECT code, name, capacity_bags FROM places ORDER BY name_key`, nil, func(rows *sql.Rows) error {
			var p Place
			err := rows.Scan(&p.Code, &p.Name, &p.CapacityBags)
			out = append(out, p)
			return err
		})
	})
	return out, err
}

// CreatePlace makes a place, or gives the one that has the name already.
func (s *Store) CreatePlace(ctx context.Context, _ Actor, name string) (p Place, created bool, err error) {
	if err := grow.CheckPlaceName(name); err != nil {
		return p, false, err
	}
	err = s.writing(ctx, func(t *tx) error {
		name, err := t.speltLike(grow.PlaceName(name), "")
		if err != nil {
			return err
		}
		r, err := t.byName(codedPlaces, name)
		if err != nil {
			return err
		}
		p, err = t.place(r)
		created = r.created
		return err
	})
	return p, created, err
}

func (t *tx) place(r codedRow) (Place, error) {
	p := Place{Code: r.code, Name: r.name}
	return p, t.one(`SELECT capacity_bags FROM places WHERE id = ?`, []any{r.id}, &p.CapacityBags)
}

// notThere makes a code of another kind a thing not found.
func notThere(err error) error {
	var e *grow.Error
	if errors.As(err, &e) && e.Kind == grow.Conflict {
		return &grow.Error{Kind: grow.NotFound, Message: e.Message}
	}
	return err
}

// UsedNames are names already on record, newest first, to be offered again.
type UsedNames struct {
	Strains   map[grow.Slug][]string
	Recipes   []string
	Operators []string
	SpawnLots []string
	Mixes     []string // lots of substrate
	Runs      []string
	Places    []string
}

// Used gives the names that a new batch may want again.
func (s *Store) Used(ctx context.Context) (u UsedNames, err error) {
	u.Strains = map[grow.Slug][]string{}
	err = s.reading(ctx, func(t *tx) error {
		for list, query := range map[*[]string]string{
			&u.Recipes:   `SELECT recipe FROM batches WHERE recipe IS NOT NULL GROUP BY recipe ORDER BY max(id) DESC LIMIT 100`,
			&u.Operators: `SELECT operator FROM batches WHERE operator IS NOT NULL GROUP BY operator ORDER BY max(id) DESC LIMIT 100`,
			&u.SpawnLots: `SELECT name FROM lots WHERE kind <> 'substrate' ORDER BY id DESC LIMIT 100`,
			&u.Mixes:     `SELECT name FROM lots WHERE kind = 'substrate' ORDER BY id DESC LIMIT 100`,
			&u.Runs:      `SELECT name FROM steriliser_runs ORDER BY id DESC LIMIT 100`,
			&u.Places:    `SELECT name FROM places ORDER BY name_key LIMIT 500`,
		} {
			if err := t.each(query, nil, func(rows *sql.Rows) error {
				var name string
				err := rows.Scan(&name)
				*list = append(*list, name)
				return err
			}); err != nil {
				return err
			}
		}
		return t.each(`SELECT species, strain FROM batches WHERE strain IS NOT NULL GROUP BY species, strain ORDER BY max(id) DESC LIMIT 300`, nil, func(rows *sql.Rows) error {
			var slug grow.Slug
			var strain string
			err := rows.Scan(&slug, &strain)
			u.Strains[slug] = append(u.Strains[slug], strain)
			return err
		})
	})
	return u, err
}
