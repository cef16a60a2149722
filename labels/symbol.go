package labels

import (
	"fmt"

	qrcode "github.com/skip2/go-qrcode"
)

// QuietZone is the white border around a symbol, in modules on each side
// (ISO/IEC 18004).
const QuietZone = 4

// maxPayload keeps a symbol within what any label can carry, and encoding cheap.
const maxPayload = 200

// Level is the share of a symbol that may be lost and still be read.
type Level byte

// The levels of ISO/IEC 18004: about 7, 15, 25 and 30 % of the codewords.
const (
	LevelL Level = 'L'
	LevelM Level = 'M'
	LevelQ Level = 'Q'
	LevelH Level = 'H'
)

// String gives the level's letter.
func (l Level) String() string { return string(rune(l)) }

// Symbol is the QR code of one payload: which modules are dark. It never changes
// once made and may be shared between goroutines.
type Symbol struct {
	Payload string
	Version int   // 1-40; a side has 17 + 4 × version modules
	Level   Level // M or better
	Modules int   // modules a side, quiet zone not counted

	dark []bool // row by row from the top left, Modules × Modules
}

// NewSymbol makes the symbol of a payload. It takes the smallest version that
// holds the payload at level M, then the highest level that the version has room
// for: strength that costs no space. The same payload gives the same symbol,
// always. The payload is taken as it is. The library cuts it into segments greedily
// and compares with one single segment: how a payload is cut, and so which bits
// stand where, varies from code to code (a code that ends in digits may end in a
// numeric segment), and is not always the shortest way.
func NewSymbol(payload string) (*Symbol, error) {
	if payload == "" {
		return nil, &Error{Message: "an empty payload has no symbol"}
	}
	if len(payload) > maxPayload {
		return nil, &Error{Message: fmt.Sprintf("a payload of %d characters is too long for a label; shorten the farm's public address", len(payload))}
	}
	code, err := qrcode.New(payload, qrcode.Medium)
	if err != nil {
		return nil, &Error{Message: "this payload has no symbol: " + err.Error()}
	}
	level := LevelM
	// The library's High is level Q and its Highest is level H.
	for _, step := range []struct {
		level Level
		ask   qrcode.RecoveryLevel
	}{{LevelQ, qrcode.High}, {LevelH, qrcode.Highest}} {
		stronger, err := qrcode.New(payload, step.ask)
		if err != nil || stronger.VersionNumber != code.VersionNumber {
			break
		}
		code, level = stronger, step.level
	}
	return matrix(payload, level, code), nil
}

// matrix keeps the library's bitmap. The border has to be switched off before the
// first call, and each call encodes anew: hence once, here.
func matrix(payload string, level Level, code *qrcode.QRCode) *Symbol {
	code.DisableBorder = true
	rows := code.Bitmap()
	s := &Symbol{Payload: payload, Version: code.VersionNumber, Level: level, Modules: len(rows)}
	s.dark = make([]bool, 0, len(rows)*len(rows))
	for _, row := range rows {
		s.dark = append(s.dark, row...)
	}
	return s
}

// Dark says whether the module in column x and row y is dark, from 0 at the top
// left. Outside the symbol all is light.
func (s *Symbol) Dark(x, y int) bool {
	if x < 0 || y < 0 || x >= s.Modules || y >= s.Modules {
		return false
	}
	return s.dark[y*s.Modules+x]
}

// Side is the number of modules a side with the quiet zone.
func (s *Symbol) Side() int { return s.Modules + 2*QuietZone }

// run is a stretch of dark modules in one row.
type run struct{ x, y, n int }

// runs gives the dark modules row by row, neighbours merged.
func (s *Symbol) runs() []run {
	out := make([]run, 0, s.Modules*s.Modules/4)
	for y := range s.Modules {
		for x := 0; x < s.Modules; x++ {
			start := x
			for s.Dark(x, y) {
				x++
			}
			if x > start {
				out = append(out, run{start, y, x - start})
			}
		}
	}
	return out
}
