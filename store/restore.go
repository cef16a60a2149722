package store

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"bagmark/grow"
)

// stagingName is the folder inside the farm's in which a restore unpacks. Its
// database moves into place last: until then the folder holds no farm.
const stagingName = "restoring"

// Restore unpacks a backup into dir, which must hold no farm and not be in use,
// and brings the farm of an older program up to date. Nothing in the file is
// taken on trust. Either the whole farm is there afterwards, or none.
func Restore(ctx context.Context, dir, path string) (err error) {
	b, err := openBackup(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.close()) }()
	if err := knownManifest(b.manifest); err != nil {
		return err
	}
	unlock, err := takeEmptyFolder(dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, unlock()) }()
	staging := filepath.Join(dir, stagingName)
	if err := makeFolder(staging); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(staging)) }()
	if err := b.unpack(staging); err != nil {
		return err
	}
	if err := judgeDatabase(ctx, filepath.Join(staging, databaseName), b.manifest); err != nil {
		return err
	}
	if err := judgePhotos(staging, b.manifest); err != nil {
		return err
	}
	if err := bringUpToDate(ctx, staging); err != nil {
		return err
	}
	if err := moveIn(staging, dir); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(dir))
}

// knownManifest refuses a backup that a newer program made before anything is
// unpacked.
func knownManifest(m manifest) error {
	newest, err := SchemaVersion()
	if err != nil {
		return err
	}
	if m.SchemaVersion > newest {
		return grow.Errorf(grow.Conflict, "this backup was made by a newer bagmark (version %d of the database, this program knows %d); restore it with the newer program", m.SchemaVersion, newest)
	}
	if m.SchemaVersion < 1 {
		return damaged("its manifest has no version", nil)
	}
	return nil
}

// takeEmptyFolder makes the folder if need be, locks it, and makes sure that no
// farm is in it, nor the remains of one.
func takeEmptyFolder(dir string) (unlock func() error, err error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, folderError(dir, err)
	}
	if HoldsFarm(dir) {
		return nil, grow.Errorf(grow.Conflict, "there is a farm in %s already; restore into an empty folder", dir)
	}
	lock, err := lockFolder(filepath.Join(dir, lockName))
	if err != nil {
		return nil, &grow.Error{Kind: grow.Conflict, Message: "the folder " + dir + " is in use by another bagmark; stop that one first", Cause: err}
	}
	if err := clearFolder(dir); err != nil {
		return nil, errors.Join(err, lock.unlock())
	}
	return lock.unlock, nil
}

// clearFolder undoes what a restore left that was killed half-way, and refuses
// a folder with anything in the way: a write-ahead log without its database
// would be played into the new one.
func clearFolder(dir string) error {
	staging, photos := filepath.Join(dir, stagingName), filepath.Join(dir, photosName)
	if there(filepath.Join(staging, databaseName)) && !there(filepath.Join(staging, photosName)) && !HoldsFarm(dir) {
		// Its photos had moved in already, its database had not.
		if err := os.Rename(photos, filepath.Join(staging, photosName)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return diskError(err)
		}
	}
	if err := os.RemoveAll(staging); err != nil {
		return diskError(err)
	}
	_ = os.Remove(photos) // goes only if it is empty
	for _, name := range []string{databaseName, databaseName + "-wal", databaseName + "-shm", databaseName + "-journal", photosName} {
		if there(filepath.Join(dir, name)) {
			return grow.Errorf(grow.Conflict, "%s holds %s of a farm; restore into an empty folder", dir, name)
		}
	}
	return nil
}

// there tells whether something has this name.
func there(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// judgeDatabase opens an unpacked database as what it is, a file from a
// stranger: nothing in it runs. Its schema is compared before anything else
// could use it.
func judgeDatabase(ctx context.Context, path string, m manifest) error {
	db, err := sql.Open("sqlite3", dsn(path, checkingMode))
	if err != nil {
		return err
	}
	defer db.Close()
	c, err := db.Conn(ctx)
	if err != nil {
		return damaged("its database cannot be opened", err)
	}
	defer c.Close()
	for _, pragma := range []string{`PRAGMA trusted_schema = OFF`, `PRAGMA cell_size_check = ON`} {
		if _, err := c.ExecContext(ctx, pragma); err != nil {
			return damaged("its database cannot be opened", err)
		}
	}
	version, err := knownVersion(ctx, c)
	if err != nil || version != m.SchemaVersion {
		return damaged("its database has another version than its manifest", err)
	}
	for _, judge := range []func() ([]string, error){
		func() ([]string, error) { return schemaProblems(ctx, c, version) },
		func() ([]string, error) { return innerProblems(ctx, c, "integrity_check") },
		func() ([]string, error) { return strangePhotos(ctx, c, m) },
	} {
		problems, err := judge()
		if err != nil {
			return damaged("its database cannot be read", err)
		}
		if len(problems) > 0 {
			return damaged(problems[0], nil)
		}
	}
	return nil
}

// judgePhotos looks at the first bytes of each photo: none may be what a decoder
// should not meet.
func judgePhotos(staging string, m manifest) error {
	for _, f := range m.Files {
		if _, photo := photoOfName(f.Name); !photo {
			continue
		}
		from, err := os.Open(filepath.Join(staging, filepath.FromSlash(f.Name)))
		if err != nil {
			return diskError(err)
		}
		err = asKept(from)
		from.Close() // it was only read
		if err != nil {
			return damaged(f.Name+" is no picture as photos are kept", err)
		}
	}
	return nil
}

// bringUpToDate has a farm found good run the migrations it has not seen. The
// backup itself is what it was before: the copy made beside it is not moved in.
func bringUpToDate(ctx context.Context, staging string) error {
	s, err := Open(ctx, staging, Options{MustExist: true})
	if err != nil {
		return err
	}
	return s.Close()
}

// strangePhotos are files that no photo on record names.
func strangePhotos(ctx context.Context, db asker, m manifest) ([]string, error) {
	ids, err := texts(ctx, db, `SELECT id FROM photos`)
	if err != nil {
		return nil, err
	}
	known := map[string]bool{}
	for _, id := range ids {
		known[id] = true
	}
	var out []string
	for _, f := range m.Files {
		if id, photo := photoOfName(f.Name); photo && !known[id] {
			out = append(out, f.Name+" is no photo of this farm")
		}
	}
	return out, nil
}

// moveIn puts the unpacked farm into its place. The database comes last and
// makes it a farm.
func moveIn(staging, dir string) error {
	photos := filepath.Join(dir, photosName)
	if err := os.Rename(filepath.Join(staging, photosName), photos); err != nil {
		return diskError(err)
	}
	if err := syncFolder(dir); err != nil {
		return err
	}
	if err := os.Rename(filepath.Join(staging, databaseName), filepath.Join(dir, databaseName)); err != nil {
		return errors.Join(diskError(err), os.Rename(photos, filepath.Join(staging, photosName)))
	}
	return syncFolder(dir)
}
