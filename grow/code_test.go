package grow_test

import (
	"bytes"
	"errors"
	"io"
	"math/rand/v2"
	"strings"
	"testing"

	"bagmark/grow"
)

const codeSymbols = "0123456789ABCDEFGHJKMNPQRSTVWXYZ" // Crockford's Base 32: no I, L, O, U

// seeded is a source of random bytes that gives the same ones every time.
func seeded(n byte) io.Reader { return rand.NewChaCha8([32]byte{n}) }

func newCodes(t testing.TB, n int) []grow.Code {
	t.Helper()
	out := make([]grow.Code, n)
	random := seeded(7)
	for i := range out {
		c, err := grow.NewCode(random)
		if err != nil {
			t.Fatal(err)
		}
		out[i] = c
	}
	return out
}

// TestCheckCharacter: ISO/IEC 7064 MOD 37,36 is used by published identifiers.
// The Global Release Identifier standard prints the example A1-2425G-ABC1234002-M;
// the International Standard Audiovisual Number (ISO 15706) prints a check
// character after its root and another after root and version. The examples
// are quoted from memory of those documents, and all agree with the computation.
func TestCheckCharacter(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, text string
		want       byte
	}{
		{"global release identifier", "A12425GABC1234002", 'M'},
		{"audiovisual number, root", "00000000D07A0090", 'Q'},
		{"audiovisual number, root and version", "00000000D07A009000000000", 'X'},
		{"another audiovisual number, root", "000000003A8D0000", 'Z'},
		{"another audiovisual number, root and version", "000000003A8D000000000000", '6'},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			if got, ok := grow.CheckCharacter(test.text); !ok || got != test.want {
				t.Errorf("check character of %s is %c (%t), want %c", test.text, got, ok, test.want)
			}
		})
	}
	for _, text := range []string{"a12425", "12-34", "Ä", " "} {
		if got, ok := grow.CheckCharacter(text); ok {
			t.Errorf("check character of %q is %c, want none: only digits and capitals have one", text, got)
		}
	}
}

// TestCheckSystem holds codes to the definition in the standard instead of to
// its recursive computation: in the hybrid system MOD 37,36 the whole string
// must come out at 1.
func TestCheckSystem(t *testing.T) {
	t.Parallel()
	const all = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	for _, c := range newCodes(t, 500) {
		p := 36
		for i := range len(c) - 1 {
			s := (p + strings.IndexByte(all, c[i])) % 36
			if s == 0 {
				s = 36
			}
			p = s * 2 % 37
		}
		if got := (p + strings.IndexByte(all, c[7])) % 36; got != 1 {
			t.Errorf("%s comes out at %d, want 1", c, got)
		}
	}
}

func TestNewCode(t *testing.T) {
	t.Parallel()
	seen := map[grow.Code]bool{}
	for _, c := range newCodes(t, 5000) {
		if len(c) != 8 || strings.Trim(string(c), codeSymbols) != "" {
			t.Fatalf("%q is not 8 of the 32 symbols", c)
		}
		if seen[c] {
			t.Fatalf("%s was drawn twice in 5,000 of 34 thousand million", c)
		}
		seen[c] = true
		for _, text := range []string{string(c), c.Spaced(), strings.ToLower(string(c)), " " + c.Spaced() + " "} {
			if got, err := grow.ParseCode(text); err != nil || got != c {
				t.Errorf("ParseCode(%q) = %s, %v; want %s", text, got, err, c)
			}
		}
	}
}

// TestNewCodeDrawsAgain feeds draws whose check character is outside the 32
// symbols: each is thrown away.
func TestNewCodeDrawsAgain(t *testing.T) {
	t.Parallel()
	var draws []byte
	var want grow.Code
	for n := 0; want == "" || len(draws) < 7*40; n++ {
		draw := []byte{0, 0, 0, 0, byte(n / 1024 % 32), byte(n / 32 % 32), byte(n % 32)}
		text := ""
		for _, b := range draw {
			text += string(codeSymbols[b])
		}
		check, _ := grow.CheckCharacter(text)
		if legal := strings.IndexByte(codeSymbols, check) >= 0; !legal || want == "" && len(draws) >= 7*3 {
			draws = append(draws, draw...)
			if legal {
				want = grow.Code(text + string(check))
				break
			}
		}
	}
	if got, err := grow.NewCode(bytes.NewReader(draws)); err != nil || got != want {
		t.Errorf("NewCode = %s, %v; want %s after the refused draws", got, err, want)
	}
	_, err := grow.NewCode(bytes.NewReader(nil))
	if grow.KindOf(err) != grow.Internal || !errors.Is(err, io.EOF) {
		t.Errorf("without random numbers: %v, want an internal error with its cause", err)
	}
}

func TestParseCodeForgives(t *testing.T) {
	t.Parallel()
	c := grow.Code("01A0BC1")
	check, _ := grow.CheckCharacter(string(c))
	c += grow.Code(check)
	tests := []struct{ name, text string }{
		{"as printed", string(c[:4]) + "-" + string(c[4:])},
		{"O for 0", strings.ReplaceAll(string(c), "0", "O")},
		{"o for 0", strings.ReplaceAll(string(c), "0", "o")},
		{"I for 1", strings.ReplaceAll(string(c), "1", "I")},
		{"l for 1", strings.ReplaceAll(string(c), "1", "l")},
		{"L and i for 1", strings.Replace(strings.Replace(string(c), "1", "L", 1), "1", "i", 1)},
		{"spaces", strings.Join(strings.Split(string(c), ""), " ")},
		{"hyphens", "-" + strings.Join(strings.Split(string(c), ""), "-") + "-"},
		{"lower case", strings.ToLower(string(c))},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			if got, err := grow.ParseCode(test.text); err != nil || got != c {
				t.Errorf("ParseCode(%q) = %q, %v; want %s", test.text, got, err, c)
			}
		})
	}
}

func TestParseCodeRefuses(t *testing.T) {
	t.Parallel()
	c := string(newCodes(t, 1)[0])
	tests := []struct{ name, text, words string }{
		{"nothing", "", "8"},
		{"too short", c[:7], "7"},
		{"too long", c + "0", "more"},
		{"a letter that codes do not have", "U" + c[1:], `"U"`},
		{"a sign", c[:7] + "?", `"?"`},
		{"a letter with an accent", c[:7] + "É", `"É"`},
		{"a dotless i is no I", c[:7] + "ı", "not used"},
		{"wide digits", c[:7] + "１", "not used"},
		{"broken text", c[:7] + "\xff", "not used"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			got, err := grow.ParseCode(test.text)
			if got != "" || grow.KindOf(err) != grow.Invalid || !strings.Contains(err.Error(), test.words) {
				t.Errorf("ParseCode(%q) = %q, %v; want an invalid error with %q", test.text, got, err, test.words)
			}
		})
	}
}

// TestOneWrongCharacter: a hybrid system of ISO/IEC 7064 finds every
// substitution of one character. All of them are tried, the check character's
// too, and each is refused for its check character.
func TestOneWrongCharacter(t *testing.T) {
	t.Parallel()
	for _, c := range newCodes(t, 200) {
		for i := range len(c) {
			for _, symbol := range []byte(codeSymbols) {
				if symbol == c[i] {
					continue
				}
				wrong := string(c[:i]) + string(symbol) + string(c[i+1:])
				if got, err := grow.ParseCode(wrong); err == nil || !strings.Contains(err.Error(), "check character") {
					t.Fatalf("ParseCode(%q) = %q, %v though it is %s with one character changed", wrong, got, err, c)
				}
			}
		}
	}
}

// TestTwoSwapped: the standard promises nearly all transpositions of
// neighbours, not all (from memory). A check without weights would let all of
// them through, one with weights modulo 36 many.
func TestTwoSwapped(t *testing.T) {
	t.Parallel()
	swaps, missed := 0, 0
	for _, c := range newCodes(t, 4000) {
		for i := range len(c) - 1 {
			if c[i] == c[i+1] {
				continue
			}
			swapped := string(c[:i]) + string(c[i+1]) + string(c[i]) + string(c[i+2:])
			swaps++
			if _, err := grow.ParseCode(swapped); err == nil {
				missed++
			}
		}
	}
	rate := float64(missed) / float64(swaps)
	t.Logf("%d of %d swaps of neighbours go unnoticed (%.2f %%)", missed, swaps, 100*rate)
	if rate > 0.005 {
		t.Errorf("%.2f %% of swaps go unnoticed, want at most 0.5 %%", 100*rate)
	}
}

func FuzzParseCode(f *testing.F) {
	for _, c := range newCodes(f, 5) {
		f.Add(string(c))
		f.Add(strings.ToLower(c.Spaced()))
	}
	f.Add("OIL0 1-2u")
	f.Add("ıſK\xff")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := grow.ParseCode(text)
		if err != nil {
			if c != "" || grow.KindOf(err) != grow.Invalid {
				t.Fatalf("ParseCode(%q) = %q, %v", text, c, err)
			}
			return
		}
		check, ok := grow.CheckCharacter(string(c[:7]))
		if !ok || check != c[7] || strings.Trim(string(c), codeSymbols) != "" {
			t.Fatalf("ParseCode(%q) = %q, which is no code", text, c)
		}
		if again, err := grow.ParseCode(c.Spaced()); err != nil || again != c {
			t.Fatalf("%q read back is %q, %v", c.Spaced(), again, err)
		}
	})
}
