package grow

import (
	"strings"
	"unicode"
)

// NearName tells whether two names are so near that one may be a slip of the other:
// the same letters and digits but for case, spaces and hyphens, or one letter off where there are three or more.
// Digits tell lots and runs apart, so names of other digits are never near.
func NearName(a, b string) bool {
	x, y := bare(a), bare(b)
	if string(x) == string(y) {
		return a != b && len(x) > 0
	}
	digits := digitsOf(x)
	return digits == digitsOf(y) && min(len(x), len(y)) >= len(digits)+3 && oneOff(x, y)
}

// bare are the letters and digits of a name in small letters.
func bare(name string) []rune {
	var out []rune
	for _, r := range strings.ToLower(name) {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			out = append(out, r)
		}
	}
	return out
}

func digitsOf(name []rune) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsDigit(r) {
			return r
		}
		return -1
	}, string(name))
}

// oneOff tells whether one letter changed, added or left out makes one of the other.
func oneOff(x, y []rune) bool {
	if len(x) > len(y) {
		x, y = y, x
	}
	if len(y)-len(x) > 1 {
		return false
	}
	i := 0
	for i < len(x) && x[i] == y[i] {
		i++
	}
	if len(x) == len(y) {
		return string(x[i+1:]) == string(y[i+1:])
	}
	return string(x[i:]) == string(y[i+1:])
}
