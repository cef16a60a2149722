package scanner

import "strings"

// part is a segment of a payload: a run of characters in one mode.
type part struct {
	mode mode
	text string
}

type mode int

// Modes from the narrowest set of characters to the widest (ISO/IEC 18004, 7.3).
const (
	numeric mode = iota
	alphanumeric
	bytewise
)

const alphanumerics = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"

func modeOf(c byte) mode {
	switch {
	case c >= '0' && c <= '9':
		return numeric
	case strings.IndexByte(alphanumerics, c) >= 0:
		return alphanumeric
	}
	return bytewise
}

// bits is the length of n characters in a mode (ISO/IEC 18004, 7.4; versions 1
// to 9).
func (m mode) bits(n int) int {
	switch m {
	case numeric:
		return 4 + 10 + 10*(n/3) + []int{0, 4, 7}[n%3]
	case alphanumeric:
		return 4 + 9 + 11*(n/2) + 6*(n%2)
	}
	return 4 + 8 + 8*n
}

// cut divides a payload as the encoder that prints the labels does: runs of one
// mode, each taking in what follows in a narrower mode as long as that is
// shorter; then the whole in its widest mode, if that is no longer.
func cut(payload string) (parts []part) {
	var runs []part
	widest := numeric
	for i := range len(payload) {
		m := modeOf(payload[i])
		widest = max(widest, m)
		if n := len(runs); n > 0 && runs[n-1].mode == m {
			runs[n-1].text = payload[i-len(runs[n-1].text) : i+1]
			continue
		}
		runs = append(runs, part{m, payload[i : i+1]})
	}
	for i := 0; i < len(runs); {
		p := runs[i]
		for i++; i < len(runs) && runs[i].mode <= p.mode; i++ {
			n, more := len(p.text), len(runs[i].text)
			if p.mode.bits(n+more) >= p.mode.bits(n)+runs[i].mode.bits(more) {
				break
			}
			p.text += runs[i].text
		}
		parts = append(parts, p)
	}
	if widest.bits(len(payload)) <= lengthOf(parts) {
		return []part{{widest, payload}}
	}
	return parts
}

func lengthOf(parts []part) (bits int) {
	for _, p := range parts {
		bits += p.mode.bits(len(p.text))
	}
	return bits
}

// smallest is the coding that labels are printed in: the smallest version that
// holds so many bits at level M, then the highest level that still holds them.
// It is nil if none of the versions read here does.
func smallest(bits int) *coding {
	const levelM, levelQ, levelH = 0, 3, 2
	for v := minVersion; v <= maxVersion; v++ {
		best := codingOf(v, levelM)
		if bits > 8*best.data {
			continue
		}
		for _, level := range []int{levelQ, levelH} {
			c := codingOf(v, level)
			if bits > 8*c.data {
				break
			}
			best = c
		}
		return best
	}
	return nil
}

// writeWords writes segments as the codewords of a symbol.
func writeWords(parts []part, c *coding) []byte {
	w := bitWriter{words: make([]byte, 0, c.data)}
	for _, p := range parts {
		w.segment(p)
	}
	w.pad(c.data)
	words := make([]byte, c.total)
	at := 0
	for _, block := range c.blocks {
		n := len(block) - c.check
		data := w.words[at : at+n]
		at += n
		for i, k := range block[:n] {
			words[k] = data[i]
		}
		for i, v := range checkWords(data, c.generator) {
			words[block[n+i]] = v
		}
	}
	return words
}

// bitWriter fills bytes from the highest bit down.
type bitWriter struct {
	words []byte
	bits  int
}

func (w *bitWriter) put(value, bits int) {
	for i := bits - 1; i >= 0; i-- {
		if w.bits%8 == 0 {
			w.words = append(w.words, 0)
		}
		if value>>i&1 == 1 {
			w.words[w.bits/8] |= 0x80 >> (w.bits % 8)
		}
		w.bits++
	}
}

func (w *bitWriter) segment(p part) {
	w.put([]int{1, 2, 4}[p.mode], 4)
	w.put(len(p.text), []int{10, 9, 8}[p.mode])
	group := []int{3, 2, 1}[p.mode]
	for i := 0; i < len(p.text); i += group {
		piece := p.text[i:min(len(p.text), i+group)]
		value := 0
		for j := range len(piece) {
			switch p.mode {
			case bytewise:
				value = int(piece[j])
			case alphanumeric:
				value = value*45 + strings.IndexByte(alphanumerics, piece[j])
			case numeric:
				value = value*10 + int(piece[j]-'0')
			}
		}
		w.put(value, [][]int{{0, 4, 7, 10}, {0, 6, 11}, {0, 8}}[p.mode][len(piece)])
	}
}

// pad ends the message and fills up to n codewords.
func (w *bitWriter) pad(n int) {
	w.put(0, min(4, 8*n-w.bits))
	for i := 0; len(w.words) < n; i++ {
		w.words = append(w.words, []byte{0xec, 0x11}[i%2])
	}
}
