package store

import (
	"os"

	"golang.org/x/sys/windows"
)

// folderLock is a lock that the system drops when the process ends, however it
// ends.
type folderLock struct{ file *os.File }

func lockFolder(path string) (*folderLock, error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, err
	}
	err = windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, &windows.Overlapped{})
	if err != nil {
		f.Close()
		return nil, err
	}
	return &folderLock{f}, nil
}

func (l *folderLock) unlock() error { return l.file.Close() }
