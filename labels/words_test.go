package labels

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
)

func TestFontsHoldWhatIsPrinted(t *testing.T) {
	t.Parallel()
	for _, f := range loadFaces().all() {
		for _, r := range "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789 /-…äöüßøåéñ\u00a0" + string(missing) {
			if !f.has(r) {
				t.Errorf("%s has no %q", f.name, r)
			}
		}
		// The Go fonts' capitals are 1480 of 2048 units high.
		if f.capHeight < 0.7 || f.capHeight > 0.75 {
			t.Errorf("%s: capitals are %.3f em high", f.name, f.capHeight)
		}
	}
}

func TestClean(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, text, want string }{
		{"plain", "KE-3 Pohjola", "KE-3 Pohjola"},
		{"spaces", "  a \t b\r\n c  ", "a b c"},
		{"no-break space", "rack\u00a03", "rack\u00a03"},
		{"control characters", "a\x00b\x1bc\x7f", "abc"},
		{"direction marks", "\u202eKING\u202c", "KING"},
		{"zero width", "KI\u200bN\ufeffG", "KING"},
		{"combining mark that composes", "Pa\u0301lyi", "Pályi"},
		{"combining mark that does not", "x\u0302\u0323y", "xy"},
		{"Cyrillic is in the fonts", "Вешенка", "Вешенка"},
		{"Japanese is not", "しいたけ", "□□□□"},
		{"Hebrew is not", "פטריה", "□□□□□"},
		{"beyond the first plane", "a🍄b", "a□b"},
		{"emoji with selector", "🍄\ufe0f", "□"},
		{"not UTF-8", "a\xffb", "a□b"},
		{"nothing", "\u200b \t", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			for _, f := range loadFaces().all() {
				if diff := cmp.Diff(c.want, f.clean(c.text)); diff != "" {
					t.Errorf("%s: %s", f.name, diff)
				}
			}
		})
	}
}

func TestFitShrinksThenWrapsThenCuts(t *testing.T) {
	t.Parallel()
	f := loadFaces().bold
	width := f.width("OYSTER", 5)
	for _, c := range []struct {
		name, text string
		lines      int
		cut        bool
	}{
		{"fits", "KING", 1, false},
		{"shrinks", "OYSTERS", 1, false},
		{"wraps", "OYSTER OYSTER", 2, false},
		{"is cut", "OYSTER OYSTER OYSTER OYSTER OYSTER", 2, true},
		{"one long word is cut", strings.Repeat("W", 60), 2, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := f.fit(c.text, 5, 4, width, 2)
			if len(got.text) != c.lines {
				t.Errorf("%d lines %q, want %d", len(got.text), got.text, c.lines)
			}
			if cut := strings.HasSuffix(got.text[len(got.text)-1], ellipsis); cut != c.cut {
				t.Errorf("%q: cut is %v, want %v", got.text, cut, c.cut)
			}
			if got.cap < 4 || got.cap > 5 {
				t.Errorf("capitals of %.2f mm, want 4 to 5", got.cap)
			}
			for _, line := range got.text {
				if f.width(line, got.cap) > width+1e-9 {
					t.Errorf("%q is %.2f mm wide, want at most %.2f", line, f.width(line, got.cap), width)
				}
			}
		})
	}
}

// FuzzNames puts any words on the smallest and a middling label.
func FuzzNames(f *testing.F) {
	f.Add("KING", "King oyster", "KE-3", "HOOD OFF", byte(1))
	f.Add("しいたけ", "\u202eגן", strings.Repeat("x", 300), "🍄\ufe0f", byte(6))
	f.Add("", "", "", "", byte(0))
	f.Add("a\xff\x00", " \u00a0 ", "\u0301\u0302", strings.Repeat("W ", 40), byte(12))
	small, _ := SheetByName("a4-5x13-38.1x21.2")
	middling, _ := SheetByName("a4-3x7-63.5x38.1")
	f.Fuzz(func(t *testing.T, name, species, strain, departure string, n byte) {
		l := sampleLabel(0)
		l.Name, l.Species, l.Strain, l.Batch, l.Hint, l.Code = name, species, strain, species, strain, name
		l.PenBoxes = []string{departure, name}
		for range n % 13 {
			l.Departures = append(l.Departures, departure)
		}
		for _, s := range []Sheet{small, middling} {
			k, err := layout(l, s, laserDPI)
			if err != nil {
				t.Fatal(err)
			}
			checkInk(t, k)
			for _, m := range k.marks {
				if !utf8.ValidString(m.text) || strings.ContainsFunc(m.text, func(r rune) bool { return !m.face.has(r) }) {
					t.Errorf("%q cannot be printed", m.text)
				}
			}
			if _, err := (Job{Sheet: s, Labels: []Label{l}}).PDF(); err != nil {
				t.Error(err)
			}
		}
	})
}
