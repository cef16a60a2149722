package store

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// DropUnusedPhotos deletes the photos that no entry has shown for 30 days, and
// files that a killed server left lying. It tells how many photos went.
func (s *Store) DropUnusedPhotos(ctx context.Context) (int, error) {
	dropped := map[string]bool{}
	err := s.writing(ctx, func(t *tx) error {
		return t.each(`DELETE FROM photos WHERE used = 0 AND made_at < ?
			AND id NOT IN (SELECT detail ->> '$.photo' FROM entries WHERE kind = 'photo' AND detail ->> '$.photo' IS NOT NULL
				UNION ALL SELECT detail ->> '$.photo' FROM stock_entries WHERE kind = 'photo' AND detail ->> '$.photo' IS NOT NULL)
			RETURNING id`, []any{micros(t.now.Add(-photoLife))}, func(rows *sql.Rows) error {
			var id string
			err := rows.Scan(&id)
			dropped[id] = true
			return err
		})
	})
	if err != nil {
		return 0, err
	}
	return len(dropped), s.sweepPhotos(ctx, dropped)
}

// sweepPhotos removes files whose photo was dropped, and those that no photo
// ever named. It does so inside a write transaction, so that no photo is kept
// meanwhile.
func (s *Store) sweepPhotos(ctx context.Context, dropped map[string]bool) error {
	var files []photoFile
	for _, root := range []string{photosName, thumbsName} {
		found, err := photoFiles(filepath.Join(s.dir, root))
		if err != nil {
			return err
		}
		files = append(files, found...)
	}
	return s.writing(ctx, func(t *tx) error {
		known, err := t.photoSums()
		if err != nil {
			return err
		}
		for _, f := range files {
			young := t.now.Sub(f.changed) < strayLife && !dropped[f.id]
			foreign := f.id == "" && !f.unfinished
			if _, kept := known[f.id]; kept || young || foreign {
				continue
			}
			if err := os.Remove(f.path); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return diskError(err)
			}
		}
		return nil
	})
}

// photoSums are the photos on record with the sums of their files.
func (t *tx) photoSums() (map[string][]byte, error) {
	out := map[string][]byte{}
	err := t.each(`SELECT id, file_sha256 FROM photos`, nil, func(rows *sql.Rows) error {
		var id string
		var sum []byte
		err := rows.Scan(&id, &sum)
		out[id] = sum
		return err
	})
	return out, err
}

// photoFile is a file below a folder of photos. The id is empty if the name is
// not one of ours; unfinished is one that was never renamed into place.
type photoFile struct {
	path       string
	id         string
	unfinished bool
	changed    time.Time
}

// photoFiles lists a folder of photos; without the folder there are none.
func photoFiles(root string) ([]photoFile, error) {
	var out []photoFile
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return unlessGone(err)
		}
		info, err := d.Info()
		if err != nil {
			return unlessGone(err)
		}
		f := photoFile{path: path, changed: info.ModTime(), unfinished: strings.HasSuffix(path, ".tmp")}
		if id, ok := strings.CutSuffix(d.Name(), ".jpg"); ok && photoID.MatchString(id) && filepath.Base(filepath.Dir(path)) == id[:2] {
			f.id = id
		}
		out = append(out, f)
		return nil
	})
	if err != nil {
		return nil, diskError(err)
	}
	return out, nil
}

// unlessGone passes over a file that went while the folder was being read.
func unlessGone(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}
