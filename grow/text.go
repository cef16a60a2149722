package grow

import (
	"unicode"
	"unicode/utf8"
)

// checkText notes a problem unless text has least to most characters, all of
// them printable or, in longer texts, line breaks.
func checkText(p *Problems, field, text string, least, most int) {
	n := utf8.RuneCountInString(text)
	switch {
	case !utf8.ValidString(text):
		p.Add(field, "is not valid UTF-8 text")
	case n < least:
		p.Add(field, "is missing")
	case n > most:
		p.Add(field, "may have at most %d characters, this has %d", most, n)
	}
	for _, r := range text {
		if unicode.IsControl(r) && (most < 200 || r != '\n' && r != '\r' && r != '\t') {
			p.Add(field, "has a control character in it")
			return
		}
	}
}

// checkName is checkText for names of things: 1 to 60 characters, not only spaces.
func checkName(p *Problems, field, text string) {
	checkText(p, field, text, 1, 60)
	for _, r := range text {
		if !unicode.IsSpace(r) {
			return
		}
	}
	p.Add(field, "is missing")
}
