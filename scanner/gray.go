package scanner

import (
	"image"
	"image/color"
)

// gray is a picture's luminance, 0 black to 255 white. Rows are stride bytes
// apart, so that a part of a picture shares its pixels.
type gray struct {
	pix          []uint8
	w, h, stride int
}

func newGray(w, h int) gray { return gray{make([]uint8, w*h), w, h, w} }

// row is the w pixels of row y.
func (g gray) row(y int) []uint8 { return g.pix[y*g.stride : y*g.stride+g.w] }

// compact is g with rows that touch, as gozxing wants them.
func (g gray) compact() gray {
	if g.stride == g.w {
		return g
	}
	c := newGray(g.w, g.h)
	for y := range g.h {
		copy(c.row(y), g.row(y))
	}
	return c
}

// mirror is g with left and right exchanged.
func (g gray) mirror() gray {
	m := newGray(g.w, g.h)
	for y := range g.h {
		src, dst := g.row(y), m.row(y)
		for x, v := range src {
			dst[g.w-1-x] = v
		}
	}
	return m
}

// luminance takes the Y plane of a JPEG as it is, and computes it pixel by pixel
// for the kinds of picture that a PNG may hold, without going through the color
// interface. Transparent pixels count as white, like paper.
func luminance(img image.Image) gray {
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	switch m := img.(type) {
	case *image.YCbCr:
		return gray{m.Y[m.YOffset(b.Min.X, b.Min.Y):], w, h, m.YStride}
	case *image.Gray:
		return gray{m.Pix[m.PixOffset(b.Min.X, b.Min.Y):], w, h, m.Stride}
	case *image.Gray16:
		return fill(w, h, m.Pix, m.Stride, 2, func(p []uint8) uint8 { return p[0] })
	case *image.RGBA:
		return fill(w, h, m.Pix, m.Stride, 4, func(p []uint8) uint8 { return luma(p[0], p[1], p[2]) + 255 - p[3] })
	case *image.NRGBA:
		return fill(w, h, m.Pix, m.Stride, 4, func(p []uint8) uint8 { return onWhite(luma(p[0], p[1], p[2]), p[3]) })
	case *image.RGBA64:
		return fill(w, h, m.Pix, m.Stride, 8, func(p []uint8) uint8 { return luma(p[0], p[2], p[4]) + 255 - p[6] })
	case *image.NRGBA64:
		return fill(w, h, m.Pix, m.Stride, 8, func(p []uint8) uint8 { return onWhite(luma(p[0], p[2], p[4]), p[6]) })
	case *image.CMYK:
		return fill(w, h, m.Pix, m.Stride, 4, func(p []uint8) uint8 { return luma(color.CMYKToRGB(p[0], p[1], p[2], p[3])) })
	case *image.Paletted:
		return ofPalette(m, w, h)
	}
	return newGray(w, h)
}

// fill computes a gray picture from pixels of size bytes each.
func fill(w, h int, pix []uint8, stride, size int, of func([]uint8) uint8) gray {
	g := newGray(w, h)
	for y := range h {
		src, dst := pix[y*stride:], g.row(y)
		for x := range dst {
			dst[x] = of(src[x*size : x*size+size])
		}
	}
	return g
}

func ofPalette(m *image.Paletted, w, h int) gray {
	var table [256]uint8
	for i, c := range m.Palette {
		n := color.NRGBAModel.Convert(c).(color.NRGBA)
		table[i] = onWhite(luma(n.R, n.G, n.B), n.A)
	}
	return fill(w, h, m.Pix, m.Stride, 1, func(p []uint8) uint8 { return table[p[0]] })
}

// luma weighs green twice, as a camera's sensor does: two of four cells are
// green, and theirs is the least noise.
func luma(r, g, b uint8) uint8 { return uint8((uint32(r) + 2*uint32(g) + uint32(b)) / 4) }

func onWhite(v, alpha uint8) uint8 {
	return uint8((uint32(v)*uint32(alpha) + 255*(255-uint32(alpha)) + 127) / 255)
}
