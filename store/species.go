package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"slices"

	"bagmark/grow"
)

func (t *tx) loadSpecies(f *Farm) error {
	err := t.each(`SELECT data FROM species_own ORDER BY slug, strain`, nil, func(rows *sql.Rows) error {
		var data string
		if err := rows.Scan(&data); err != nil {
			return err
		}
		var o grow.Override
		err := json.Unmarshal([]byte(data), &o)
		f.Own = append(f.Own, o)
		return err
	})
	f.Species = grow.OwnSpecies(f.Own)
	return err
}

// Knows tells whether the farm has a species.
func (f *Farm) Knows(slug grow.Slug) bool {
	return slices.ContainsFunc(f.Species, func(s grow.Species) bool { return s.Slug == slug })
}

// SpeciesOf is a species as the farm has it, with a strain's own figures where
// it has some. A nil strain is the species itself.
func (f *Farm) SpeciesOf(slug grow.Slug, strain *string) (grow.Species, bool) {
	return grow.SpeciesOf(f.Species, f.Own, slug, textCell(strain))
}

// PutSpecies sets the farm's own figures of a species, or of one strain of it.
// Figures that the override leaves out stay as they were. A slug that nobody
// knows makes a species of the farm's own.
func (s *Store) PutSpecies(ctx context.Context, _ Actor, o grow.Override) error {
	farm, err := s.Farm(ctx)
	if err != nil {
		return err
	}
	if err := o.Validate(); err != nil {
		return err
	}
	if !farm.Knows(o.Slug) {
		if o.Strain != "" {
			return grow.Errorf(grow.NotFound, "%q is not a species this farm knows", o.Slug)
		}
		if _, err := grow.NewSpecies(o); err != nil {
			return err
		}
	}
	return s.writing(ctx, func(t *tx) error {
		t.farmChanged()
		return t.putSpecies(o)
	})
}

func (t *tx) putSpecies(o grow.Override) error {
	merged := grow.Override{}
	var data string
	err := t.one(`SELECT data FROM species_own WHERE slug = ? AND strain = ?`, []any{string(o.Slug), nameKey(o.Strain)}, &data)
	switch {
	case err == nil:
		err = json.Unmarshal([]byte(data), &merged)
	case errors.Is(err, sql.ErrNoRows):
		err = nil
	}
	if err != nil {
		return err
	}
	change, err := json.Marshal(o) // leaves out what is nil
	if err != nil {
		return err
	}
	if err := json.Unmarshal(change, &merged); err != nil {
		return err
	}
	text, err := json.Marshal(merged)
	if err != nil {
		return err
	}
	_, err = t.exec(`INSERT INTO species_own (slug, strain, data) VALUES (?1, ?2, ?3) ON CONFLICT (slug, strain) DO UPDATE SET data = ?3`,
		string(o.Slug), nameKey(o.Strain), string(text))
	return err
}
