package store

import (
	"database/sql"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/mattn/go-sqlite3"
)

// TestFullDisk fills the database to a limit of pages, which SQLite reports as a
// full disk, in the middle of a day's taps.
func TestFullDisk(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(4))
	f.add(bags[0].Code, grow.KindLook)
	pragma(t, f.write, `PRAGMA wal_checkpoint(TRUNCATE)`)
	pages := pragma(t, f.write, `PRAGMA page_count`)
	pragma(t, f.write, `PRAGMA max_page_count = `+pages)
	d := grow.Draft{Kind: grow.KindNote, Bag: bags[1].Code, Details: grow.Details{Text: strings.Repeat("long words ", 180)}}
	kept := 0
	var err error
	for kept < 200 {
		d.ID = f.id()
		if _, _, _, err = f.AddEntry(t.Context(), f.by, d); err != nil {
			break
		}
		kept++
	}
	var e *grow.Error
	if !errors.As(err, &e) || e.Message != "the disk is full: nothing was saved; make room on the farm's disk" {
		t.Fatalf("after %d entries on a full disk: %v", kept, err)
	}
	if n := len(f.bag(bags[1].Code).Entries); n != kept {
		t.Errorf("the log has %d entries, %d were acknowledged", n, kept)
	}
	pragma(t, f.write, `PRAGMA max_page_count = 1000000`)
	if _, _, created, err := f.AddEntry(t.Context(), f.by, d); err != nil || !created {
		t.Errorf("the same again with room on the disk: created %t, %v", created, err)
	}
	f.sound()
}

// TestNoRoomEvenToOpen: SQLite calls it an I/O error when there is no room for
// the file it shares with other programs.
func TestNoRoomEvenToOpen(t *testing.T) {
	t.Parallel()
	for errno, want := range map[syscall.Errno]string{syscall.ENOSPC: "the disk is full", syscall.EIO: "the farm's disk does not answer"} {
		if err := databaseError(sqlite3.Error{Code: sqlite3.ErrIoErr, SystemErrno: errno}); !strings.HasPrefix(err.Error(), want+": nothing was saved") {
			t.Errorf("%v: %v", errno, err)
		}
	}
}

func pragma(t *testing.T, db *sql.DB, statement string) (v string) {
	t.Helper()
	if err := db.QueryRow(statement).Scan(&v, new(any), new(any)); err != nil {
		if err := db.QueryRow(statement).Scan(&v); err != nil {
			t.Fatal(err)
		}
	}
	return v
}

// TestLockedFile: while another program holds the database, a tap is told to
// come back, and then finds its place.
func TestLockedFile(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(1))
	pragma(t, f.write, `PRAGMA busy_timeout = 20`)
	other, err := sql.Open("sqlite3", dsn(filepath.Join(f.dir, databaseName), writingMode))
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	held, err := other.Begin()
	if err != nil {
		t.Fatal(err)
	}
	d := grow.Draft{ID: f.id(), Bag: bags[0].Code, Kind: grow.KindLook}
	if _, _, _, err := f.AddEntry(t.Context(), f.by, d); grow.KindOf(err) != grow.Busy || !strings.Contains(err.Error(), "try again") {
		t.Errorf("while the file is locked: %v", err)
	}
	if f.bag(bags[0].Code).State != grow.Unmarked {
		t.Error("reading waits for another program's writing, or sees it")
	}
	if err := held.Rollback(); err != nil {
		t.Fatal(err)
	}
	if _, _, created, err := f.AddEntry(t.Context(), f.by, d); err != nil || !created {
		t.Errorf("afterwards: created %t, %v", created, err)
	}
}

// TestClockSetBack: when the farm's clock stands before what it has heard
// already, taps whose time it would refuse are told to come back, and all others
// are kept in the order of their own times.
func TestClockSetBack(t *testing.T) {
	t.Parallel()
	f := newLabFarm(t)
	_, bags := f.make(f.king(1))
	f.days(3)
	f.add(bags[0].Code, grow.KindColonised, grow.Details{Pct: new(20.0)})
	seen := f.clock.now().Add(time.Hour) // on a phone whose clock is right
	f.days(-2)
	if b := f.add(bags[0].Code, grow.KindLook); len(b.Entries) != 2 || b.Entries[0].Kind != grow.KindColonised {
		t.Errorf("a look at a time that has passed once already: %+v", b.Entries)
	}
	d := grow.Draft{ID: f.id(), Bag: bags[0].Code, Kind: grow.KindLook, At: &seen}
	_, _, _, err := f.AddEntry(t.Context(), f.by, d)
	if grow.KindOf(err) != grow.Busy || !strings.Contains(err.Error(), "clock") {
		t.Errorf("a look at a time that the farm's clock takes for the future: %v, want to be told to come back", err)
	}
	if _, err := f.AddEntries(t.Context(), f.by, []grow.Draft{d}); grow.KindOf(err) != grow.Busy {
		t.Errorf("the same in bulk: %v", err)
	}
	f.days(-2) // to the day before the batch was made
	if _, _, _, err := f.AddEntry(t.Context(), f.by, grow.Draft{ID: f.id(), Bag: bags[0].Code, Kind: grow.KindLook}); grow.KindOf(err) != grow.Busy {
		t.Errorf("a look before the batch was made: %v, want to be told to come back", err)
	}
	f.days(4.5)
	if _, b, created, err := f.AddEntry(t.Context(), f.by, d); err != nil || !created || b.Entries[0].ID != d.ID {
		t.Errorf("once the clock is right: created %t, %v", created, err)
	}
	ahead := f.clock.now().Add(time.Hour)
	if _, _, _, err := f.AddEntry(t.Context(), f.by, grow.Draft{ID: f.id(), Bag: bags[0].Code, Kind: grow.KindLook, At: &ahead}); grow.KindOf(err) != grow.Invalid {
		t.Errorf("a time in the future by a clock that is right: %v", err)
	}
	f.sound()
}

// TestEveryCommitIsFlushed counts the flushes of this same program while it
// keeps entries one by one: at least one each (platforms differ in which call).
// strace(1) counts from outside.
func TestEveryCommitIsFlushed(t *testing.T) {
	const commits = 50
	if dir := os.Getenv("BAGMARK_COUNT_FLUSHES"); dir != "" {
		keepOneByOne(t, dir, commits)
		return
	}
	t.Parallel()
	strace, err := exec.LookPath("strace")
	if err != nil {
		if os.Getenv("BAGMARK_REQUIRE_TOOLS") == "1" {
			t.Fatal("strace is not installed")
		}
		t.Skip("skipped: strace is not installed, so flushes cannot be counted")
	}
	counts := filepath.Join(t.TempDir(), "counts")
	c := exec.Command(strace, "-f", "-c", "-e", "trace=fsync,fdatasync", "-o", counts, os.Args[0], "-test.run", "^TestEveryCommitIsFlushed$", "-test.count=1")
	c.Env = append(os.Environ(), "BAGMARK_COUNT_FLUSHES="+t.TempDir())
	out, err := c.CombinedOutput()
	if strings.Contains(string(out), "ptrace") || strings.Contains(string(out), "Operation not permitted") {
		t.Skipf("skipped: programs may not be traced here, so flushes cannot be counted: %s", out)
	}
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	table, err := os.ReadFile(counts)
	if err != nil {
		t.Fatal(err)
	}
	flushes := 0
	// % time, seconds, microseconds a call, calls, errors if there were any, syscall
	for _, row := range regexp.MustCompile(`(?m)^\s*[\d.]+\s+[\d.]+\s+\d+\s+(\d+)\s+(?:\d+\s+)?f(?:data)?sync$`).FindAllStringSubmatch(string(table), -1) {
		n, _ := strconv.Atoi(row[1]) // all digits
		flushes += n
	}
	if flushes < commits {
		t.Errorf("%d flushes for %d commits:\n%s", flushes, commits, table)
	}
	t.Logf("%d flushes for %d commits", flushes, commits)
}

func keepOneByOne(t *testing.T, dir string, commits int) {
	s, err := Open(t.Context(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range commits {
		if err := s.SetListened(t.Context(), "127.0.0.1:"+strconv.Itoa(1000+i)); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}
