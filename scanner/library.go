package scanner

import (
	"context"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/common"
	multi "github.com/makiuchi-d/gozxing/multi/qrcode/detector"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"
	"github.com/makiuchi-d/gozxing/qrcode/detector"
)

// findSymbols tries several ways to tell dark from light, since they fail on
// different pictures, from the cheap to the dear.
func findSymbols(ctx context.Context, g gray, _ Options) ([]symbol, error) {
	var found symbolSet
	tries := []func(){
		func() { found.readAll(hybridMask(g), 1, Point{}) },
		func() { found.readAll(meanMask(g, max(8, g.w/40)), 1, Point{}) },
		func() { found.readAll(hybridMask(smooth(g)), 1, Point{}) },
		func() {
			if g.w*g.h <= 1_500_000 && len(found) == 0 {
				d := double(g)
				found.readAll(meanMask(d, max(8, d.w/40)), 2, Point{})
			}
		},
		func() {
			if g.w*g.h >= 4_000_000 {
				found.readTiles(g, 600)
			}
		},
	}
	for _, try := range tries {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		try()
	}
	return found, nil
}

// readTiles reads overlapping squares of side pixels: few finders at a time
// make few wrong triples.
func (s *symbolSet) readTiles(g gray, side int) {
	for y := 0; y < g.h; y += side / 2 {
		for x := 0; x < g.w; x += side / 2 {
			t := g.crop(x, y, min(side, g.w-x), min(side, g.h-y))
			s.readAll(hybridMask(t.compact()), 1, Point{float64(x), float64(y)})
		}
	}
}

// readAll finds and decodes the symbols of one black and white picture, which is
// scale times as large as the one asked about and starts at origin in it.
func (s *symbolSet) readAll(mask *gozxing.BitMatrix, scale float64, origin Point) {
	if mask == nil {
		return
	}
	hints := map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true}
	found, _ := multi.NewMultiDetector(mask).DetectMulti(hints)
	if one, err := detector.NewDetector(mask).Detect(hints); err == nil {
		found = append(found, one)
	}
	for _, f := range found {
		res, err := decoder.NewDecoder().Decode(f.GetBits(), hints)
		if err != nil || res.GetText() == "" {
			continue
		}
		corners, ok := cornersOf(f)
		if !ok {
			continue
		}
		for i := range corners {
			corners[i] = corners[i].times(1 / scale).plus(origin)
		}
		s.add(symbol{text: res.GetText(), corners: corners})
	}
}

// cornersOf carries the grid that finders and alignment pattern span on to the
// corners of the symbol: finders' middles are 3.5 modules inside, the last
// alignment pattern's 6.5 (ISO/IEC 18004, 6.3).
func cornersOf(f *common.DetectorResult) (quad, bool) {
	n := float64(f.GetBits().GetWidth())
	p := make([]Point, 0, 4)
	for _, r := range f.GetPoints() {
		p = append(p, Point{r.GetX(), r.GetY()})
	}
	if len(p) < 3 {
		return quad{}, false
	}
	from := [4]Point{{3.5, n - 3.5}, {3.5, 3.5}, {n - 3.5, 3.5}, {n - 6.5, n - 6.5}}
	if len(p) < 4 {
		from[3] = Point{n - 3.5, n - 3.5}
		p = append(p, p[0].plus(p[2]).minus(p[1]))
	}
	grid, ok := project(from, [4]Point(p[:4]))
	if !ok {
		return quad{}, false
	}
	return quad{grid.at(Point{0, 0}), grid.at(Point{n, 0}), grid.at(Point{n, n}), grid.at(Point{0, n})}, true
}

// hybridMask is gozxing's own threshold, by blocks of 8 × 8 pixels.
func hybridMask(g gray) *gozxing.BitMatrix {
	g = g.compact()
	source, err := gozxing.NewPlanarYUVLuminanceSource(g.pix, g.w, g.h, 0, 0, g.w, g.h, false)
	if err != nil {
		return nil
	}
	mask, err := gozxing.NewHybridBinarizer(source).GetBlackMatrix()
	if err != nil {
		return nil
	}
	return mask
}

// meanMask calls dark what is darker than the mean of the square around it.
func meanMask(g gray, radius int) *gozxing.BitMatrix {
	mask, err := gozxing.NewBitMatrix(g.w, g.h)
	if err != nil {
		return nil
	}
	sums := integral(g)
	for y := range g.h {
		y0, y1 := max(0, y-radius), min(g.h, y+radius+1)
		for x, v := range g.row(y) {
			x0, x1 := max(0, x-radius), min(g.w, x+radius+1)
			sum := sums[y1*(g.w+1)+x1] - sums[y0*(g.w+1)+x1] - sums[y1*(g.w+1)+x0] + sums[y0*(g.w+1)+x0]
			if uint32(v)*uint32((y1-y0)*(x1-x0)) < sum-sum/32 {
				mask.Set(x, y)
			}
		}
	}
	return mask
}

// integral holds at (x, y) the sum of all pixels above and left of it; sums
// wrap around, which differences undo as long as a square has < 2^24 pixels.
func integral(g gray) []uint32 {
	w := g.w + 1
	sums := make([]uint32, w*(g.h+1))
	for y := range g.h {
		var line uint32
		for x, v := range g.row(y) {
			line += uint32(v)
			sums[(y+1)*w+x+1] = sums[y*w+x+1] + line
		}
	}
	return sums
}

// smooth takes the mean of 3 × 3 pixels; the outermost stay as they are.
func smooth(g gray) gray {
	s := newGray(g.w, g.h)
	for y := range g.h {
		copy(s.row(y), g.row(y))
		if y == 0 || y == g.h-1 {
			continue
		}
		a, b, c, d := g.row(y-1), g.row(y), g.row(y+1), s.row(y)
		for x := 1; x < g.w-1; x++ {
			sum := int(a[x-1]) + int(a[x]) + int(a[x+1]) + int(b[x-1]) + int(b[x]) + int(b[x+1]) + int(c[x-1]) + int(c[x]) + int(c[x+1])
			d[x] = uint8(sum / 9)
		}
	}
	return s
}

// double is g at twice the size, pixels in between interpolated.
func double(g gray) gray {
	d := newGray(2*g.w, 2*g.h)
	for y := range d.h {
		a, b := g.row(max(0, (y-1)/2)), g.row(min(g.h-1, (y+1)/2))
		row := d.row(y)
		for x := range row {
			l, r := max(0, (x-1)/2), min(g.w-1, (x+1)/2)
			row[x] = uint8((int(a[l]) + int(a[r]) + int(b[l]) + int(b[r]) + 2) / 4)
		}
	}
	return d
}
