package store

import (
	"context"
	"database/sql"
	"errors"
	"syscall"
	"time"

	"bagmark/grow"

	"github.com/mattn/go-sqlite3"
)

// tx is one transaction with its one now. Helpers take a tx and never begin
// one.
type tx struct {
	*sql.Tx
	ctx   context.Context
	now   time.Time
	store *Store
	after []func() // run once committed
	reads bool     // and nothing else

	lawsAt     int // changes of what laws rest on when the transaction began
	lawChanges int // and those that it makes itself

	tracksAt  int   // changes of readings when the transaction began
	earlierAt int   // and of those before midnight
	air       *bool // whether anything is known of any place, once asked

	changesFarm bool // its settings, conditions or species

	former []formerPlace // names of places before, once asked for
}

// reading runs f in a read transaction: everything f reads is of one moment.
func (s *Store) reading(ctx context.Context, f func(*tx) error) error {
	t, err := s.read.BeginTx(ctx, nil)
	if err != nil {
		return databaseError(err)
	}
	defer t.Rollback() // after a commit this does nothing
	x := &tx{Tx: t, reads: true, ctx: ctx, now: s.moment(), store: s, lawsAt: s.laws.count(), tracksAt: s.tracks.count(), earlierAt: s.tracks.earlierCount()}
	if err := f(x); err != nil {
		return databaseError(err)
	}
	if err := t.Commit(); err != nil {
		return databaseError(err)
	}
	for _, after := range x.after {
		after()
	}
	return nil
}

// keep keeps in memory what was worked out from what the transaction sees: at once
// where it only reads, so that it need not be worked out again in the same
// transaction, else once committed. do must look whether it still holds: whoever
// changes it says so after its own commit.
func (t *tx) keep(do func()) {
	if t.reads {
		do()
		return
	}
	t.after = append(t.after, do)
}

// exec runs one statement.
func (t *tx) exec(query string, args ...any) (sql.Result, error) {
	return t.ExecContext(t.ctx, query, args...)
}

// insert runs one INSERT and gives the new row's number.
func (t *tx) insert(query string, args ...any) (int64, error) {
	r, err := t.exec(query, args...)
	if err != nil {
		return 0, err
	}
	return r.LastInsertId()
}

// one scans a single row; no row is sql.ErrNoRows.
func (t *tx) one(query string, args []any, into ...any) error {
	return t.QueryRowContext(t.ctx, query, args...).Scan(into...)
}

// each calls f for every row.
func (t *tx) each(query string, args []any, f func(*sql.Rows) error) error {
	rows, err := t.QueryContext(t.ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := f(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// databaseError turns what SQLite says into an error for people; errors that
// are ours already pass through.
func databaseError(err error) error {
	var ours *grow.Error
	var lite sqlite3.Error
	switch {
	case err == nil, errors.As(err, &ours), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case errors.As(err, &lite):
		return &grow.Error{Kind: kindOfSQLite(lite), Message: wordsOfSQLite(lite), Cause: err}
	}
	return &grow.Error{Kind: grow.Internal, Message: "the farm's database failed", Cause: err}
}

// isFault tells a failure of the farm itself from a refusal of what was asked.
func isFault(err error) bool {
	k := grow.KindOf(err)
	return k == grow.Internal || k == grow.Busy
}

func kindOfSQLite(e sqlite3.Error) grow.ErrorKind {
	if e.Code == sqlite3.ErrBusy || e.Code == sqlite3.ErrLocked {
		return grow.Busy
	}
	return grow.Internal
}

func wordsOfSQLite(e sqlite3.Error) string {
	if e.Code == sqlite3.ErrIoErr && errors.Is(e.SystemErrno, syscall.ENOSPC) { // there is not even room to open it
		e.Code = sqlite3.ErrFull
	}
	switch e.Code {
	case sqlite3.ErrBusy, sqlite3.ErrLocked:
		return "the farm's database is busy; try again in a moment"
	case sqlite3.ErrFull:
		return "the disk is full: nothing was saved; make room on the farm's disk"
	case sqlite3.ErrReadonly, sqlite3.ErrPerm:
		return "the farm's folder cannot be written: nothing was saved"
	case sqlite3.ErrCantOpen, sqlite3.ErrIoErr:
		return "the farm's disk does not answer: nothing was saved"
	case sqlite3.ErrCorrupt, sqlite3.ErrNotADB:
		return "the farm's database is damaged: stop, and restore the last backup"
	}
	return "the farm's database refused this"
}

// micros is an instant as it is kept.
func micros(t time.Time) int64 { return t.UnixMicro() }

// microsOr is an instant as it is kept, null if there is none.
func microsOr(t *time.Time) *int64 {
	if t == nil {
		return nil
	}
	us := t.UnixMicro()
	return &us
}

// instant is a kept instant in the farm's zone.
func instant(us int64, zone *time.Location) time.Time { return time.UnixMicro(us).In(zone) }
