package grow

import (
	"strings"
	"unicode"
)

// How well a name fits what somebody typed.
const (
	fitsNot = iota
	fitsInside
	fitsWord // a word of the name begins with it
	fitsStart
	fitsExactly
)

// FindSpecies are the species of which a slug, a Latin name (older ones too), a
// trade name or a short name fits the text, without regard to case, accents,
// hyphens and apostrophes: exact fits first, then names that begin with it,
// then the rest, each in the list's order. Names overlap between countries, so
// more than one may fit exactly. A blank text fits all.
func FindSpecies(list []Species, text string) []Species {
	want := foldName(text)
	if want == "" {
		return append([]Species(nil), list...)
	}
	var out []Species
	for fit := fitsExactly; fit > fitsNot; fit-- {
		for _, s := range list {
			if s.fit(want) == fit {
				out = append(out, s)
			}
		}
	}
	return out
}

// SpeciesNamed is the one species that the text names exactly. The error lists
// what it could have meant.
func SpeciesNamed(list []Species, text string) (Species, error) {
	want := foldName(text)
	var exact []Species
	for _, s := range list {
		if want != "" && s.fit(want) == fitsExactly {
			exact = append(exact, s)
		}
	}
	switch near := FindSpecies(list, text); {
	case len(exact) == 1:
		return exact[0], nil
	case len(exact) > 1:
		return Species{}, Errorf(Invalid, "more than one species is called so: %s", slugs(exact))
	case want == "":
		return Species{}, Errorf(Invalid, "is missing: the name of a species")
	case len(near) > 0:
		return Species{}, Errorf(Invalid, "is not a species of this farm; perhaps %s", slugs(near))
	}
	return Species{}, Errorf(Invalid, "is not a species of this farm; its species are %s", slugs(list))
}

func slugs(list []Species) string {
	texts := make([]Slug, len(list))
	for i, s := range list {
		texts[i] = s.Slug
	}
	return joinWords(texts)
}

// fit is the best fit of any of the names to a folded text.
func (s Species) fit(want string) int {
	best := fitsNot
	for _, name := range s.allNames() {
		best = max(best, fitOf(foldName(name), want))
	}
	return best
}

func fitOf(name, want string) int {
	switch {
	case name == want || squeeze(name) == squeeze(want):
		return fitsExactly
	case strings.HasPrefix(name, want):
		return fitsStart
	case strings.Contains(" "+name, " "+want):
		return fitsWord
	case strings.Contains(squeeze(name), squeeze(want)):
		return fitsInside
	}
	return fitsNot
}

// allNames has the Latin names with the genus cut to its initial as well, as
// papers write them.
func (s Species) allNames() []string {
	names := append([]string{string(s.Slug), s.Name, s.Short}, s.Names...)
	for _, latin := range append([]string{s.Latin}, s.Older...) {
		names = append(names, latin)
		if genus, rest, ok := strings.Cut(latin, " "); ok {
			names = append(names, genus[:1]+". "+rest)
		}
	}
	return names
}

// foldName is a name in small letters without accents or apostrophes, its words
// apart by single spaces.
func foldName(text string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(text) {
		if plain, ok := plainLetters[r]; ok {
			b.WriteString(plain)
			continue
		}
		switch {
		case r == '\'' || r == '’' || r == '‘' || r == 'ʼ' || unicode.Is(unicode.Mn, r): // nothing stands for it
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			b.WriteRune(r)
		default:
			b.WriteByte(' ')
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

func squeeze(folded string) string { return strings.ReplaceAll(folded, " ", "") }

// plainLetters are the letters of European languages without their accents.
var plainLetters = func() map[rune]string {
	plain := map[rune]string{'ß': "ss", 'æ': "ae", 'œ': "oe", 'ø': "o", 'ł': "l", 'đ': "d", 'ı': "i"}
	for base, accented := range map[string]string{
		"a": "àáâãäåāăą", "c": "çćĉċč", "d": "ď", "e": "èéêëēĕėęě", "g": "ĝğġģ", "h": "ĥ", "i": "ìíîïĩīĭį", "j": "ĵ", "k": "ķ", "l": "ĺļľ",
		"n": "ñńņň", "o": "òóôõöōŏő", "r": "ŕŗř", "s": "śŝşšș", "t": "ţťț", "u": "ùúûüũūŭůűų", "w": "ŵ", "y": "ýÿŷ", "z": "źżž",
	} {
		for _, r := range accented {
			plain[r] = base
		}
	}
	return plain
}()
