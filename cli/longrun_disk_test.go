package cli_test

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"
)

// onSmallDisk gives the farm a disk of its own that is small enough to be
// filled; without the right to mount one it has none, and says so.
func (r *longRun) onSmallDisk() {
	r.Helper()
	if err := os.Mkdir(r.dir, 0o700); err != nil {
		r.Fatal(err)
	}
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=400m", "none", r.dir).CombinedOutput(); err != nil {
		r.Logf("the disk will not be filled, as no small one can be mounted here: %v, %s", err, out)
		return
	}
	disk := r.dir
	r.Cleanup(func() {
		if out, err := exec.Command("umount", disk).CombinedOutput(); err != nil {
			r.Errorf("umount: %v, %s", err, out)
		}
	})
	r.dir, r.small = filepath.Join(disk, "farm"), filepath.Join(disk, "filler")
}

// fillDisk leaves no room on the farm's disk for a while. The server is started
// anew before: a log of SQLite's that had grown would have room of its own.
func (r *longRun) fillDisk(ctx context.Context) {
	if r.small == "" {
		return
	}
	r.stop()
	r.serve(0)
	r.full.Store(true)
	f, err := os.Create(r.small)
	if err != nil {
		r.Fatal(err)
	}
	for block := make([]byte, 4096); err == nil; {
		_, err = f.Write(block)
	}
	if !errors.Is(err, syscall.ENOSPC) {
		r.Errorf("filling the disk: %v", err)
	}
	f.Close()
	for deadline := time.Now().Add(2 * time.Minute); time.Now().Before(deadline); {
		if between(ctx, r.pace/2, r.pace); r.foundFull() > 0 {
			break
		}
	}
	if err := os.Remove(r.small); err != nil {
		r.Error(err)
	}
	r.full.Store(false)
}

// foundFull is how many writes found no room, as the server's log tells.
func (r *longRun) foundFull() int {
	r.Helper()
	words, err := os.ReadFile(r.log.Name())
	if err != nil {
		r.Fatal(err)
	}
	return strings.Count(string(words), "the disk is full")
}
