package scanner

import (
	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/common"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"
	"github.com/makiuchi-d/gozxing/qrcode/detector"
)

// mostForLibrary is how many groups of finders the library is given.
const mostForLibrary = 12

// askLibrary lets the library read what the best groups of finders may be. Its own
// search tries all groups there are, which takes a minute in front of a tiled wall.
func (s *search) askLibrary(list []triple) {
	mask := hybridMask(s.pyramid[0])
	if mask == nil {
		return
	}
	for i := range list[:min(len(list), mostForLibrary)] {
		f, err := detector.NewDetector(mask).ProcessFinderPatternInfo(list[i].info())
		if err != nil {
			continue
		}
		res, err := decoder.NewDecoder().Decode(f.GetBits(), map[gozxing.DecodeHintType]any{})
		if err != nil || res.GetText() == "" {
			continue
		}
		if corners, ok := cornersOf(f); ok {
			s.found.add(symbol{text: res.GetText(), corners: corners})
		}
	}
}

// info is a triple as the library has it.
func (t *triple) info() *detector.FinderPatternInfo {
	pattern := func(f *finder) *detector.FinderPattern { return detector.NewFinderPattern1(f.at.X, f.at.Y, f.size()) }
	return detector.NewFinderPatternInfo(pattern(&t.finders[2]), pattern(&t.finders[0]), pattern(&t.finders[1]))
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
