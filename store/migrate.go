package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"bagmark/grow"
	"bagmark/migrations"
)

// The schema's version is the number of the last migration that ran, kept in
// the database's user_version.

// migration is one numbered SQL file.
type migration struct {
	number int
	sql    string
}

func allMigrations() ([]migration, error) {
	names, err := fs.Glob(migrations.FS, "*.sql")
	if err != nil {
		return nil, err
	}
	slices.Sort(names)
	var out []migration
	for _, name := range names {
		text, err := fs.ReadFile(migrations.FS, name)
		if err != nil {
			return nil, err
		}
		n, err := strconv.Atoi(name[:4])
		if err != nil {
			return nil, err
		}
		out = append(out, migration{n, string(text)})
	}
	return out, nil
}

// SchemaVersion is the version that this program brings a farm to.
func SchemaVersion() (int, error) {
	all, err := allMigrations()
	if err != nil {
		return 0, err
	}
	return all[len(all)-1].number, nil
}

func (s *Store) migrate(ctx context.Context, zone string) error {
	all, err := allMigrations()
	if err != nil {
		return err
	}
	return s.migrateBy(ctx, all, zone)
}

// migrateBy runs the migrations that the database has not seen. What it was
// before is kept beside it.
func (s *Store) migrateBy(ctx context.Context, all []migration, zone string) error {
	var version int
	if err := s.write.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&version); err != nil {
		return databaseError(err)
	}
	if newest := all[len(all)-1].number; version > newest {
		return grow.Errorf(grow.Conflict, "this farm was last used by a newer bagmark (its database has version %d, this program knows %d); use the newer program", version, newest)
	}
	if newest := all[len(all)-1].number; 0 < version && version < newest {
		if err := s.keepBefore(ctx, version); err != nil {
			return err
		}
	}
	for i, m := range all {
		if m.number <= version {
			continue
		}
		err := s.writing(ctx, func(t *tx) error {
			if err := t.migrate(m, zone); err != nil || i < len(all)-1 || version == 0 {
				return err
			}
			return t.replayAfter(version)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// fruitedSince is the version from which on a bag's status says where it fruited
// (its single harvests since 5), and readings that end hot leave a run open.
const fruitedSince = 18

// replayAfter brings up to date what is kept beside logs and readings and was
// drawn from them by an older program, in the transaction of the last migration:
// only then is the farm such as this program reads it.
func (t *tx) replayAfter(version int) error {
	farm, err := t.loadFarm()
	if err != nil {
		return err
	}
	if version < fruitedSince {
		if err := t.replayFruited(farm); err != nil {
			return err
		}
	}
	if version >= runsMigration {
		return t.judgeRuns(farm, Actor{})
	}
	return nil
}

// replayFruited replays every bag that fruits or did.
func (t *tx) replayFruited(farm *Farm) error {
	var ids []int64
	err := t.each(`SELECT DISTINCT bag_id FROM entries WHERE kind IN ('fruiting', 'harvest')`, nil, func(rows *sql.Rows) error {
		var id int64
		err := rows.Scan(&id)
		ids = append(ids, id)
		return err
	})
	for _, id := range ids {
		if err == nil {
			err = t.refreshBag(id, farm)
		}
	}
	return err
}

// keepBefore copies the database, of a version that is about to be left, to
// farm-version-N.db. Photos are not touched by migrations.
func (s *Store) keepBefore(ctx context.Context, version int) error {
	path := filepath.Join(s.dir, "farm-version-"+strconv.Itoa(version)+".db")
	work := path + ".tmp"
	if err := os.Remove(work); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return diskError(err)
	}
	if err := s.snapshot(ctx, work); err != nil {
		return err
	}
	if err := errors.Join(os.Chmod(work, 0o600), syncFile(work), os.Rename(work, path)); err != nil {
		return diskError(err)
	}
	return syncFolder(s.dir)
}

func (t *tx) migrate(m migration, zone string) error {
	if _, err := t.exec(m.sql); err != nil {
		return err
	}
	switch m.number {
	case 1:
		if err := t.makeFarm(zone); err != nil {
			return err
		}
	case runsMigration:
		if err := t.codeRuns(); err != nil {
			return err
		}
	}
	_, err := t.exec(`PRAGMA user_version = ` + strconv.Itoa(m.number)) // a pragma takes no parameters
	return err
}

// makeFarm fills a new database with what every farm starts with.
func (t *tx) makeFarm(zone string) error {
	if _, err := time.LoadLocation(zone); err != nil || zone == "" || zone == "Local" {
		zone = "UTC"
	}
	if _, err := t.exec(`INSERT INTO farm (id, time_zone, made_at) VALUES (1, ?, ?)`, zone, micros(t.now)); err != nil {
		return err
	}
	for _, c := range grow.StartingConditions() {
		data, err := json.Marshal(c)
		if err != nil {
			return err
		}
		if _, err := t.exec(`INSERT INTO conditions (key, data) VALUES (?, ?)`, c.Key, string(data)); err != nil {
			return err
		}
	}
	return t.ensureCards(grow.StartingConditions())
}
