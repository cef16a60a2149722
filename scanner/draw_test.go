package scanner

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"testing"

	qrcode "github.com/skip2/go-qrcode"
)

// modulesOf is the module matrix of a symbol, true for dark, without quiet zone.
func modulesOf(t testing.TB, text string, level qrcode.RecoveryLevel) [][]bool {
	t.Helper()
	code, err := qrcode.New(text, level)
	if err != nil {
		t.Fatalf("encoding %q: %v", text, err)
	}
	code.DisableBorder = true
	return code.Bitmap()
}

// drawSymbol draws a symbol on white paper with its corners where they are
// wanted: every pixel is the mean of 16 points.
func drawSymbol(t testing.TB, g gray, modules [][]bool, corners quad) {
	t.Helper()
	n := float64(len(modules))
	back, ok := project(corners, [4]Point{{0, 0}, {n, 0}, {n, n}, {0, n}})
	if !ok {
		t.Fatalf("no projection to %v", corners)
	}
	for y := range g.h {
		row := g.row(y)
		for x := range row {
			row[x] = uint8(int(row[x]) * (256 - darkness(back, modules, x, y)*14) / 256)
		}
	}
}

// darkness counts the dark ones of 16 points of a pixel.
func darkness(back projection, modules [][]bool, x, y int) (dark int) {
	n := len(modules)
	for i := range 16 {
		p := back.at(Point{float64(x) + (float64(i%4)+0.5)/4, float64(y) + (float64(i/4)+0.5)/4})
		if p.X >= 0 && p.Y >= 0 && p.X < float64(n) && p.Y < float64(n) && modules[int(p.Y)][int(p.X)] {
			dark++
		}
	}
	return dark
}

func paper(w, h int, shade uint8) gray {
	g := newGray(w, h)
	for i := range g.pix {
		g.pix[i] = shade
	}
	return g
}

func (g gray) image() *image.Gray {
	return &image.Gray{Pix: g.pix, Stride: g.stride, Rect: image.Rect(0, 0, g.w, g.h)}
}

func encodeJPEG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func encodePNG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// withTurn puts an Exif segment with nothing but an orientation into a JPEG.
func withTurn(data []byte, turn Turn, order binary.AppendByteOrder) []byte {
	tiff := []byte("II*\x00")
	if order == binary.AppendByteOrder(binary.BigEndian) {
		tiff = []byte("MM\x00*")
	}
	tiff = order.AppendUint32(tiff, 8)
	tiff = order.AppendUint16(tiff, 1)
	tiff = order.AppendUint16(tiff, 0x0112)
	tiff = order.AppendUint16(tiff, 3)
	tiff = order.AppendUint32(tiff, 1)
	tiff = order.AppendUint16(tiff, uint16(turn))
	tiff = append(tiff, 0, 0, 0, 0, 0, 0)
	body := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte{}, data[:2]...)
	out = append(out, 0xff, 0xe1)
	out = binary.BigEndian.AppendUint16(out, uint16(len(body)+2))
	return append(append(out, body...), data[2:]...)
}

// stored is how a camera with this turn would store an upright picture.
func stored(g gray, turn Turn) gray {
	w, h := g.w, g.h
	if turn.Sideways() {
		w, h = h, w
	}
	s := newGray(w, h)
	for y := range h {
		for x := range w {
			p := turn.Upright(Point{float64(x) + 0.5, float64(y) + 0.5}, w, h)
			s.row(y)[x] = g.row(int(p.Y))[int(p.X)]
		}
	}
	return s
}

func grayColor(v uint8) color.Color { return color.Gray{Y: v} }

// kindsOfImage has an empty image of every type that image/png makes, and CMYK,
// which image/jpeg makes.
func kindsOfImage(b image.Rectangle) map[string]draw.Image {
	shades := make(color.Palette, 256)
	for i := range shades {
		shades[i] = color.Gray{Y: uint8(i)}
	}
	return map[string]draw.Image{
		"Gray": image.NewGray(b), "Gray16": image.NewGray16(b), "RGBA": image.NewRGBA(b), "NRGBA": image.NewNRGBA(b),
		"RGBA64": image.NewRGBA64(b), "NRGBA64": image.NewNRGBA64(b), "CMYK": image.NewCMYK(b), "Paletted": image.NewPaletted(b, shades),
	}
}
