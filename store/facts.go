package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"os"
	"path/filepath"
	"time"

	"bagmark/grow"
)

// Facts are what an installation rests on.
type Facts struct {
	Farm           *Farm
	Schema, Newest int       // of the farm, and of this program
	Heard          time.Time // when the newest of the last entries was received, zero if there is none
	Bytes          int64     // of the database
}

// Look reads the facts of a farm without changing anything, beside a running
// server if there is one.
func Look(ctx context.Context, dir string) (f Facts, err error) {
	if !HoldsFarm(dir) {
		return f, grow.Errorf(grow.NotFound, "there is no farm in %s", dir)
	}
	s := &Store{dir: dir, now: time.Now, random: rand.Reader}
	path := filepath.Join(dir, databaseName)
	if s.read, err = sql.Open("sqlite3", dsn(path, checkingMode)); err != nil {
		return f, err
	}
	defer s.read.Close()
	info, err := os.Stat(path)
	if err != nil {
		return f, folderError(dir, err)
	}
	f.Bytes = info.Size()
	if f.Newest, err = SchemaVersion(); err != nil {
		return f, err
	}
	err = s.reading(ctx, func(t *tx) error {
		if f.Farm, err = t.loadFarm(); err != nil {
			return err
		}
		var heard int64
		err := t.one(`SELECT v.user_version, (SELECT coalesce(max(received_at), 0) FROM (SELECT received_at FROM entries ORDER BY seq DESC LIMIT 200))
			FROM pragma_user_version v`, nil, &f.Schema, &heard)
		if heard > 0 {
			f.Heard = time.UnixMicro(heard)
		}
		return err
	})
	return f, err
}
