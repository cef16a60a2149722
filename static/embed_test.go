package static

import (
	"io/fs"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
)

// files of the browser, by their names.
func read(t *testing.T, pattern string) map[string]string {
	t.Helper()
	out := map[string]string{}
	names, err := fs.Glob(Files(), pattern)
	if err != nil || len(names) == 0 {
		t.Fatalf("no files %s: %v", pattern, err)
	}
	for _, name := range names {
		data, err := fs.ReadFile(Files(), name)
		if err != nil {
			t.Fatal(err)
		}
		out[name] = string(data)
	}
	return out
}

func TestPathCarriesTheHash(t *testing.T) {
	t.Parallel()
	if got, want := Path("css/base.css"), Prefix+Hash()+"/css/base.css"; got != want {
		t.Errorf("Path: got %q, want %q", got, want)
	}
	defer func() {
		if recover() == nil {
			t.Error("a file that is not there has a path")
		}
	}()
	Path("css/none.css")
}

func TestHashFollowsTheTree(t *testing.T) {
	t.Parallel()
	base := fstest.MapFS{"a.css": {Data: []byte("a")}, "b.css": {Data: []byte("b")}}
	for name, changed := range map[string]fstest.MapFS{
		"another byte":   {"a.css": {Data: []byte("a")}, "b.css": {Data: []byte("c")}},
		"another name":   {"a.css": {Data: []byte("a")}, "c.css": {Data: []byte("b")}},
		"contents moved": {"a.css": {Data: []byte("b")}, "b.css": {Data: []byte("a")}},
		"one more file":  {"a.css": {Data: []byte("a")}, "b.css": {Data: []byte("b")}, "c.css": {}},
	} {
		if hashOf(base) == hashOf(changed) {
			t.Errorf("%s: the hash is the same", name)
		}
	}
	again := fstest.MapFS{"b.css": {Data: []byte("b")}, "a.css": {Data: []byte("a")}}
	if hashOf(again) != hashOf(base) {
		t.Error("the hash of the same tree changes")
	}
}

var (
	comment      = regexp.MustCompile(`(?s)/\*.*?\*/`)
	literal      = regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b|\b(?:rgba?|hsla?|oklch|lab|lch)\(`)
	physical     = regexp.MustCompile(`\b(?:margin|padding|border)-(?:left|right|top|bottom)\b|[^-\w](?:left|right|top|bottom)\s*:`)
	pixels       = regexp.MustCompile(`[^\w.](?:[2-9]|\d{2,})(?:\.\d+)?px\b`)
	outsideLayer = regexp.MustCompile(`(?m)^[^@}\s/*][^{]*\{`)
)

// The house's rules for style sheets: literal colours in tokens.css alone,
// every rule in a layer, logical properties, lengths in rem (a hairline, an
// outline and the print margin aside).
func TestStyleSheetsKeepTheRules(t *testing.T) {
	t.Parallel()
	for name, css := range read(t, "css/*.css") {
		css = comment.ReplaceAllString(css, "")
		if name != "css/tokens.css" {
			if m := literal.FindString(css); m != "" {
				t.Errorf("%s: literal colour %s", name, m)
			}
		}
		if m := physical.FindString(css); m != "" {
			t.Errorf("%s: physical property %q", name, m)
		}
		if m := outsideLayer.FindString(css); m != "" {
			t.Errorf("%s: rule outside a layer: %q", name, m)
		}
		for _, m := range pixels.FindAllString(css, -1) {
			if px := strings.TrimSpace(m); px != "3px" && px != "2px" {
				t.Errorf("%s: a length of %s, not in rem", name, px)
			}
		}
	}
}

// Contrast by WCAG 2.2 (relative luminance and contrast ratio as defined
// there): text colours have 7:1 on their grounds in both themes.
func TestColoursHaveContrast(t *testing.T) {
	t.Parallel()
	colours := map[string]string{}
	for _, m := range regexp.MustCompile(`(--[\w-]+): (#[0-9a-f]{6})`).FindAllStringSubmatch(read(t, "css/tokens.css")["css/tokens.css"], -1) {
		colours[m[1]] = m[2]
	}
	for _, pair := range [][2]string{
		{"--white-ink", "--white-paper"}, {"--white-ink", "--white-wash"}, {"--white-soft", "--white-paper"}, {"--white-soft", "--white-wash"},
		{"--deep-blue", "--white-paper"}, {"--deep-green", "--white-paper"}, {"--deep-orange", "--white-paper"}, {"--deep-vermilion", "--white-paper"},
		{"--deep-purple", "--white-paper"}, {"--deep-grey", "--white-paper"}, {"--white-ink", "--pale-blue"}, {"--white-ink", "--yellow"},
		{"--black-ink", "--black-paper"}, {"--black-ink", "--black-wash"}, {"--black-soft", "--black-paper"}, {"--black-soft", "--black-wash"},
		{"--light-blue", "--black-paper"}, {"--light-green", "--black-paper"}, {"--light-orange", "--black-paper"}, {"--light-vermilion", "--black-paper"},
		{"--light-purple", "--black-paper"}, {"--light-grey", "--black-paper"}, {"--black-ink", "--night-blue"},
	} {
		if r := contrast(t, colours[pair[0]], colours[pair[1]]); r < 7 {
			t.Errorf("%s on %s: contrast %.2f, want 7", pair[0], pair[1], r)
		}
	}
}

// Scripts import files that exist, and say nothing inline.
func TestScriptsImportWhatIsThere(t *testing.T) {
	t.Parallel()
	imports := regexp.MustCompile(`from "\.\./([^"]+)"`)
	for name, js := range read(t, "js/ui/*.js") {
		if !strings.Contains(js, "export function enhance(") {
			t.Errorf("%s: no enhancer", name)
		}
		for _, m := range imports.FindAllStringSubmatch(js, -1) {
			if _, err := fs.Stat(Files(), "js/"+m[1]); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
}
