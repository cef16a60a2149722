package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"

	"bagmark/grow"
)

// checkingMode opens a database for checking: nothing can be written, but it is
// not open read-only, for then SQLite reads no CHECK constraints and would find
// nothing against them.
const checkingMode = "mode=rw&_query_only=1&_foreign_keys=1&_busy_timeout=5000"

// asker is what can be asked: a connection, a pool or a transaction.
type asker interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// texts gives the rows of a query with one text column.
func texts(ctx context.Context, db asker, query string, args ...any) ([]string, error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, databaseError(err)
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return nil, databaseError(err)
		}
		out = append(out, s)
	}
	return out, databaseError(rows.Err())
}

// schemaOf lists everything a database is made of, as the statements that made
// it: tables, indexes, triggers, views.
func schemaOf(ctx context.Context, db asker) ([]string, error) {
	return texts(ctx, db, `SELECT type || ' ' || name || ' on ' || tbl_name || ': ' || coalesce(sql, '') FROM sqlite_schema ORDER BY 1`)
}

// schemaAt is the schema that this program's migrations make up to a version.
func schemaAt(ctx context.Context, version int) ([]string, error) {
	all, err := allMigrations()
	if err != nil {
		return nil, err
	}
	db, err := sql.Open("sqlite3", ":memory:")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	db.SetMaxOpenConns(1) // each connection would have a memory of its own
	for _, m := range all {
		if m.number > version {
			break
		}
		if _, err := db.ExecContext(ctx, m.sql); err != nil {
			return nil, databaseError(err)
		}
	}
	return schemaOf(ctx, db)
}

// knownVersion reads a database's schema version and refuses one that this
// program does not know.
func knownVersion(ctx context.Context, db asker) (int, error) {
	newest, err := SchemaVersion()
	if err != nil {
		return 0, err
	}
	var version int
	if err := db.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&version); err != nil {
		return 0, databaseError(err)
	}
	if version > newest {
		return 0, grow.Errorf(grow.Conflict, "this farm was last used by a newer bagmark (its database has version %d, this program knows %d); use the newer program", version, newest)
	}
	if version < 1 {
		return 0, grow.Errorf(grow.Invalid, "this is not a farm's database")
	}
	return version, nil
}

// schemaProblems tells how a database's schema differs from what the
// migrations make.
func schemaProblems(ctx context.Context, db asker, version int) ([]string, error) {
	want, err := schemaAt(ctx, version)
	if err != nil {
		return nil, err
	}
	got, err := schemaOf(ctx, db)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, s := range got {
		if !slices.Contains(want, s) {
			out = append(out, fmt.Sprintf("the database has what no bagmark made: %.80q", s))
		}
	}
	for _, s := range want {
		if !slices.Contains(got, s) {
			out = append(out, fmt.Sprintf("the database lacks: %.80q", s))
		}
	}
	return out, nil
}

// innerProblems runs one of SQLite's own checks, integrity_check or
// quick_check, and then looks for rows that point nowhere.
func innerProblems(ctx context.Context, db asker, pragma string) ([]string, error) {
	found, err := texts(ctx, db, `SELECT * FROM pragma_`+pragma)
	if err != nil {
		return nil, err
	}
	var out []string
	if !slices.Equal(found, []string{"ok"}) {
		for _, f := range found {
			out = append(out, "the database is damaged: "+f)
		}
	}
	lost, err := texts(ctx, db, `SELECT "table" || ' points to a row of ' || parent || ' that is not there' FROM pragma_foreign_key_check LIMIT 20`)
	return append(out, lost...), err
}
