//go:build unix

package cli_test

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"bagmark/store"
)

// TestFolderThatCannotBeWritten serves a farm whose folder may only be read. As
// root, whom no right keeps out, it is tried as another user.
func TestFolderThatCannotBeWritten(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	dir, program := filepath.Join(folder, "farm"), filepath.Join(folder, "bagmark")
	s, err := store.Open(t.Context(), dir, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	ours, err := exec.LookPath("bagmark")
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(os.Link(ours, program), os.Chmod(filepath.Dir(folder), 0o755), os.Chmod(folder, 0o755)); err != nil {
		t.Fatal(err)
	}
	before := listing(t, dir)
	for name, mode := range map[string]os.FileMode{"read but not written": 0o555, "not even read": 0o000} {
		if err := os.Chmod(dir, mode); err != nil {
			t.Fatal(err)
		}
		c := exec.Command(program, "serve", "-data", dir, "-listen", "127.0.0.1:0")
		if os.Getuid() == 0 {
			c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		}
		out, err := c.CombinedOutput()
		var exit *exec.ExitError
		if !errors.As(err, &exit) || exit.ExitCode() != 1 || !strings.HasPrefix(string(out), "bagmark: error: ") || !strings.Contains(string(out), "may not") || strings.Count(string(out), "\n") > 2 {
			t.Errorf("a folder that may be %s: %v\n%s", name, err, out)
		}
	}
	if err := os.Chmod(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	if after := listing(t, dir); after != before {
		t.Errorf("left behind:\n%s\nbefore:\n%s", after, before)
	}
}

func listing(t *testing.T, dir string) string {
	t.Helper()
	var names []string
	err := filepath.WalkDir(dir, func(path string, _ os.DirEntry, err error) error {
		names = append(names, path)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(names, "\n")
}
