package grow

import (
	"io"
	"strings"
)

// Code is what a label carries: eight symbols of Crockford's Base 32 (digits
// and capitals without I, L, O and U). The first seven are random; the eighth
// is the ISO/IEC 7064 MOD 37,36 check character of the first seven, so any one
// mistyped character is noticed. A Code that [ParseCode] gave is always legal.
type Code string

const (
	codeAlphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
	checkSymbols = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	codeLength   = 8
)

// NewCode draws a code from random, which must be a cryptographic source. A
// draw whose check character falls outside the 32 symbols is thrown away.
func NewCode(random io.Reader) (Code, error) {
	var draw [codeLength - 1]byte
	for {
		if _, err := io.ReadFull(random, draw[:]); err != nil {
			return "", &Error{Kind: Internal, Message: "no random numbers for a new code", Cause: err}
		}
		for i, b := range draw {
			draw[i] = codeAlphabet[b%32] // 256 is a multiple of 32: no symbol is favoured
		}
		check, _ := CheckCharacter(string(draw[:]))
		if strings.IndexByte(codeAlphabet, check) >= 0 {
			return Code(string(draw[:]) + string(check)), nil
		}
	}
}

// ParseCode reads a code as people write it: lower case, spaces and hyphens, I
// or L for 1, O for 0. A code whose check character is wrong is refused, never
// mended.
func ParseCode(text string) (Code, error) {
	clean := make([]byte, 0, codeLength)
	for _, r := range text {
		if r >= 'a' && r <= 'z' { // not ToUpper: that makes an I of a dotless ı
			r -= 'a' - 'A'
		}
		switch {
		case r == ' ' || r == '-' || r == '\u00a0' || r == '\u2010' || r == '\u2011' || r == '\u2013':
			continue
		case r == 'I' || r == 'L':
			r = '1'
		case r == 'O':
			r = '0'
		case r > 0x7f || strings.IndexByte(codeAlphabet, byte(r)) < 0:
			return "", Errorf(Invalid, "%q is not used in a code: a code has 8 digits and letters, without I, L, O and U", string(r))
		}
		if clean = append(clean, byte(r)); len(clean) > codeLength {
			return "", Errorf(Invalid, "a code has 8 digits and letters; this has more")
		}
	}
	if len(clean) != codeLength {
		return "", Errorf(Invalid, "a code has 8 digits and letters; this has %d", len(clean))
	}
	check, _ := CheckCharacter(string(clean[:codeLength-1]))
	if clean[codeLength-1] != check {
		return "", Errorf(Invalid, "the check character of %s is wrong: one of its characters was misread, look at the label again", Code(clean).Spaced())
	}
	return Code(clean), nil
}

// Spaced is the code as it is printed, two groups of four.
func (c Code) Spaced() string {
	if len(c) != codeLength {
		return string(c)
	}
	return string(c[:4] + "-" + c[4:])
}

// CheckCharacter is the check character of text by ISO/IEC 7064, hybrid system
// MOD 37,36. It is false if text has anything but digits and capitals.
func CheckCharacter(text string) (byte, bool) {
	p := 36
	for i := range len(text) {
		v := strings.IndexByte(checkSymbols, text[i])
		if v < 0 {
			return 0, false
		}
		if p = (p + v) % 36; p == 0 {
			p = 36
		}
		p = p * 2 % 37
	}
	return checkSymbols[(37-p)%36], true
}
