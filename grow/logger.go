package grow

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// Logger rules
//
// A data logger's file is a table of text, one reading a row, in whatever way its
// maker writes it: commas, semicolons or tabs; a decimal point or comma; some
// lines about the device before the heading; UTF-8, UTF-16 or Latin-1. Which
// column is what is guessed from the heading and the first rows, shown, and
// remembered by the heading once somebody has agreed. Nothing is read twice: a time
// on the night when clocks go back is the first of its two hours until the file's
// own order says that it is the second.

// LoggerSheet is a logger's file as a table.
type LoggerSheet struct {
	Heading []string   // of the columns; column 1, column 2 where the file has none
	Rows    [][]string // as many cells as the heading
	Lines   []int      // where each row stands in the file
}

// MostLoggerRows is how many readings one file may hold: two years of five minutes.
const MostLoggerRows = 250000

// ReadLogger reads a logger's file.
func ReadLogger(data []byte) (LoggerSheet, error) {
	text := plainText(data)
	rows, lines, err := table(text, separatorOf(text))
	if err != nil {
		return LoggerSheet{}, err
	}
	first := slices.IndexFunc(rows, func(row []string) bool { return slices.ContainsFunc(row, looksLikeTime) })
	if first < 0 {
		return LoggerSheet{}, Errorf(Invalid, "no row of this file has a date and time that can be read")
	}
	s := LoggerSheet{Heading: headingOf(rows, first)}
	for i := first; i < len(rows); i++ {
		if strings.TrimSpace(strings.Join(rows[i], "")) == "" {
			continue
		}
		row := slices.Clone(rows[i])
		for len(row) < len(s.Heading) {
			row = append(row, "")
		}
		s.Rows, s.Lines = append(s.Rows, row[:len(s.Heading)]), append(s.Lines, lines[i])
	}
	if len(s.Rows) > MostLoggerRows {
		return LoggerSheet{}, Errorf(TooLarge, "this file has %d rows; at most %d are taken at once", len(s.Rows), MostLoggerRows)
	}
	return s, nil
}

// headingOf is the last row before the readings that names as many columns.
func headingOf(rows [][]string, first int) []string {
	width := len(rows[first])
	var out []string
	for i := first - 1; i >= 0 && out == nil; i-- {
		if len(rows[i]) >= 2 && len(rows[i]) >= width-1 {
			out = slices.Clone(rows[i])
		}
	}
	for i := range max(width, len(out)) {
		if i >= len(out) {
			out = append(out, "")
		}
		if out[i] = strings.TrimSpace(out[i]); out[i] == "" {
			out[i] = "column " + strconv.Itoa(i+1)
		}
	}
	return out
}

// plainText is the file as UTF-8 without its byte order mark.
func plainText(data []byte) string {
	switch {
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}), bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		var units []uint16
		for i := 2; i+1 < len(data); i += 2 {
			low, high := data[i], data[i+1]
			if data[0] == 0xfe {
				low, high = high, low
			}
			units = append(units, uint16(low)|uint16(high)<<8)
		}
		return string(utf16.Decode(units))
	case utf8.Valid(data):
		return strings.TrimPrefix(string(data), "\ufeff")
	}
	latin := make([]rune, len(data)) // each byte of Latin-1 is its own rune
	for i, b := range data {
		latin[i] = rune(b)
	}
	return string(latin)
}

// separatorOf is the sign that most of the first lines have most of: one that
// stands in few lines is part of a text or a number.
func separatorOf(text string) rune {
	lines := strings.SplitN(text, "\n", 60)
	best, most := ',', 0
	for _, sign := range []rune{';', '\t', ','} {
		score := 0
		for _, line := range lines[:min(len(lines), 59)] {
			if strings.ContainsRune(line, sign) {
				score++
			}
		}
		if score > most {
			best, most = sign, score
		}
	}
	return best
}

func table(text string, separator rune) (rows [][]string, lines []int, err error) {
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, r.FieldsPerRecord, r.LazyQuotes, r.TrimLeadingSpace = separator, -1, true, separator != '\t'
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			return rows, lines, nil
		}
		if err != nil {
			return nil, nil, Errorf(Invalid, "this file is not a table that can be read")
		}
		line, _ := r.FieldPos(0)
		rows, lines = append(rows, row), append(lines, line)
		if len(rows) > MostLoggerRows+1000 {
			return nil, nil, Errorf(TooLarge, "this file has more than %d rows", MostLoggerRows)
		}
	}
}
