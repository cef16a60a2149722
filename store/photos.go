package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"time"

	"bagmark/grow"

	"golang.org/x/image/draw"
)

// Photo rules
//
// A photo's id is the first half of the SHA-256 of the bytes as they were sent,
// so the same picture sent twice is one photo, and no name ever comes from
// outside. Its file is on the disk before its row is, and its row is gone
// before its file is. A photo that no entry shows is dropped 30 days after it
// was last sent. Small copies lie in a folder of their own; they can be made
// again at any time and are in no backup.

const (
	photoLife  = 30 * 24 * time.Hour
	strayLife  = 24 * time.Hour // of a file without a row, as a killed server leaves it
	thumbsName = "thumbs"
	thumbSide  = 320 // pixels of the longest side
)

// MostPhotoSide is the longest side, in pixels, of a photo as it is kept.
const MostPhotoSide = 2560

var photoID = regexp.MustCompile(`^[0-9a-f]{32}$`)

// Picture is a photo ready to be kept: upright, shrunk, without place data.
// SentSHA256 is of the bytes as they were sent.
type Picture struct {
	JPEG          []byte
	Width, Height int
	SentSHA256    [32]byte
}

// photoName is the place of a photo's file below the farm's folder, with
// slashes.
func photoName(id string) string { return photosName + "/" + id[:2] + "/" + id + ".jpg" }

func (s *Store) photoPath(id string) string {
	return filepath.Join(s.dir, filepath.FromSlash(photoName(id)))
}

func (s *Store) thumbPath(id string) string {
	return filepath.Join(s.dir, thumbsName, id[:2], id+".jpg")
}

// AddPhoto keeps a photo. The same bytes sent again give the same id and
// created false.
func (s *Store) AddPhoto(ctx context.Context, by Actor, p Picture) (id string, created bool, err error) {
	id = hex.EncodeToString(p.SentSHA256[:])[:32]
	known := false
	if err := s.reading(ctx, func(t *tx) (err error) { known, err = t.hasPhoto(id); return err }); err != nil {
		return "", false, err
	}
	if !known { // the slow part, outside the one write transaction
		if err := writeDurably(s.photoPath(id), p.JPEG); err != nil {
			return "", false, err
		}
	}
	err = s.writing(ctx, func(t *tx) error { created, err = t.keepPhoto(id, by, p); return err })
	return id, created, err
}

func (t *tx) hasPhoto(id string) (bool, error) {
	var n int
	err := t.one(`SELECT count(*) FROM photos WHERE id = ?`, []any{id}, &n)
	return n == 1, err
}

// keepPhoto makes the photo's row, or notes that it was sent again. Files are
// dropped inside a write transaction only, so that one which is there now
// stays; one that is not, is written again.
func (t *tx) keepPhoto(id string, by Actor, p Picture) (created bool, err error) {
	known, err := t.hasPhoto(id)
	if err != nil {
		return false, err
	}
	_, err = os.Stat(t.store.photoPath(id))
	lost := errors.Is(err, fs.ErrNotExist)
	if lost {
		if err := writeDurably(t.store.photoPath(id), p.JPEG); err != nil {
			return false, err
		}
	}
	sum := sha256.Sum256(p.JPEG)
	switch {
	case !known:
		_, err = t.exec(`INSERT INTO photos (id, sent_sha256, file_sha256, bytes, width, height, made_at, by_person, device) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			id, p.SentSHA256[:], sum[:], len(p.JPEG), p.Width, p.Height, micros(t.now), by.Person, by.Device)
	case lost:
		_, err = t.exec(`UPDATE photos SET file_sha256 = ?, bytes = ?, width = ?, height = ? WHERE id = ?`, sum[:], len(p.JPEG), p.Width, p.Height, id)
	default:
		_, err = t.exec(`UPDATE photos SET made_at = ? WHERE id = ? AND used = 0`, micros(t.now), id)
	}
	return !known, err
}

// Photo gives a photo as JPEG, or its small copy of at most 320 pixels a side.
func (s *Store) Photo(ctx context.Context, id string, thumb bool) ([]byte, error) {
	none := grow.Errorf(grow.NotFound, "there is no such photo; one that no entry shows is deleted after 30 days")
	if !photoID.MatchString(id) {
		return nil, none
	}
	known := false
	err := s.reading(ctx, func(t *tx) (err error) { known, err = t.hasPhoto(id); return err })
	if err != nil {
		return nil, err
	}
	if !known {
		return nil, none
	}
	if thumb {
		return s.thumb(ctx, id)
	}
	data, err := os.ReadFile(s.photoPath(id))
	if err != nil {
		return nil, &grow.Error{Kind: grow.Internal, Message: "the photo's file cannot be read; bagmark check tells more", Cause: err}
	}
	return data, nil
}

// thumb gives the small copy, making it the first time.
func (s *Store) thumb(ctx context.Context, id string) ([]byte, error) {
	if data, err := os.ReadFile(s.thumbPath(id)); err == nil {
		return data, nil
	}
	data, err := os.ReadFile(s.photoPath(id))
	if err != nil {
		return nil, &grow.Error{Kind: grow.Internal, Message: "the photo's file cannot be read; bagmark check tells more", Cause: err}
	}
	small, err := shrink(ctx, data, thumbSide)
	if err != nil {
		return nil, err
	}
	// A full disk is no reason not to show it: it is then made each time.
	if makeFolder(filepath.Join(s.dir, thumbsName)) == nil {
		_ = writeDurably(s.thumbPath(id), small)
	}
	return small, nil
}

// shrinking lets two photos be unpacked at once in this process: a page of
// twenty would else take a small server's memory.
var shrinking = make(chan struct{}, 2)

// shrink draws a JPEG anew with the longest side given; a smaller one stays.
func shrink(ctx context.Context, data []byte, side int) ([]byte, error) {
	select {
	case shrinking <- struct{}{}:
		defer func() { <-shrinking }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	err := asKept(bytes.NewReader(data)) // somebody may have put another file there
	var from image.Image
	if err == nil {
		from, err = jpeg.Decode(bytes.NewReader(data))
	}
	if err != nil {
		return nil, &grow.Error{Kind: grow.Internal, Message: "the photo's file is damaged; bagmark check tells more", Cause: err}
	}
	w, h := from.Bounds().Dx(), from.Bounds().Dy()
	longest := max(w, h)
	if longest <= side {
		return data, nil
	}
	to := image.NewRGBA(image.Rect(0, 0, max(1, w*side/longest), max(1, h*side/longest)))
	draw.ApproxBiLinear.Scale(to, to.Bounds(), from, from.Bounds(), draw.Src, nil)
	var out bytes.Buffer
	err = jpeg.Encode(&out, to, &jpeg.Options{Quality: 80})
	return out.Bytes(), err
}

// asKept refuses, by its first bytes, what is no picture such as photos are kept
// as: a small file may claim to be one that fills the memory.
func asKept(r io.Reader) error {
	c, err := jpeg.DecodeConfig(r)
	if err == nil && max(c.Width, c.Height) > MostPhotoSide {
		err = fmt.Errorf("it claims %d × %d pixels", c.Width, c.Height)
	}
	return err
}
