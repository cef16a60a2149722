package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"bagmark/grow"
)

// Writing together
//
// A flush to the disk takes longer than all the rest of keeping an entry. So
// whoever has its turn to write takes along what is waiting by then: all in one
// transaction, each change behind a savepoint of its own, and one flush for all.
// A change is acknowledged only after that flush. A refused change leaves
// nothing behind and hinders no other; where the transaction itself is lost, all
// in it fail. Who comes alone writes alone, and waits for nobody.

// mostTogether is how many changes share a transaction at most, so that the
// first does not wait for ever longer.
const mostTogether = 64

// change is what one caller wants written.
type change struct {
	ctx      context.Context
	do       func(*tx) error
	tx       *tx // while and after it runs
	err      error
	panicked any
	done     chan struct{} // closed once err is final
}

// writing runs f in a write transaction: kept with a flush if f returns nil,
// undone if it fails or panics. Nothing it wrote is lost once writing has
// returned nil.
func (s *Store) writing(ctx context.Context, f func(*tx) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	c := &change{ctx: ctx, do: f, done: make(chan struct{})}
	select {
	case s.turn <- struct{}{}:
		s.together(c)
	case s.changes <- c: // taken along
	case <-ctx.Done():
		return ctx.Err()
	}
	<-c.done
	if c.panicked != nil {
		panic(c.panicked)
	}
	return databaseError(c.err)
}

// together runs a change, and those that wait by then, and flushes them as one.
// The turn to write ends with it.
func (s *Store) together(first *change) {
	defer func() { <-s.turn }()
	var kept []*change
	err := s.inOneTransaction(first, &kept)
	for _, c := range kept {
		if c.err = err; err == nil {
			for _, after := range c.tx.after {
				after()
			}
		}
	}
	for _, c := range kept {
		close(c.done)
	}
}

// inOneTransaction runs changes and commits those that are kept. A change that
// changes what laws rest on, or the farm itself, is the last: the next one needs
// them as they are after the commit.
func (s *Store) inOneTransaction(c *change, kept *[]*change) error {
	t, err := s.write.BeginTx(context.WithoutCancel(c.ctx), nil)
	if err != nil {
		for ; c != nil; c = s.waiting() { // they have waited as long for the database as the first
			*kept = append(*kept, c)
		}
		return err
	}
	defer t.Rollback() // after a commit this does nothing
	for c != nil {
		c.tx = &tx{Tx: t, ctx: context.WithoutCancel(c.ctx), now: s.moment(), store: s, lawsAt: s.laws.count(), tracksAt: s.tracks.count(), earlierAt: s.tracks.earlierCount()}
		intact := c.run(len(*kept) > 0)
		if c.err == nil {
			*kept = append(*kept, c)
		} else {
			close(c.done)
		}
		switch {
		case !intact && len(*kept) == 0:
			return nil
		case !intact:
			return grow.Errorf(grow.Busy, "what was written together with this failed; nothing was saved, try again")
		}
		if len(*kept) == mostTogether || c.tx.lawChanges > 0 || c.tx.changesFarm {
			break
		}
		c = s.waiting()
	}
	if err := s.stillThere(); err != nil {
		return err
	}
	return t.Commit()
}

// waiting is a change whose caller waits already, nil if none does.
func (s *Store) waiting() *change {
	select {
	case c := <-s.changes:
		return c
	default:
		return nil
	}
}

// run runs one change, behind a savepoint if others are in the transaction
// already. It tells whether the transaction can go on.
func (c *change) run(behind bool) (intact bool) {
	if !behind {
		c.guarded()
		return c.err == nil
	}
	if _, c.err = c.tx.exec(`SAVEPOINT change`); c.err != nil {
		return false
	}
	if c.guarded(); c.err == nil {
		_, c.err = c.tx.exec(`RELEASE change`)
		return c.err == nil
	}
	_, err := c.tx.exec(`ROLLBACK TO change; RELEASE change`)
	return err == nil
}

// guarded runs the change; a panic is for who wanted the change, not for who runs it.
func (c *change) guarded() {
	defer func() {
		if c.panicked = recover(); c.panicked != nil {
			c.err = errors.New("a change panicked")
		}
	}()
	c.err = c.do(c.tx)
}

// moment is the now of a transaction.
func (s *Store) moment() time.Time { return s.now().UTC().Truncate(time.Microsecond) }

// stillThere refuses to commit to files that nobody will find again: SQLite goes
// on writing to a database that was moved or deleted under it.
func (s *Store) stillThere() error {
	at, err := os.Stat(filepath.Join(s.dir, databaseName))
	switch {
	case errors.Is(err, fs.ErrNotExist), err == nil && s.file != nil && !os.SameFile(at, s.file):
		return &grow.Error{Kind: grow.Internal, Cause: fmt.Errorf("%s is not the folder it was", s.dir), // where it lies is for the log, not for a browser
			Message: "the farm's folder is no longer where it was: nothing was saved; put it back, or stop bagmark and start it with the right folder"}
	case err != nil:
		return diskError(err)
	}
	return nil
}
