//go:build unix

package store

import (
	"os"
	"syscall"
)

// folderLock is an advisory lock that the system drops when the process ends,
// however it ends.
type folderLock struct{ file *os.File }

func lockFolder(path string) (*folderLock, error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		f.Close()
		return nil, err
	}
	return &folderLock{f}, nil
}

func (l *folderLock) unlock() error { return l.file.Close() }
