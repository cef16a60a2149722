package store

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"bagmark/grow"

	"github.com/mattn/go-sqlite3"
)

// mostProblems is how many problems of one sort a report lists.
const mostProblems = 20

// Report is what a check or a backup found in a farm. Without problems all is
// well.
type Report struct {
	Problems []string
	Bags     int
	Entries  int
	Photos   int
}

// Check goes over a farm without changing anything, beside a running server if
// there is one: the database itself, its schema, every code, the chain of the
// log, every bag's state against its log, every run's verdict against its readings,
// every photo. An error means that the
// check could not be made.
func Check(ctx context.Context, dir string) (Report, error) {
	if !HoldsFarm(dir) {
		return Report{}, grow.Errorf(grow.NotFound, "there is no farm in %s", dir)
	}
	s := &Store{dir: dir, now: time.Now, random: rand.Reader}
	var err error
	s.read, err = sql.Open("sqlite3", dsn(filepath.Join(dir, databaseName), checkingMode))
	if err != nil {
		return Report{}, err
	}
	defer s.read.Close()
	c := checking{}
	err = s.reading(ctx, func(t *tx) error {
		c.tx = t
		return c.all()
	})
	return c.Report, err
}

// checking is a check under way, in one read transaction: all of it is of one
// moment.
type checking struct {
	*tx
	Report
	farm *Farm
}

// found notes problems of one sort, not all of them if there are many.
func (c *checking) found(problems ...string) {
	if more := len(problems) - mostProblems; more > 0 {
		problems = append(slices.Clone(problems[:mostProblems]), fmt.Sprintf("… and %d more like these", more))
	}
	c.Problems = append(c.Problems, problems...)
}

func (c *checking) all() error {
	version, err := knownVersion(c.ctx, c)
	if err != nil {
		return err
	}
	newest, err := SchemaVersion()
	if err != nil {
		return err
	}
	if version < newest {
		return grow.Errorf(grow.Conflict, "this farm was last used by an older bagmark; start serve once, which brings it up to date, then check")
	}
	if err := c.database(version); err != nil {
		return err
	}
	if c.farm, err = c.loadFarm(); err != nil {
		c.found("the settings cannot be read: " + err.Error())
		return nil
	}
	for _, step := range []func() error{c.codes, c.chain, c.stockChain, c.states, c.stockStates, c.runVerdicts, c.descent, c.photos, c.rooms} {
		if err := c.goOn(step()); err != nil {
			return err
		}
	}
	return nil
}

// goOn makes a problem of a value that no program could have kept, so that what
// comes after it is checked too. What the database or the disk says ends the check.
func (c *checking) goOn(err error) error {
	var ofDatabase sqlite3.Error
	var ofDisk *fs.PathError
	if err == nil || c.ctx.Err() != nil || errors.As(err, &ofDatabase) || errors.As(err, &ofDisk) {
		return err
	}
	cause := err
	for inner := errors.Unwrap(cause); inner != nil; inner = errors.Unwrap(cause) {
		cause = inner
	}
	c.found("a part of the farm cannot be read to its end: " + cause.Error())
	return nil
}

func (c *checking) database(version int) error {
	damaged, err := innerProblems(c.ctx, c, "integrity_check")
	if err != nil {
		return err
	}
	c.found(damaged...)
	strange, err := schemaProblems(c.ctx, c, version)
	c.found(strange...)
	return err
}

// codes holds the one table of codes against the tables of what carries them.
func (c *checking) codes() error {
	var problems []string
	codes, err := texts(c.ctx, c, `SELECT code FROM codes`)
	if err != nil {
		return err
	}
	for _, code := range codes {
		if kept, err := grow.ParseCode(code); err != nil || string(kept) != code {
			problems = append(problems, fmt.Sprintf("the code %q is not a legal one", code))
		}
	}
	for _, query := range []string{
		`SELECT 'the label ' || code || ' is kept as a ' || kind || ' but is on something else' FROM codes c WHERE kind <> coalesce(
			(SELECT 'bag' FROM bags WHERE code = c.code), (SELECT 'bag' FROM old_codes WHERE code = c.code),
			(SELECT 'place' FROM places WHERE code = c.code), (SELECT 'lot' FROM lots WHERE code = c.code), (SELECT 'lot' FROM jars WHERE code = c.code), (SELECT 'lot' FROM steriliser_runs WHERE code = c.code),
			(SELECT 'card' FROM cards WHERE code = c.code), 'blank')`,
		`SELECT 'the label ' || code || ' is on more than one thing' FROM (SELECT code FROM bags UNION ALL SELECT code FROM old_codes
			UNION ALL SELECT code FROM places UNION ALL SELECT code FROM lots UNION ALL SELECT code FROM jars UNION ALL SELECT code FROM steriliser_runs WHERE code IS NOT NULL UNION ALL SELECT code FROM cards) GROUP BY code HAVING count(*) > 1`,
		`SELECT 'the run called ' || name || ' has no code' FROM steriliser_runs WHERE code IS NULL`,
		`SELECT 'the load plan of the run called ' || name || ' is no list of positions' FROM steriliser_runs WHERE json_type(load) <> 'array'
			OR EXISTS (SELECT 1 FROM json_each(load) WHERE type <> 'object')`,
		`SELECT 'lot ' || name || ' has a day that cannot be' FROM lots WHERE made_on NOT BETWEEN -1000000 AND 4000000 OR expires_on NOT BETWEEN -1000000 AND 4000000`,
		`SELECT 'batch ' || b.code || ' should have ' || b.bags || ' bags and has ' || count(g.id) FROM batches b LEFT JOIN bags g ON g.batch_id = b.id AND g.given_back_at IS NULL
			GROUP BY b.id HAVING count(g.id) <> b.bags`,
	} {
		wrong, err := texts(c.ctx, c, query)
		if err != nil {
			return err
		}
		problems = append(problems, wrong...)
	}
	c.found(problems...)
	return nil
}

// chain works out each entry's hash anew from the one received before it.
func (c *checking) chain() error {
	var problems []string
	var before []byte
	err := c.each(`SELECT `+entryColumns+`, e.hash FROM entries e ORDER BY e.seq`, nil, func(rows *sql.Rows) error {
		var hash []byte
		r, err := scanEntry(rows, &hash)
		if err != nil {
			return err
		}
		c.Entries++
		if !bytes.Equal(r.sum(before), hash) {
			problems = append(problems, fmt.Sprintf("entry %s (the %d. received) or the one before it was changed or taken out after it was kept", r.id, r.seq))
		}
		before = hash
		return nil
	})
	c.found(problems...)
	return err
}

// photos looks at every photo's file, and for files without a photo that are
// no longer on their way.
func (c *checking) photos() error {
	sums, err := c.photoSums()
	if err != nil {
		return err
	}
	c.Photos = len(sums)
	var problems []string
	for id, sum := range sums {
		data, err := os.ReadFile(c.store.photoPath(id))
		got := sha256.Sum256(data)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			problems = append(problems, "the file of photo "+id+" is missing")
		case err != nil:
			problems = append(problems, "the file of photo "+id+" cannot be read: "+err.Error())
		case !bytes.Equal(got[:], sum):
			problems = append(problems, "the file of photo "+id+" is not what was kept")
		}
	}
	files, err := photoFiles(filepath.Join(c.store.dir, photosName))
	if err != nil {
		return err
	}
	for _, f := range files {
		if _, known := sums[f.id]; !known && c.now.Sub(f.changed) > strayLife {
			problems = append(problems, "the file "+f.path+" belongs to no photo")
		}
	}
	slices.Sort(problems)
	c.found(problems...)
	lost, err := texts(c.ctx, c, `SELECT 'entry ' || id || ' shows a photo that the farm does not have or does not count as used'
		FROM (SELECT id, detail FROM entries WHERE kind = 'photo' UNION ALL SELECT id, detail FROM stock_entries WHERE kind = 'photo') e
		WHERE NOT EXISTS (SELECT 1 FROM photos p WHERE p.id = e.detail ->> '$.photo' AND p.used = 1)`)
	c.found(lost...)
	return err
}
