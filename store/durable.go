package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"syscall"

	"bagmark/grow"
)

// writeDurably writes a file so that a power cut leaves either all of it or
// nothing under its name: a temporary file, flushed, renamed, and the folder
// flushed. A file that is there already is replaced.
func writeDurably(path string, data []byte) error {
	folder := filepath.Dir(path)
	if err := makeFolder(folder); err != nil {
		return err
	}
	f, err := os.CreateTemp(folder, filepath.Base(path)+".*.tmp") // made with mode 0600
	if err != nil {
		return diskError(err)
	}
	defer os.Remove(f.Name()) // there is none once it was renamed
	_, err = f.Write(data)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return diskError(err)
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return diskError(err)
	}
	return syncFolder(folder)
}

// makeFolder makes a folder in an existing one, and keeps its name durably.
func makeFolder(path string) error {
	err := os.Mkdir(path, 0o700)
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	if err != nil {
		return diskError(err)
	}
	return syncFolder(filepath.Dir(path))
}

// syncFile flushes a file that was written elsewhere.
func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// syncFolder flushes the names in a folder. Windows has no such call and keeps
// names in its own journal; nor have some network and memory-card file systems.
func syncFolder(path string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(path)
	if err != nil {
		return diskError(err)
	}
	err = f.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, errors.ErrUnsupported) {
		err = nil
	}
	if err := errors.Join(err, f.Close()); err != nil {
		return diskError(err)
	}
	return nil
}

// diskError says in plain words that a file could not be kept.
func diskError(err error) error {
	e := &grow.Error{Kind: grow.Internal, Message: "the disk did not take or give a file", Cause: err}
	switch {
	case errors.Is(err, fs.ErrPermission):
		e.Message = "bagmark may not read or write there: look at the folder's owner and rights"
	case errors.Is(err, syscall.ENOSPC):
		e.Message = "the disk is full: nothing was saved; make room on it"
	}
	return e
}

// syncTree flushes the names in a folder and in all folders below it.
func syncTree(root string) error {
	return filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return diskError(err)
		}
		if !d.IsDir() {
			return nil
		}
		return syncFolder(path)
	})
}
