package scanner

import (
	"testing"

	"github.com/makiuchi-d/gozxing/qrcode/decoder"
	qrcode "github.com/skip2/go-qrcode"
)

// softOf is a perfect look at a symbol.
func softOf(modules [][]bool) []float32 {
	var soft []float32
	for _, row := range modules {
		for _, dark := range row {
			v := float32(-1)
			if dark {
				v = 1
			}
			soft = append(soft, v)
		}
	}
	return soft
}

// TestLayout compares fixed modules, format bits, masks and the order of data with
// symbols of another encoder, for all versions and levels.
func TestLayout(t *testing.T) {
	t.Parallel()
	levels := map[qrcode.RecoveryLevel]int{qrcode.Low: 1, qrcode.Medium: 0, qrcode.High: 3, qrcode.Highest: 2} // ISO/IEC 18004, table 12
	for version := minVersion; version <= maxVersion; version++ {
		for level, bits := range levels {
			for _, text := range []string{"12345678901234567", "AC-42", "http://h/B", "ABCDEFGH", "q"} {
				code, err := qrcode.NewWithForcedVersion(text, version, level)
				if err != nil {
					continue // too long for a small version
				}
				code.DisableBorder = true
				soft := softOf(code.Bitmap())
				l := layoutOf(version)
				for i, f := range l.fixed {
					if f != 0 && float32(f) != soft[i] {
						t.Fatalf("version %d: module %d, %d is %v, want %d", version, i%l.n, i/l.n, soft[i], f)
					}
				}
				f := formats(l, soft)[0]
				if f.fit != 1 || f.levelBits != bits {
					t.Errorf("version %d: format %+v, want level %d", version, f, bits)
				}
				s := newStream(l, soft, f)
				m, ok := s.decode(nil)
				if !ok || m.text != text || m.spare != s.coding.check || m.erased != 0 {
					t.Errorf("version %d level %d: decoded %+v, %v; want %q", version, bits, m, ok, text)
				}
			}
		}
	}
	if layoutOf(0) != nil || layoutOf(maxVersion+1) != nil {
		t.Error("a layout for a version that is not read here")
	}
}

// TestFixedModules counts function modules as the library's table of codewords
// implies: all that is neither data, format bits nor remainder bits.
func TestFixedModules(t *testing.T) {
	t.Parallel()
	remainder := []int{0, 0, 7, 7, 7, 7, 7} // ISO/IEC 18004, table 1
	for version := minVersion; version <= maxVersion; version++ {
		v, err := decoder.Version_GetVersionForNumber(version)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := len(layoutOf(version).data), 8*v.GetTotalCodewords()+remainder[version]; got != want {
			t.Errorf("version %d has %d data modules, want %d", version, got, want)
		}
	}
}
