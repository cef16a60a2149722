package scanner

import (
	"errors"
	"net/url"
	"strings"
	"unicode"

	"bagmark/grow"
)

// Other is the kind of a symbol that is none of the farm's labels: foreign, or
// ours in shape with a wrong check character.
const Other grow.CodeKind = "other"

// Reference is the label that a text means. Kind is empty where the text does
// not say it: a bare code may be a bag's, a place's, a lot's or a card's.
type Reference struct {
	Kind grow.CodeKind
	Code grow.Code
}

// Two reasons why a text means no label; errors.Is tells them apart.
var (
	// ErrForeign: the text has not the shape of one of the farm's labels.
	ErrForeign = errors.New("not one of the farm's labels")
	// ErrMisread: the shape is right and the code is not.
	ErrMisread = errors.New("the code does not check")
)

// ParsePayload reads the text of a symbol in a picture. Only an http or https
// URL whose whole path is /B/, /S/, /L/ or /C/ and a code is ours, in any
// letter case; scheme and host are not looked at, so that labels printed before
// the farm's address changed still work.
func ParsePayload(text string) (Reference, error) {
	u, err := url.Parse(text)
	if err != nil || !isWeb(u.Scheme) || u.Host == "" {
		return Reference{}, foreign()
	}
	kind, written, ok := grow.KindOfPath(u.Path)
	if !ok || !looksLikeCode(written) {
		return Reference{}, foreign()
	}
	code, err := grow.ParseCode(written)
	if err != nil {
		return Reference{}, misread(err)
	}
	return Reference{Kind: kind, Code: code}, nil
}

func isWeb(scheme string) bool { return scheme == "http" || scheme == "https" }

// looksLikeCode reports whether text has the eight letters or digits of a code,
// be they the right ones or not.
func looksLikeCode(text string) bool {
	n := 0
	for _, r := range text {
		switch {
		case r >= '0' && r <= '9', r >= 'A' && r <= 'Z', r >= 'a' && r <= 'z':
			n++
		case !isGap(r):
			return false
		}
	}
	return n == codeLength
}

const codeLength = 8

// isGap reports whether r may stand between the characters of a code.
func isGap(r rune) bool {
	return r == ' ' || r == '-' || r == '\u00a0' || r == '\u2010' || r == '\u2011' || r == '\u2013'
}

// ParseTyped reads what a person typed or a hand-held scanner sent as if it
// were a keyboard: a bare code, a label's URL, or such a URL with its colons and
// slashes changed by the computer's keyboard layout, with a second http:// in
// front, or with Enter or TAB behind. In anything but a bare code the last eight
// characters decide, if their check character is right.
func ParseTyped(text string) (Reference, error) {
	text = strings.TrimFunc(text, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
	if len(text) > 2048 {
		return Reference{}, foreign()
	}
	if ref, err := ParsePayload(text); err == nil {
		return ref, nil
	}
	if !isMangledURL(text) {
		code, err := grow.ParseCode(text)
		if err != nil {
			return Reference{}, misread(err)
		}
		return Reference{Code: code}, nil
	}
	ref, err := parseTail(text)
	for _, k := range keyboards {
		if err != nil && strings.Contains(strings.ToLower(text), k.sign) {
			if turned, again := parseTail(k.undo(text)); again == nil {
				return turned, nil
			}
		}
	}
	return ref, err
}

// isMangledURL reports whether text is more than a code: it speaks of http, or
// has a sign before its last eight characters that no code has. Nine letters in
// a row are a mistyped code, not a URL, and must not open a bag.
func isMangledURL(text string) bool {
	if strings.Contains(strings.ToLower(text), "http") {
		return true
	}
	head, _, ok := splitTail(text)
	if !ok || head == "" {
		return false
	}
	last := []rune(head)[len([]rune(head))-1]
	return !unicode.IsLetter(last) && !unicode.IsDigit(last) && countCharacters(head) > 0
}

func countCharacters(text string) (n int) {
	for _, r := range text {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			n++
		}
	}
	return n
}

// parseTail reads the last eight characters of text.
func parseTail(text string) (Reference, error) {
	head, tail, ok := splitTail(text)
	if !ok {
		return Reference{}, foreign()
	}
	code, err := grow.ParseCode(tail)
	if err != nil {
		return Reference{}, misread(err)
	}
	return Reference{Kind: kindOfHead(head), Code: code}, nil
}

// splitTail cuts text before its last eight letters or digits, passing over the
// gaps that a printed code may have and over any signs at the very end.
func splitTail(text string) (head, tail string, ok bool) {
	runes := []rune(text)
	end := len(runes)
	for end > 0 && !isCodeRune(runes[end-1]) {
		end--
	}
	n, i := 0, end
	for i > 0 && n < codeLength {
		if i--; isCodeRune(runes[i]) {
			n++
		} else if !isGap(runes[i]) {
			return "", "", false
		}
	}
	return string(runes[:i]), string(runes[i:end]), n == codeLength
}

func isCodeRune(r rune) bool {
	return r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z'
}

// kindOfHead finds the letter of the path at the end of what stands before a
// code: a sign, the letter, a sign. It is empty if the letter cannot be told.
func kindOfHead(head string) grow.CodeKind {
	runes := []rune(head)
	n := len(runes)
	if n < 3 || isCodeRune(runes[n-1]) || !isCodeRune(runes[n-2]) || isCodeRune(runes[n-3]) {
		return ""
	}
	kind, _, _ := grow.KindOfPath("/" + string(runes[n-2]) + "/x")
	return kind
}

// keyboard undoes what a computer set to another keyboard does to a scanner that
// types as if the keyboard were a US one. Layouts are from memory.
type keyboard struct {
	sign  string // how "http://" comes out, in lower case
	pairs *strings.Replacer
}

func (k keyboard) undo(text string) string { return k.pairs.Replace(text) }

var keyboards = []keyboard{
	{"httpö--", strings.NewReplacer("Y", "Z", "Z", "Y", "y", "z", "z", "y", "-", "/", "Ö", ":", "ö", ":")},
	{"httpm!!", strings.NewReplacer("&", "1", "é", "2", `"`, "3", "'", "4", "(", "5", "-", "6", "è", "7", "_", "8", "ç", "9", "à", "0",
		"A", "Q", "Q", "A", "Z", "W", "W", "Z", "a", "q", "q", "a", "z", "w", "w", "z", "?", "M", ",", "m", "M", ":", "m", ";", "!", "/", ":", ".", ";", ",")},
}

func foreign() error {
	return &grow.Error{Kind: grow.Invalid, Message: "this is not one of the farm's labels: scan the label on the bag, or type the eight characters printed on it", Cause: ErrForeign}
}

func misread(cause error) error {
	return &grow.Error{Kind: grow.Invalid, Message: cause.Error(), Cause: errors.Join(ErrMisread, cause)}
}
