package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"bagmark/grow"

	_ "github.com/mattn/go-sqlite3" // the database
)

// Store is an open farm. It is safe for concurrent use.
type Store struct {
	dir    string
	now    func() time.Time
	random io.Reader
	lock   *folderLock
	write  *sql.DB     // one connection
	file   os.FileInfo // the database as it was opened
	read   *sql.DB

	turn    chan struct{} // full while somebody writes
	changes chan *change  // to who writes

	farm   cachedFarm
	counts cachedCounts
	laws   cachedLaws
	tracks cachedTracks
}

// Options say how to open a farm. The zero value is the ordinary way.
type Options struct {
	Now    func() time.Time // time.Now if nil
	Random io.Reader        // crypto/rand if nil
	// Alone locks the folder against a second server, an import or a restore.
	Alone bool
	// MustExist refuses a folder without a farm instead of making one.
	MustExist bool
	// TimeZone is the IANA name for a new farm, UTC if empty.
	TimeZone string
}

const (
	databaseName = "farm.db"
	photosName   = "photos"
	lockName     = "lock"
)

// Open opens the farm in dir, making it on first use, and brings its database
// up to this program's schema.
func Open(ctx context.Context, dir string, o Options) (_ *Store, err error) {
	s := &Store{dir: dir, now: o.Now, random: o.Random, turn: make(chan struct{}, 1), changes: make(chan *change)}
	if s.now == nil {
		s.now = time.Now
	}
	if s.random == nil {
		s.random = rand.Reader
	}
	if err := s.openFolder(o); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.Close())
		}
	}()
	if err := s.openDatabase(ctx); err != nil {
		return nil, err
	}
	if err := s.migrate(ctx, o.TimeZone); err != nil {
		return nil, err
	}
	return s, s.verifySettings(ctx)
}

// HoldsFarm tells whether dir has a farm's database.
func HoldsFarm(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, databaseName))
	return err == nil
}

func (s *Store) openFolder(o Options) error {
	if o.MustExist && !HoldsFarm(s.dir) {
		return grow.Errorf(grow.NotFound, "there is no farm in %s; serve makes one on first use", s.dir)
	}
	if err := os.MkdirAll(filepath.Join(s.dir, photosName), 0o700); err != nil {
		return folderError(s.dir, err)
	}
	if !o.Alone {
		return nil
	}
	lock, err := lockFolder(filepath.Join(s.dir, lockName))
	var onPath *fs.PathError
	switch {
	case errors.As(err, &onPath): // it could not even be opened
		return folderError(s.dir, err)
	case err != nil:
		return &grow.Error{Kind: grow.Conflict, Message: "the farm in " + s.dir + " is in use by another bagmark; stop that one first", Cause: err}
	}
	s.lock = lock
	return nil
}

func folderError(dir string, err error) error {
	e := &grow.Error{Kind: grow.Internal, Message: "the folder " + dir + " cannot be used", Cause: err}
	switch {
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		e.Message += ": bagmark may not write there"
	case errors.Is(err, fs.ErrExist):
		e.Message += ": there is a file in its way"
	default:
		e.Message += ": " + err.Error()
	}
	return e
}

// openDatabase opens the two pools. Everything that a connection must have is
// in its address, so that every connection has it.
func (s *Store) openDatabase(ctx context.Context) (err error) {
	path := filepath.Join(s.dir, databaseName)
	s.write, err = sql.Open("sqlite3", dsn(path, writingMode))
	if err != nil {
		return err
	}
	s.write.SetMaxOpenConns(1)
	if err := s.write.PingContext(ctx); err != nil {
		return databaseError(err)
	}
	if err := os.Chmod(path, 0o600); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return folderError(s.dir, err)
	}
	if s.file, err = os.Stat(path); err != nil {
		return folderError(s.dir, err)
	}
	s.read, err = sql.Open("sqlite3", dsn(path, "mode=ro&_foreign_keys=1&_busy_timeout=5000&_query_only=1&"+keepStatements))
	if err != nil {
		return err
	}
	s.read.SetMaxOpenConns(4)
	s.read.SetMaxIdleConns(4)
	return nil
}

const writingMode = "_journal_mode=WAL&_synchronous=FULL&_foreign_keys=1&_busy_timeout=5000&_txlock=immediate&_cell_size_check=1&_cache_size=-32000&" + keepStatements

// keepStatements has each connection keep so many statements prepared: parsing
// SQL is a sixth of the work of keeping an entry.
const keepStatements = "_stmt_cache_size=100"

func dsn(path, settings string) string {
	return "file:" + (&url.URL{Path: path}).EscapedPath() + "?" + settings
}

// verifySettings reads back what durability rests on, and refuses to run
// without it.
func (s *Store) verifySettings(ctx context.Context) error {
	var synchronous, keys int
	var journal string
	row := s.write.QueryRowContext(ctx, `SELECT s.synchronous, j.journal_mode, f.foreign_keys FROM pragma_synchronous s, pragma_journal_mode j, pragma_foreign_keys f`)
	if err := row.Scan(&synchronous, &journal, &keys); err != nil {
		return databaseError(err)
	}
	if synchronous != 2 || journal != "wal" || keys != 1 {
		return grow.Errorf(grow.Internal, "the database would not keep what it is told (synchronous %d, journal %s, foreign keys %d): is the folder on a network share?", synchronous, journal, keys)
	}
	return nil
}

// Close finishes what is under way, folds the write-ahead log into the
// database and unlocks the folder.
func (s *Store) Close() error {
	var errs []error
	if s.read != nil {
		errs = append(errs, s.read.Close())
	}
	if s.write != nil {
		_, err := s.write.Exec(`PRAGMA wal_checkpoint(TRUNCATE)`)
		errs = append(errs, err, s.write.Close())
	}
	if s.lock != nil {
		errs = append(errs, s.lock.unlock())
	}
	return errors.Join(errs...)
}

// Version is the version of SQLite that is compiled in.
func Version() (string, error) {
	db, err := sql.Open("sqlite3", ":memory:")
	if err != nil {
		return "", err
	}
	defer db.Close()
	var v string
	err = db.QueryRow(`SELECT sqlite_version()`).Scan(&v)
	return v, err
}
