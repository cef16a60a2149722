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
	longestSide  = store.MostPhotoSide
	photoQuality = 85 // of its JPEG (common practice)
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
	if w == b.Dx() && h == b.Dy() {
		onWhite(dst, src, b.Min)
		return dst
	}
	tallest := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()/h+1))
	for y := range h {
		top, bottom := y*b.Dy()/h, (y+1)*b.Dy()/h
		strip := tallest.SubImage(image.Rect(0, 0, b.Dx(), bottom-top)).(*image.RGBA)
		onWhite(strip, src, b.Min.Add(image.Pt(0, top)))
		averageRow(dst.Pix[y*dst.Stride:], strip, w)
	}
	return dst
}

func onWhite(dst *image.RGBA, src image.Image, from image.Point) {
	draw.Draw(dst, dst.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	draw.Draw(dst, dst.Bounds(), src, from, draw.Over)
}

// averageRow shrinks the rows of a strip to one of w pixels, each the mean of
// those it stands for. A resampling filter would hold the whole picture in
// numbers of 32 bytes a pixel.
func averageRow(dst []uint8, strip *image.RGBA, w int) {
	size := strip.Rect.Size()
	for x := range w {
		left, right := x*size.X/w, (x+1)*size.X/w
		var sum [4]int
		for row := range size.Y {
			pixels := strip.Pix[row*strip.Stride+4*left : row*strip.Stride+4*right]
			for i := 0; i < len(pixels); i += 4 {
				for c := range sum {
					sum[c] += int(pixels[i+c])
				}
			}
		}
		n := (right - left) * size.Y
		for c := range sum {
			dst[4*x+c] = uint8((sum[c] + n/2) / n)
		}
	}
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
