package server

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"
)

// TestBackupsOnToday: how old the last backup is stands on Today, quietly while
// all is well, loudly when it is late or the next one fails.
func TestBackupsOnToday(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.kings("2", "")
	b := h.browser()
	if text := b.open("/").Text(); strings.Contains(text, "ackup") {
		t.Errorf("without a folder for backups Today speaks of them: %s", text)
	}
	folder := t.TempDir()
	h.server.backups.folder = folder
	says := func(loud bool, words ...string) {
		t.Helper()
		p := b.open("/")
		if got := p.Find("[role=alert]").Length() > 0; got != loud {
			t.Errorf("loud %t, want %t", got, loud)
		}
		for _, w := range words {
			if !strings.Contains(p.Text(), w) {
				t.Errorf("Today does not say %q: %s", w, p.Text())
			}
		}
	}
	says(false, "first backup is being made")
	h.server.backUp(t.Context())
	says(false, "Last backup: ", "today")
	h.clock.move(27 * time.Hour)
	says(true, "yesterday")
	if err := os.Rename(folder, folder+" unplugged"); err != nil {
		t.Fatal(err)
	}
	h.server.backUp(t.Context())
	says(true, "yesterday", "is its stick or disk plugged in?")
	if err := os.Rename(folder+" unplugged", folder); err != nil {
		t.Fatal(err)
	}
	h.server.backUp(t.Context())
	says(false, "today")
	files, err := filepath.Glob(filepath.Join(folder, "bagmark-*.zip"))
	if err != nil || len(files) != 2 {
		t.Errorf("%v, %v; want two backups", files, err)
	}
	if err := store.Restore(t.Context(), filepath.Join(t.TempDir(), "again"), files[1]); err != nil {
		t.Error(err)
	}
}

// TestNoBackupYet: a farm that never got one says so loudly.
func TestNoBackupYet(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.server.backups.folder = filepath.Join(t.TempDir(), "stick")
	h.server.backUp(t.Context())
	if note := h.server.backupNote(time.UTC, grow.Units{}); !note.Loud || !strings.HasPrefix(note.Words, "There is no backup: the folder for backups") {
		t.Errorf("%+v", note)
	}
}
