package demo

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"math"
	"math/rand/v2"
)

// picture is what a photo of a bag shows.
type picture struct {
	seed  uint64
	share float64    // of the wall grown over
	front bool       // from the top down, as in a bag that was not shaken
	thin  bool       // the sawdust shows through
	patch color.RGBA // of mould or slime; none if transparent
	knobs bool       // pins at the filter
}

const (
	pictureWidth, pictureHeight = 300, 400
	bagLeft, bagTop             = 60, 90
	bagRight, bagBottom         = 240, 370
)

var block = image.Rect(bagLeft, bagTop, bagRight, bagBottom)

var (
	shelfGrey  = color.RGBA{52, 58, 61, 255}
	plankGrey  = color.RGBA{120, 112, 98, 255}
	sawdust    = color.RGBA{133, 96, 62, 255}
	white      = color.RGBA{238, 236, 226, 255}
	filmGrey   = color.RGBA{176, 184, 186, 255}
	filterBlue = color.RGBA{205, 214, 222, 255}
	mouldGreen = color.RGBA{74, 118, 62, 255}
	slimeGrey  = color.RGBA{92, 84, 74, 255}
	thinWhite  = color.RGBA{186, 170, 148, 255}
	knobGrey   = color.RGBA{128, 122, 112, 255}
	rimYellow  = color.RGBA{222, 224, 190, 255}
	grain      = color.RGBA{160, 122, 80, 255}
)

// jpeg draws the picture.
func (p picture) jpeg() ([]byte, error) {
	canvas := image.NewRGBA(image.Rect(0, 0, pictureWidth, pictureHeight))
	fill(canvas, canvas.Bounds(), shelfGrey)
	fill(canvas, image.Rect(0, bagBottom, pictureWidth, bagBottom+12), plankGrey)
	fill(canvas, image.Rect(bagLeft+14, 24, bagRight-14, bagTop), filmGrey)
	fill(canvas, block, sawdust)
	r := rand.New(rand.NewPCG(p.seed, 1))
	for range 260 {
		disc(canvas, block, image.Pt(bagLeft+r.IntN(block.Dx()), bagTop+r.IntN(block.Dy())), 1, grain)
	}
	p.grow(canvas, r)
	fill(canvas, image.Rect(128, 44, 172, 76), filterBlue)
	if p.patch.A > 0 {
		blot(canvas, r, image.Pt(bagLeft+40+r.IntN(90), bagTop+30+r.IntN(170)), 26, p.patch)
	}
	if p.knobs {
		for range 9 {
			at := image.Pt(122+r.IntN(56), 72+r.IntN(12))
			disc(canvas, canvas.Bounds(), at, 7, knobGrey)
			disc(canvas, canvas.Bounds(), at, 5, white)
		}
	}
	var out bytes.Buffer
	err := jpeg.Encode(&out, canvas, &jpeg.Options{Quality: 80})
	return out.Bytes(), err
}

// grow lays white growth over the block until the share asked for is covered.
func (p picture) grow(canvas *image.RGBA, r *rand.Rand) {
	area := float64(block.Dx() * block.Dy())
	const points = 70
	// So many discs of this radius, scattered at random, leave the rest bare.
	radius := math.Sqrt(-math.Log(math.Max(0.004, 1-p.share)) * area / (math.Pi * points))
	colour := white
	if p.thin {
		colour = thinWhite
	}
	for range points {
		at := image.Pt(bagLeft+r.IntN(block.Dx()), bagTop+r.IntN(block.Dy()))
		size := int(radius * between(r, 0.8, 1.2))
		if p.front {
			at.Y, size = bagTop+r.IntN(1+int(p.share*float64(block.Dy()-20))), 18
		}
		disc(canvas, block, at, size, colour)
	}
}

func fill(canvas *image.RGBA, area image.Rectangle, c color.RGBA) {
	draw.Draw(canvas, area, image.NewUniform(c), image.Point{}, draw.Src)
}

// disc stays inside an area.
func disc(canvas *image.RGBA, area image.Rectangle, at image.Point, radius int, c color.RGBA) {
	for y := at.Y - radius; y <= at.Y+radius; y++ {
		for x := at.X - radius; x <= at.X+radius; x++ {
			dx, dy := x-at.X, y-at.Y
			if dx*dx+dy*dy <= radius*radius && image.Pt(x, y).In(area) {
				canvas.SetRGBA(x, y, c)
			}
		}
	}
}

// blot is a patch with a ragged edge, paler at its rim.
func blot(canvas *image.RGBA, r *rand.Rand, at image.Point, size int, c color.RGBA) {
	disc(canvas, block, at, size+6, rimYellow)
	for range 60 {
		a, d := between(r, 0, 2*math.Pi), between(r, 0, float64(size-6))
		disc(canvas, block, at.Add(image.Pt(int(d*math.Cos(a)), int(d*math.Sin(a)))), 3+r.IntN(5), c)
	}
}
