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

// CheckName notes a problem unless text is the name of a thing: 1 to 60 characters,
// not only spaces and signs that cannot be seen, and none that turns the line
// around it.
func CheckName(p *Problems, field, text string) {
	checkText(p, field, text, 1, 60)
	for _, r := range text {
		if turnsLines(r) {
			p.Add(field, "has a sign in it that turns the direction of writing")
			return
		}
	}
	for _, r := range text {
		if !unicode.IsSpace(r) && !unicode.Is(unicode.Cf, r) {
			return
		}
	}
	p.Add(field, "is missing")
}

// turnsLines tells whether a sign overrides or embeds a direction of writing
// (Unicode Standard Annex 9, "Explicit Directional Embeddings, Overrides and
// Isolates"): left open, it turns round what stands behind the name.
func turnsLines(r rune) bool { return r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 }
