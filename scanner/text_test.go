package scanner

import (
	"errors"
	"strings"
	"testing"
	"unicode/utf8"

	"bagmark/grow"
)

// right is a code whose check character was worked out with an independent
// routine of ISO/IEC 7064 MOD 37,36; wrong is the same with one character changed.
const (
	right = "7K3M9QXR"
	wrong = "7K3M9QXS"
)

func TestParsePayload(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, text string
		want       Reference
		err        error
	}{
		{"a bag", "http://192.168.1.20:8080/B/" + right, Reference{grow.BagCode, right}, nil},
		{"a place", "https://FARM.LOCAL/S/" + right, Reference{grow.PlaceCode, right}, nil},
		{"a lot", "http://10.0.0.5/L/" + right, Reference{grow.LotCode, right}, nil},
		{"a card", "http://10.0.0.5/C/" + right, Reference{grow.CardCode, right}, nil},
		{"upper-case scheme", "HTTP://10.0.0.5/B/" + right, Reference{grow.BagCode, right}, nil},
		{"all lower case", "http://farm.local/b/7k3m9qxr", Reference{grow.BagCode, right}, nil},
		{"another host", "https://example.org:99/B/" + right, Reference{grow.BagCode, right}, nil},
		{"wrong check character", "http://10.0.0.5/B/" + wrong, Reference{}, ErrMisread},
		{"a character no code has", "http://10.0.0.5/B/7K3M9QXU", Reference{}, ErrMisread},
		{"a bare code", right, Reference{}, ErrForeign},
		{"a longer path", "http://10.0.0.5/shop/B/" + right, Reference{}, ErrForeign},
		{"more behind", "http://10.0.0.5/B/" + right + "/edit", Reference{}, ErrForeign},
		{"slash behind", "http://10.0.0.5/B/" + right + "/", Reference{}, ErrForeign},
		{"another letter", "http://10.0.0.5/X/" + right, Reference{}, ErrForeign},
		{"a word, not a code", "http://10.0.0.5/B/PICTURES-OF-BAGS", Reference{}, ErrForeign},
		{"another scheme", "ftp://10.0.0.5/B/" + right, Reference{}, ErrForeign},
		{"no host", "http:///B/" + right, Reference{}, ErrForeign},
		{"only a path", "/B/" + right, Reference{}, ErrForeign},
		{"Wi-Fi", "WIFI:T:WPA;S:shed;P:secret;;", Reference{}, ErrForeign},
		{"nothing", "", Reference{}, ErrForeign},
		{"not UTF-8", "http://\xff/B/" + right, Reference{grow.BagCode, right}, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got, err := ParsePayload(tt.text)
			if got != tt.want || !errors.Is(err, tt.err) {
				t.Errorf("ParsePayload(%q) = %v, %v; want %v, %v", tt.text, got, err, tt.want, tt.err)
			}
		})
	}
}

func TestParseTyped(t *testing.T) {
	t.Parallel()
	bag, bare := Reference{grow.BagCode, right}, Reference{"", right}
	tests := []struct {
		name, text string
		want       Reference
		err        error
	}{
		{"a code", right, bare, nil},
		{"two groups", "7K3M-9QXR", bare, nil},
		{"lower case and spaces", " 7k3m 9qxr ", bare, nil},
		{"Enter behind", "7K3M9QXR\r\n", bare, nil},
		{"a URL", "http://192.168.1.20:8080/B/" + right, bag, nil},
		{"a URL and TAB", "http://192.168.1.20:8080/B/" + right + "\t", bag, nil},
		{"a URL and a query", "http://192.168.1.20:8080/B/" + right + "?from=bench", bag, nil},
		{"a second http", "http://HTTP://192.168.1.20:8080/B/" + right, bag, nil},
		{"a second http, its colon gone", "http://http//192.168.1.20/B/" + right + "\r", bag, nil},
		{"a German keyboard", "httpÖ--192.168.1.20Ö8080-B-" + right, bag, nil},
		{"a German keyboard, Z for Y", "httpÖ--192.168.1.20Ö8080-B-0000000Y", bag, ErrMisread},
		{"a French keyboard", `httpM!!&çé:&-è:&:éàMàèàà!B!èK"?çAXR`, bag, nil},
		{"semicolon for colon", "http;//192.168.1.20;8080/B/" + right, bag, nil},
		{"signs lost", "http19216812080808B" + right, bare, nil},
		{"signs unknown", "http>&&192.168.1.20>8080&S&" + right, Reference{grow.PlaceCode, right}, nil},
		{"a symbology mark in front", "]Q1http://192.168.1.20/L/" + right, Reference{grow.LotCode, right}, nil},
		{"code with a gap at the end", "http:--10.0.0.5-B-7K3M-9QXR", bag, nil},
		{"misread", wrong, Reference{}, ErrMisread},
		{"misread URL", "http://10.0.0.5/B/" + wrong, Reference{}, ErrMisread},
		{"misread behind a mangled URL", "httpÖ--10.0.0.5-B-" + wrong, Reference{}, ErrMisread},
		{"nine characters", "7" + right, Reference{}, ErrMisread},
		{"seven characters", right[1:], Reference{}, ErrMisread},
		{"nothing", "  ", Reference{}, ErrMisread},
		{"a web page", "https://example.org/", Reference{}, ErrForeign},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got, err := ParseTyped(tt.text)
			if tt.err != nil {
				tt.want = Reference{}
			}
			if got != tt.want || !errors.Is(err, tt.err) {
				t.Errorf("ParseTyped(%q) = %v, %v; want %v, %v", tt.text, got, err, tt.want, tt.err)
			}
			if err != nil && grow.KindOf(err) != grow.Invalid {
				t.Errorf("ParseTyped(%q): kind %s, want %s", tt.text, grow.KindOf(err), grow.Invalid)
			}
		})
	}
}

// A scanner that types Y for Z and Z for Y is understood only where the rest of
// its text shows that it does.
func TestParseTypedExchangedLetters(t *testing.T) {
	t.Parallel()
	check, _ := grow.CheckCharacter("7Y3M9QZ")
	code := "7Y3M9QZ" + string(check)
	if _, err := grow.ParseCode(code); err != nil {
		t.Fatalf("the example is no code: %v", err)
	}
	typed := strings.NewReplacer("Y", "Z", "Z", "Y").Replace(code)
	if got, err := ParseTyped("httpÖ--10.0.0.5-B-" + typed); err != nil || string(got.Code) != code {
		t.Errorf("from a German keyboard: %v, %v; want %s", got, err, code)
	}
	if got, err := ParseTyped("http://10.0.0.5/B/" + typed); err == nil {
		t.Errorf("from a US keyboard: %v, want an error", got)
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{right, "7k3m 9qxr", "http://10.0.0.5/B/" + right, "httpÖ--10.0.0.5-B-" + right, "\xff\xfe", "]Q1http://x/L/" + wrong} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for name, parse := range map[string]func(string) (Reference, error){"payload": ParsePayload, "typed": ParseTyped} {
			ref, err := parse(text)
			if err != nil {
				if !errors.Is(err, ErrForeign) && !errors.Is(err, ErrMisread) {
					t.Errorf("%s(%q): %v is neither foreign nor misread", name, text, err)
				}
				continue
			}
			if again, err := grow.ParseCode(string(ref.Code)); err != nil || again != ref.Code {
				t.Errorf("%s(%q) = %q, no legal code: %v", name, text, ref.Code, err)
			}
			if !utf8.ValidString(string(ref.Code)) {
				t.Errorf("%s(%q): code is not UTF-8", name, text)
			}
		}
	})
}
