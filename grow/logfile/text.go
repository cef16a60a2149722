package logfile

import (
	"bytes"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// plainText is a file as UTF-8 without its byte order mark.
func plainText(data []byte) string {
	switch {
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}):
		return wideText(data[2:], 0)
	case bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		return wideText(data[2:], 1)
	case len(data) > 3 && data[0] != 0 && data[1] == 0 && data[2] != 0 && data[3] == 0: // UTF-16 without a mark
		return wideText(data, 0)
	case utf8.Valid(data):
		return strings.TrimPrefix(string(data), "\ufeff")
	}
	latin := make([]rune, len(data)) // each byte of Latin-1 is its own rune
	for i, b := range data {
		latin[i] = rune(b)
	}
	return string(latin)
}

// wideText reads UTF-16; low is where the low byte of each pair stands.
func wideText(data []byte, low int) string {
	units := make([]uint16, 0, len(data)/2)
	for i := 0; i+1 < len(data); i += 2 {
		units = append(units, uint16(data[i+low])|uint16(data[i+1-low])<<8)
	}
	return string(utf16.Decode(units))
}

func splitLines(text string) []string {
	text = strings.ReplaceAll(text, "\r\n", "\n")
	return strings.Split(strings.ReplaceAll(text, "\r", "\n"), "\n")
}

// unit is what stands behind a number.
type unit byte

const (
	noUnit  unit = 0
	celsius unit = 'c'
	fahren  unit = 'f'
	other   unit = '%' // per cent, parts per million: no temperature
)

// kind tells a number from a cell left empty and from one that is neither.
type kind byte

const (
	aNumber kind = iota
	missing      // empty, dashes, or a word for none
	strange
)

// number reads a cell with a decimal point or comma and perhaps a unit behind it.
func number(cell string) (value float64, of unit, is kind) {
	n := len(cell)
	for n > 0 && (cell[n-1] < '0' || cell[n-1] > '9') {
		n--
	}
	if n == 0 {
		switch strings.ToLower(strings.Trim(cell, "-– ")) {
		case "", "nan", "n/a", "na", "null", "none", "err", "error":
			return 0, noUnit, missing
		}
		return 0, noUnit, strange
	}
	text := cell[:n]
	if of = unitOf(cell[n:]); of == '?' || n > 24 {
		return 0, noUnit, strange
	}
	if i := strings.IndexByte(text, ','); i >= 0 {
		if strings.IndexByte(text[i+1:], ',') >= 0 || strings.IndexByte(text, '.') >= 0 {
			return 0, noUnit, strange
		}
		text = text[:i] + "." + text[i+1:]
	}
	value, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(value) || math.IsInf(value, 0) {
		return 0, noUnit, strange
	}
	return value, of, aNumber
}

// unitOf reads what stands behind a number, '?' for what is none.
func unitOf(behind string) unit {
	if behind == "" {
		return noUnit
	}
	switch strings.ToLower(strings.Trim(behind, " .,°º")) {
	case "":
		return noUnit
	case "c", "deg c":
		return celsius
	case "f", "deg f":
		return fahren
	case "%", "rh", "% rh", "%rh", "ppm":
		return other
	}
	return '?'
}

// ofHead is the unit that a head names, noUnit for none. A letter behind a line
// counts where the head ends with it: T_core and core_front name no unit.
func ofHead(head string) unit {
	low := strings.ToLower(head)
	for _, u := range []struct {
		of   unit
		says []string
		ends string
	}{
		{fahren, []string{"°f", "ºf", "(f)", "[f]", "deg f", "degf", "fahrenheit"}, "_f"},
		{celsius, []string{"°c", "ºc", "(c)", "[c]", "deg c", "degc", "celsius"}, "_c"},
	} {
		if strings.HasSuffix(low, u.ends) || slices.ContainsFunc(u.says, func(word string) bool { return strings.Contains(low, word) }) {
			return u.of
		}
	}
	return noUnit
}

func celsiusOf(value float64, fahrenheit bool) float64 {
	if fahrenheit {
		return (value - 32) / 1.8
	}
	return value
}
