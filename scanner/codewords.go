package scanner

import (
	"slices"
	"sync"

	"github.com/makiuchi-d/gozxing/qrcode/decoder"
)

// coding is how a version and level cut data into blocks of codewords
// (ISO/IEC 18004, 7.5 and table 9; the numbers are the library's).
type coding struct {
	version   *decoder.Version
	level     decoder.ErrorCorrectionLevel
	levelBits int
	check     int     // check codewords of each block
	blocks    [][]int // by block, places in the stream of codewords; data first
	total     int     // codewords
	data      int     // of them, those before the check codewords
	generator []byte  // the polynomial that check codewords are made with
}

var codings = sync.OnceValue(func() (all [maxVersion + 1][4]*coding) {
	for v := minVersion; v <= maxVersion; v++ {
		for bits := range 4 {
			all[v][bits] = newCoding(v, bits)
		}
	}
	return all
})

func codingOf(version, levelBits int) *coding { return codings()[version][levelBits] }

func newCoding(number, levelBits int) *coding {
	version, err := decoder.Version_GetVersionForNumber(number)
	if err != nil {
		panic(err) // versions 1 to 6 exist
	}
	level, err := decoder.ErrorCorrectionLevel_ForBits(uint(levelBits))
	if err != nil {
		panic(err) // two bits are always a level
	}
	c := &coding{version: version, level: level, levelBits: levelBits, total: version.GetTotalCodewords()}
	blocks := version.GetECBlocksForLevel(level)
	c.check = blocks.GetECCodewordsPerBlock()
	var sizes []int
	for _, b := range blocks.GetECBlocks() {
		for range b.GetCount() {
			sizes = append(sizes, b.GetDataCodewords())
		}
	}
	c.generator = generatorOf(c.check)
	c.blocks = make([][]int, len(sizes))
	at := 0
	for i := range slices.Max(sizes) { // data runs through the blocks in turn
		for b, size := range sizes {
			if i < size {
				c.blocks[b] = append(c.blocks[b], at)
				at++
			}
		}
	}
	c.data = at
	for range c.check {
		for b := range sizes {
			c.blocks[b] = append(c.blocks[b], at)
			at++
		}
	}
	return c
}

// stream is the data bits of a symbol as measured: positive for 1, about 1 where
// there is no doubt, in the order of the codewords.
type stream struct {
	coding *coding
	mask   int
	bits   []float32
}

// newStream takes the mask off a symbol's soft modules.
func newStream(l *layout, soft []float32, f format) stream {
	s := stream{coding: codingOf(l.version, f.levelBits), mask: f.mask, bits: make([]float32, 8*codingOf(l.version, f.levelBits).total)}
	for i := range s.bits {
		at := l.data[i]
		s.bits[i] = soft[at]
		if masked(f.mask, at%l.n, at/l.n) {
			s.bits[i] = -soft[at]
		}
	}
	return s
}

// format is a symbol's level and mask, and how well its format bits fit.
type format struct {
	levelBits, mask int
	fit             float32
}

// formats lists all 32, the best first.
func formats(l *layout, soft []float32) []format {
	list := make([]format, 0, 32)
	for level := range 4 {
		for mask := range 8 {
			word := formatBits(level, mask)
			var fit float32
			for _, copy := range l.format {
				for b, at := range copy {
					if word>>(14-b)&1 == 1 {
						fit += clip(soft[at], 1)
					} else {
						fit -= clip(soft[at], 1)
					}
				}
			}
			list = append(list, format{level, mask, fit / 30})
		}
	}
	slices.SortStableFunc(list, func(a, b format) int {
		switch {
		case a.fit > b.fit:
			return -1
		case a.fit < b.fit:
			return 1
		}
		return 0
	})
	return list
}

// message is a decoded symbol.
type message struct {
	text   string
	erased int // codewords given up, over all blocks
	spare  int // check codewords left unused in the worst block
}

// spareCodewords must stay unused where codewords were given up: what is left is
// the proof that the result is right. Four leave about one chance in a thousand
// million for a wrong result.
const spareCodewords = 4

// decode mends the stream and reads its text: first as it is, then giving up
// more and more of the codewords with the least certain bits (generalised minimum
// distance decoding; G. D. Forney, 1966). Certain are codewords known beforehand,
// by place in the stream; nil for none.
func (s *stream) decode(certain map[int]byte) (message, bool) {
	words := make([]byte, s.coding.total)
	doubt := make([]float32, s.coding.total)
	for i := range words {
		low, sum := float32(9), float32(0)
		for b := range 8 {
			v := s.bits[8*i+b]
			words[i] <<= 1
			if v > 0 {
				words[i] |= 1
			} else {
				v = -v
			}
			low, sum = min(low, v), sum+v
		}
		doubt[i] = -low - 0.02*sum
		if w, ok := certain[i]; ok {
			words[i], doubt[i] = w, -99
		}
	}
	m := message{spare: 99}
	data := make([]byte, 0, s.coding.total)
	for _, places := range s.coding.blocks {
		block, erased, spare, ok := mendBlock(words, doubt, places, s.coding.check)
		if !ok {
			return m, false
		}
		for i, at := range places {
			if w, known := certain[at]; known && block[i] != w {
				return m, false
			}
		}
		m.erased, m.spare = m.erased+erased, min(m.spare, spare)
		data = append(data, block[:len(places)-s.coding.check]...)
	}
	res, err := decoder.DecodedBitStreamParser_Decode(data, s.coding.version, s.coding.level, nil)
	if err != nil || res.GetText() == "" {
		return m, false
	}
	m.text = res.GetText()
	return m, true
}

// mendBlock gives up the most doubtful codewords, two more at a time, until the
// block can be mended.
func mendBlock(words []byte, doubt []float32, places []int, check int) (block []byte, erased, spare int, ok bool) {
	order := make([]int, len(places))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch da, db := doubt[places[a]], doubt[places[b]]; {
		case da > db:
			return -1
		case da < db:
			return 1
		}
		return 0
	})
	block = make([]byte, len(places))
	for e := 0; e == 0 || e <= check-spareCodewords; e += 2 {
		for i, at := range places {
			block[i] = words[at]
		}
		errors, ok := correct(block, check, order[:e])
		if left := check - e - 2*errors; ok && (e == 0 || left >= spareCodewords) {
			return block, e, left, true
		}
	}
	return nil, 0, 0, false
}
