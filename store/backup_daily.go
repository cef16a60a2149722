package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"time"

	"bagmark/grow"
)

// Daily backups
//
// A folder of daily backups holds one file a date of the farm. Of these the 14
// newest are kept, and the first of each month for two years. Nothing but files
// of this name is ever deleted, and only after a newer one was found whole.

const (
	keepDays   = 14
	keepMonths = 24
)

var dailyName = regexp.MustCompile(`^bagmark-(\d{4}-\d{2}-\d{2})\.zip$`)

// BackupDaily makes today's backup in a folder, which must be there, unless it
// has been made, and drops old ones. It tells when the newest was made.
func (s *Store) BackupDaily(ctx context.Context, folder string) (time.Time, error) {
	today := grow.DateOf(s.now(), s.Zone(ctx)).String()
	path := filepath.Join(folder, "bagmark-"+today+".zip")
	if info, err := os.Stat(path); err == nil {
		return info.ModTime(), nil
	}
	if _, err := s.Backup(ctx, path); err != nil {
		return time.Time{}, backupFolderError(folder, err)
	}
	return s.now(), dropOldBackups(folder)
}

// LastBackup tells when the newest daily backup in a folder was made; zero if
// there is none.
func LastBackup(folder string) (time.Time, error) {
	names, err := dailyBackups(folder)
	if err != nil || len(names) == 0 {
		return time.Time{}, err
	}
	info, err := os.Stat(filepath.Join(folder, names[len(names)-1]))
	if err != nil {
		return time.Time{}, backupFolderError(folder, err)
	}
	return info.ModTime(), nil
}

// dailyBackups are the names of the daily backups in a folder, oldest first.
func dailyBackups(folder string) ([]string, error) {
	files, err := os.ReadDir(folder)
	if err != nil {
		return nil, backupFolderError(folder, err)
	}
	var names []string
	for _, f := range files {
		if f.Type().IsRegular() && dailyName.MatchString(f.Name()) {
			names = append(names, f.Name())
		}
	}
	slices.Sort(names)
	return names, nil
}

func dropOldBackups(folder string) error {
	names, err := dailyBackups(folder)
	if err != nil {
		return err
	}
	for _, name := range tooOld(names) {
		if err := os.Remove(filepath.Join(folder, name)); err != nil {
			return diskError(err)
		}
	}
	return nil
}

// tooOld are those of the daily backups, oldest first, that need not be kept.
func tooOld(names []string) (out []string) {
	if len(names) <= keepDays {
		return nil
	}
	var firsts []string // of their months
	month := ""
	older := names[:len(names)-keepDays]
	for _, name := range older {
		if of := dailyName.FindStringSubmatch(name)[1][:len("2006-01")]; of != month {
			firsts, month = append(firsts, name), of
		}
	}
	firsts = firsts[max(0, len(firsts)-keepMonths):]
	for _, name := range older {
		if !slices.Contains(firsts, name) {
			out = append(out, name)
		}
	}
	return out
}

// backupFolderError says in plain words that the folder for backups is not
// there.
func backupFolderError(folder string, err error) error {
	if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return &grow.Error{Kind: grow.Internal, Message: fmt.Sprintf("the folder for backups, %s, is not there: is its stick or disk plugged in?", folder), Cause: err}
}
