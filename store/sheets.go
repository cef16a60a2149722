package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"regexp"

	"bagmark/grow"
)

// The farm's own sheets, and how far its printers print off the mark, are kept
// as JSON objects: what is in them is package labels' business.

var sheetName = regexp.MustCompile(`^[a-z0-9][a-z0-9.-]{0,39}$`)

const mostSheet = 16 << 10

// OwnSheets are the sheets that the farm described itself, by name.
func (s *Store) OwnSheets(ctx context.Context) (map[string]json.RawMessage, error) {
	return s.named(ctx, `SELECT name, data FROM sheets_own`)
}

// PutOwnSheet keeps a sheet of the farm's own; null takes it away.
func (s *Store) PutOwnSheet(ctx context.Context, name string, data json.RawMessage) error {
	return s.putNamed(ctx, name, data, `DELETE FROM sheets_own WHERE name = ?`,
		`INSERT INTO sheets_own (name, data) VALUES (?1, ?2) ON CONFLICT (name) DO UPDATE SET data = ?2`)
}

// Corrections say, for each sheet that was measured, how far off it prints.
func (s *Store) Corrections(ctx context.Context) (map[string]json.RawMessage, error) {
	return s.named(ctx, `SELECT sheet, data FROM sheet_corrections`)
}

// PutCorrection keeps the correction of a sheet; null takes it away.
func (s *Store) PutCorrection(ctx context.Context, sheet string, data json.RawMessage) error {
	return s.putNamed(ctx, sheet, data, `DELETE FROM sheet_corrections WHERE sheet = ?`,
		`INSERT INTO sheet_corrections (sheet, data) VALUES (?1, ?2) ON CONFLICT (sheet) DO UPDATE SET data = ?2`)
}

func (s *Store) named(ctx context.Context, query string) (map[string]json.RawMessage, error) {
	out := map[string]json.RawMessage{}
	err := s.reading(ctx, func(t *tx) error {
		return t.each(query, nil, func(rows *sql.Rows) error {
			var name, data string
			err := rows.Scan(&name, &data)
			out[name] = json.RawMessage(data)
			return err
		})
	})
	return out, err
}

func (s *Store) putNamed(ctx context.Context, name string, data json.RawMessage, remove, put string) error {
	if !sheetName.MatchString(name) {
		p := grow.Problems{"name": "must be lower-case letters, digits, dots and hyphens, at most 40"}
		return p.Err("this sheet cannot be kept like this")
	}
	if len(data) == 0 || string(data) == "null" {
		return s.writing(ctx, func(t *tx) error { _, err := t.exec(remove, name); return err })
	}
	if err := checkObject(data, mostSheet); err != nil {
		return err
	}
	return s.writing(ctx, func(t *tx) error { _, err := t.exec(put, name, string(data)); return err })
}
