package server

import (
	"context"
	"sync"
	"time"

	"bagmark/grow"
	"bagmark/store"
)

// backups are the daily backups into a folder, and how the last one went.
type backups struct {
	folder string // "" for none

	mu     sync.Mutex
	last   time.Time // when the newest was made, zero if there is none
	failed string    // why the last attempt failed, in words
}

// Backups are tried when the server starts and then every hour, so that a stick
// that is plugged in at noon has today's by one o'clock. Late is more than a day
// and what it may take to notice.
const (
	backupEvery = time.Hour
	backupLate  = 26 * time.Hour
)

// keepBackups makes the daily backups until ctx ends.
func (s *Server) keepBackups(ctx context.Context) {
	if s.backups.folder == "" {
		return
	}
	hour := time.NewTicker(backupEvery)
	defer hour.Stop()
	for {
		s.backUp(ctx)
		select {
		case <-ctx.Done():
			return
		case <-hour.C:
		}
	}
}

// backUp makes today's backup unless it is there, and notes how that went.
func (s *Server) backUp(ctx context.Context) {
	at, err := s.store.BackupDaily(ctx, s.backups.folder)
	if err != nil && ctx.Err() != nil {
		return // stopped in the middle
	}
	b := &s.backups
	b.mu.Lock()
	defer b.mu.Unlock()
	if !at.IsZero() {
		b.last = at
	} else if last, listErr := store.LastBackup(b.folder); listErr == nil {
		b.last = last
	}
	b.failed = ""
	if err != nil {
		b.failed = asError(err).Message
		s.log.Error("the daily backup failed", "message", b.failed, "cause", causeOf(err))
	}
}

// backupNote is what Today says of the backups.
type backupNote struct {
	Words string // "" where no folder was named
	Loud  bool
}

func (s *Server) backupNote(zone *time.Location, u grow.Units) backupNote {
	b := &s.backups
	b.mu.Lock()
	defer b.mu.Unlock()
	now := s.store.Now()
	switch {
	case b.folder == "":
		return backupNote{}
	case b.last.IsZero() && b.failed == "":
		return backupNote{Words: "The first backup is being made."}
	case b.last.IsZero():
		return backupNote{"There is no backup: " + b.failed + ".", true}
	}
	note := backupNote{Words: "Last backup: " + u.DayTime(b.last.In(zone)) + ", " + ageWords(b.last, now, zone) + "."}
	if b.failed != "" {
		note.Words += " The next one failed: " + b.failed + "."
	}
	note.Loud = b.failed != "" || now.Sub(b.last) > backupLate
	return note
}

// ageWords says how many days ago something was.
func ageWords(at, now time.Time, zone *time.Location) string {
	switch days := grow.Day(at, now, zone); {
	case days <= 0:
		return "today"
	case days == 1:
		return "yesterday"
	default:
		return plural(days, "day", "days") + " ago"
	}
}
