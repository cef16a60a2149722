package store

import (
	"archive/zip"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// writeBackup writes and flushes a backup of the files that the manifest names;
// sources says where each lies. It puts their sizes and sums into the manifest.
func writeBackup(path string, m manifest, sources map[string]string) (err error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600)
	if err != nil {
		return diskError(err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	z := zip.NewWriter(f)
	if err := z.SetComment(strings.Repeat("0", commentLength)); err != nil {
		return err
	}
	for i := range m.Files {
		if err := storeFile(z, &m.Files[i], sources[m.Files[i].Name], m.MadeAt); err != nil {
			return err
		}
	}
	if err := storeManifest(z, m); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return diskError(err)
	}
	if err := seal(f); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return diskError(err)
	}
	return nil
}

func storedHeader(name string, at time.Time) *zip.FileHeader {
	h := &zip.FileHeader{Name: name, Method: zip.Store, Modified: at.UTC()}
	h.SetMode(0o600)
	return h
}

// storeFile puts a file into the ZIP and its size and sum into the manifest.
func storeFile(z *zip.Writer, into *manifestFile, source string, at time.Time) error {
	from, err := os.Open(source)
	if err != nil {
		return diskError(err)
	}
	defer from.Close()
	w, err := z.CreateHeader(storedHeader(into.Name, at))
	if err != nil {
		return diskError(err)
	}
	sum := sha256.New()
	if into.Size, err = io.Copy(io.MultiWriter(w, sum), from); err != nil {
		return diskError(err)
	}
	into.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return nil
}

func storeManifest(z *zip.Writer, m manifest) error {
	w, err := z.CreateHeader(storedHeader(manifestName, m.MadeAt))
	if err != nil {
		return diskError(err)
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	if err := enc.Encode(m); err != nil {
		return diskError(err)
	}
	return nil
}

// seal writes the sum of all bytes before the comment in place of the noughts.
func seal(f *os.File) error {
	end, err := f.Seek(0, io.SeekEnd)
	if err != nil {
		return diskError(err)
	}
	sum, err := sumBefore(f, end-commentLength)
	if err != nil {
		return err
	}
	if _, err := f.WriteAt([]byte(sum), end-commentLength); err != nil {
		return diskError(err)
	}
	return nil
}

// sumBefore is the SHA-256, in hex, of the first n bytes.
func sumBefore(f io.ReaderAt, n int64) (string, error) {
	sum := sha256.New()
	if _, err := io.Copy(sum, io.NewSectionReader(f, 0, n)); err != nil {
		return "", diskError(err)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// backupFile is a backup that has been found whole as a file. What its files
// hold is still to be judged.
type backupFile struct {
	file     *os.File
	manifest manifest
	entries  map[string]*zip.File
}

func (b *backupFile) close() error { return b.file.Close() }

// openBackup opens a backup and takes nothing in it on trust: the comment's
// sum, names, the sizes in its directory against the manifest, all without
// compression, together no larger than the file.
func openBackup(path string) (_ *backupFile, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, diskError(err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, f.Close())
		}
	}()
	info, err := f.Stat()
	if err != nil || !info.Mode().IsRegular() {
		return nil, damaged("it is no ordinary file", err)
	}
	z, err := openSealed(f, info.Size())
	if err != nil {
		return nil, err
	}
	b := &backupFile{file: f, entries: map[string]*zip.File{}}
	if err := b.list(z, info.Size()); err != nil {
		return nil, err
	}
	return b, b.holdAgainstManifest()
}

// openSealed reads the ZIP's directory if the comment is the sum of the rest.
func openSealed(f *os.File, size int64) (*zip.Reader, error) {
	if size < commentLength {
		return nil, damaged("it is too short", nil)
	}
	sum, err := sumBefore(f, size-commentLength)
	if err != nil {
		return nil, err
	}
	comment := make([]byte, commentLength)
	if _, err := f.ReadAt(comment, size-commentLength); err != nil {
		return nil, diskError(err)
	}
	if string(comment) != sum {
		return nil, damaged("its sum is not right, so it was cut off or changed", nil)
	}
	z, err := zip.NewReader(f, size)
	if err != nil || z.Comment != sum {
		return nil, damaged("its directory cannot be read", err)
	}
	return z, nil
}

// list takes the ZIP's entries in. Stored entries that together are no larger
// than the file cannot blow up on the disk, nor lie over one another.
func (b *backupFile) list(z *zip.Reader, size int64) error {
	const encrypted = 1
	left := uint64(size)
	for _, e := range z.File {
		switch {
		case e.Name != manifestName && !named(e.Name):
			return damaged("it holds a file that no backup has", nil)
		case b.entries[e.Name] != nil:
			return damaged("it holds "+e.Name+" twice", nil)
		case e.Method != zip.Store || e.Flags&encrypted != 0 || e.CompressedSize64 != e.UncompressedSize64 || e.UncompressedSize64 > left:
			return damaged(e.Name+" is not stored as it is", nil)
		}
		left -= e.UncompressedSize64
		b.entries[e.Name] = e
	}
	return nil
}

func (b *backupFile) holdAgainstManifest() error {
	e := b.entries[manifestName]
	if e == nil || e.UncompressedSize64 > mostManifest {
		return damaged("it has no manifest", nil)
	}
	r, err := e.Open()
	if err != nil {
		return damaged("its manifest cannot be read", err)
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(r, mostManifest))
	if err != nil {
		return damaged("its manifest cannot be read", err)
	}
	if b.manifest, err = readManifest(data); err != nil {
		return err
	}
	for _, f := range b.manifest.Files {
		if e := b.entries[f.Name]; e == nil || e.UncompressedSize64 != uint64(f.Size) {
			return damaged(f.Name+" is missing or has another size than the manifest says", nil)
		}
	}
	if len(b.entries) != len(b.manifest.Files)+1 {
		return damaged("it holds a file that its manifest does not name", nil)
	}
	return nil
}

// verify reads every file and compares its sum.
func (b *backupFile) verify() error {
	for _, f := range b.manifest.Files {
		if err := b.copy(f, io.Discard); err != nil {
			return err
		}
	}
	return nil
}

// copy writes a file's bytes, never more than the manifest says, and compares
// their sum.
func (b *backupFile) copy(f manifestFile, to io.Writer) error {
	r, err := b.entries[f.Name].Open()
	if err != nil {
		return damaged(f.Name+" cannot be read", err)
	}
	defer r.Close()
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(to, sum), io.LimitReader(r, f.Size))
	if err != nil {
		return diskError(err)
	}
	if n != f.Size {
		return damaged(f.Name+" is cut off", nil)
	}
	if hex.EncodeToString(sum.Sum(nil)) != f.SHA256 {
		return damaged(f.Name+" is not what the manifest says", nil)
	}
	return nil
}

// unpack writes every file below a folder, flushed.
func (b *backupFile) unpack(folder string) error {
	if err := makeFolder(filepath.Join(folder, photosName)); err != nil {
		return err
	}
	for _, f := range b.manifest.Files {
		path := filepath.Join(folder, filepath.FromSlash(f.Name)) // one of the names that a manifest may have
		if _, photo := photoOfName(f.Name); photo {
			if err := makeFolder(filepath.Dir(path)); err != nil {
				return err
			}
		}
		if err := b.unpackOne(f, path); err != nil {
			return err
		}
	}
	return syncTree(folder)
}

func (b *backupFile) unpackOne(f manifestFile, path string) (err error) {
	to, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return diskError(err)
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	if err := b.copy(f, to); err != nil {
		return err
	}
	if err := to.Sync(); err != nil {
		return diskError(err)
	}
	return nil
}
