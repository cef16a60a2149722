package store

import (
	"context"
	"database/sql"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"bagmark/grow"
)

// photoGrace keeps photos out of a backup that may be dropped while it is being
// made.
const photoGrace = photoLife - 24*time.Hour

// Backup writes the whole farm as it is at one moment into one file, beside a
// running server if there is one. The file has its name only once it was
// written, flushed, read again and found whole; a backup of that name before is
// then replaced. It holds no sign-ins of browsers. The report says what is in it.
func (s *Store) Backup(ctx context.Context, path string) (r Report, err error) {
	if err := s.mayBecomeBackup(path); err != nil {
		return r, err
	}
	folder := filepath.Dir(path)
	work, err := os.MkdirTemp(folder, filepath.Base(path)+".tmp-*") // for this user's eyes only
	if errors.Is(err, fs.ErrNotExist) {
		return r, &grow.Error{Kind: grow.NotFound, Message: "the folder " + folder + " is not there; make it, or plug in what it is on", Cause: err}
	}
	if err != nil {
		return r, diskError(err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(work)) }()
	copied := filepath.Join(work, databaseName)
	if err := s.snapshot(ctx, copied); err != nil {
		return r, err
	}
	m, sources, r, err := s.contents(ctx, copied)
	if err != nil {
		return r, err
	}
	written := filepath.Join(work, filepath.Base(path))
	if err := writeBackup(written, m, sources); err != nil {
		return r, err
	}
	if err := verifyBackup(written); err != nil {
		return r, err
	}
	if err := os.Rename(written, path); err != nil {
		return r, diskError(err)
	}
	return r, syncFolder(folder)
}

// mayBecomeBackup refuses to put a backup in the place of anything but an
// earlier backup or an empty file.
func (s *Store) mayBecomeBackup(path string) error {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return diskError(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return diskError(err)
	}
	head := make([]byte, 4)
	if _, err := io.ReadFull(f, head); !info.Mode().IsRegular() || info.Size() > 0 && (err != nil || string(head) != "PK\x03\x04") {
		return grow.Errorf(grow.Conflict, "%s is there already and is no backup; choose another name", path)
	}
	return nil
}

// snapshot writes the database as it is at one moment to a new file.
func (s *Store) snapshot(ctx context.Context, path string) error {
	db, err := sql.Open("sqlite3", dsn(filepath.Join(s.dir, databaseName), "mode=ro&_busy_timeout=5000"))
	if err != nil {
		return err
	}
	defer db.Close()
	_, err = db.ExecContext(ctx, `VACUUM INTO ?`, path)
	return databaseError(err)
}

// contents takes out of the copy what no backup holds, checks it, and lists
// what goes into the file.
func (s *Store) contents(ctx context.Context, copied string) (m manifest, sources map[string]string, r Report, err error) {
	db, err := sql.Open("sqlite3", dsn(copied, "mode=rw&_journal_mode=MEMORY&_synchronous=OFF&_foreign_keys=1&_secure_delete=on"))
	if err != nil {
		return m, nil, r, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	db.SetMaxOpenConns(1)
	m.MadeAt = s.now().UTC().Truncate(time.Second)
	if err := takeOut(ctx, db, m.MadeAt); err != nil {
		return m, nil, r, err
	}
	if m.SchemaVersion, err = knownVersion(ctx, db); err != nil {
		return m, nil, r, err
	}
	problems, err := innerProblems(ctx, db, "quick_check")
	if err != nil {
		return m, nil, r, err
	}
	if len(problems) > 0 {
		return m, nil, r, grow.Errorf(grow.Internal, "the farm's database is damaged, so no backup was made (%s); restore the last good one", strings.Join(problems, "; "))
	}
	if err := db.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM bags), (SELECT count(*) FROM entries)`).Scan(&r.Bags, &r.Entries); err != nil {
		return m, nil, r, databaseError(err)
	}
	photos, err := texts(ctx, db, `SELECT id FROM photos ORDER BY id`)
	if err != nil {
		return m, nil, r, err
	}
	m.Files, sources = []manifestFile{{Name: databaseName}}, map[string]string{databaseName: copied}
	for _, id := range photos {
		// A photo lost from the disk is no reason to have no backup; check tells.
		if _, err := os.Stat(s.photoPath(id)); err == nil {
			m.Files = append(m.Files, manifestFile{Name: photoName(id)})
			sources[photoName(id)] = s.photoPath(id)
		}
	}
	r.Photos = len(m.Files) - 1
	return m, sources, r, nil
}

// takeOut removes the sign-ins of browsers, what hangs on them, and photos
// about to be dropped, and writes noughts where they were.
func takeOut(ctx context.Context, db *sql.DB, now time.Time) error {
	for _, step := range []struct {
		query string
		args  []any
	}{
		{`DELETE FROM benches`, nil},
		{`DELETE FROM pairings`, nil},
		{`DELETE FROM secrets WHERE over <> 'token'`, nil},
		{`UPDATE devices SET revoked_at = ? WHERE kind = 'browser' AND revoked_at IS NULL`, []any{micros(now)}},
		{`DELETE FROM photos WHERE used = 0 AND made_at < ?`, []any{micros(now.Add(-photoGrace))}},
	} {
		if _, err := db.ExecContext(ctx, step.query, step.args...); err != nil {
			return databaseError(err)
		}
	}
	return nil
}

// verifyBackup reads a backup as a restore would.
func verifyBackup(path string) (err error) {
	b, err := openBackup(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.close()) }()
	return b.verify()
}
