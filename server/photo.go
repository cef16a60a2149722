package server

import (
	"bytes"
	"context"
	"crypto/sha256"
	"image"
	"image/color"
	"image/jpeg"

	"bagmark/grow"
	"bagmark/scanner"
	"bagmark/store"

	"golang.org/x/image/draw"
)

const (
	longestSide  = 2560 // pixels of a photo as it is kept
	photoQuality = 85   // of its JPEG (common practice)
)

// keepPhoto turns a picture upright, shrinks it, and keeps it as a JPEG of its
// pixels alone: where and with what it was taken is dropped.
func (s *Server) keepPhoto(ctx context.Context, by store.Actor, data []byte) (id string, created bool, err error) {
	var kept store.Picture
	err = s.photos.through(ctx, func() error {
		kept, err = preparePhoto(data)
		return err
	})
	if err != nil {
		return "", false, err
	}
	return s.store.AddPhoto(ctx, by, kept)
}

func preparePhoto(data []byte) (store.Picture, error) {
	picture, err := scanner.OpenPicture(data)
	if err != nil {
		return store.Picture{}, err
	}
	upright := turn(shrink(picture.Image), picture.Turn)
	var out bytes.Buffer
	if err := jpeg.Encode(&out, upright, &jpeg.Options{Quality: photoQuality}); err != nil {
		return store.Picture{}, &grow.Error{Kind: grow.Internal, Message: "the photo could not be kept", Cause: err}
	}
	size := upright.Bounds().Size()
	return store.Picture{JPEG: out.Bytes(), Width: size.X, Height: size.Y, SentSHA256: sha256.Sum256(data)}, nil
}

// shrink draws a picture on white, as small as it is kept; a small one keeps
// its size.
func shrink(src image.Image) *image.RGBA {
	b := src.Bounds()
	w, h := fit(b.Dx(), b.Dy(), longestSide)
	dst := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(dst, dst.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	if w == b.Dx() && h == b.Dy() {
		draw.Draw(dst, dst.Bounds(), src, b.Min, draw.Over)
	} else {
		draw.BiLinear.Scale(dst, dst.Bounds(), src, b, draw.Over, nil)
	}
	return dst
}

// fit is the size whose longer side is at most so many pixels.
func fit(w, h, most int) (int, int) {
	longer := max(w, h)
	if longer <= most {
		return w, h
	}
	return max(1, (w*most+longer/2)/longer), max(1, (h*most+longer/2)/longer)
}

// turn copies a picture upright, pixel by pixel.
func turn(src *image.RGBA, t scanner.Turn) *image.RGBA {
	w, h := src.Rect.Dx(), src.Rect.Dy()
	if t <= 1 || t > 8 {
		return src
	}
	size := image.Rect(0, 0, w, h)
	if t.Sideways() {
		size = image.Rect(0, 0, h, w)
	}
	dst := image.NewRGBA(size)
	for y := range h {
		for x := range w {
			to := t.Upright(scanner.Point{X: float64(x) + 0.5, Y: float64(y) + 0.5}, w, h)
			from, into := src.PixOffset(x, y), dst.PixOffset(int(to.X), int(to.Y))
			copy(dst.Pix[into:into+4], src.Pix[from:from+4])
		}
	}
	return dst
}
