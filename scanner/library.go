package scanner

import (
	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/common"
	multi "github.com/makiuchi-d/gozxing/multi/qrcode/detector"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"
	"github.com/makiuchi-d/gozxing/qrcode/detector"
)

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
