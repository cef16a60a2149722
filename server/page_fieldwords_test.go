package server

import (
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"testing"
)

func TestFieldWords(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ name, field, want string }{
		{"plain", "steriliser_run", "Steriliser run"},
		{"with words of its own", "passphrase_again", "The passphrase once more"},
		{"in a row", "batches[0].species", "Row 1, species"},
		{"in a row's list", "batches[11].bag_conditions[0].bags", "Row 12, different bags"},
		{"days of a species", "low-pleurotus-ostreatus", "From day, pleurotus ostreatus"},
		{"no field at all", "", ""},
		{"brackets that do not match", "a]b[", "A]b"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if got := fieldWords(tt.field); got != tt.want {
				t.Errorf("%q is called %q, want %q", tt.field, got, tt.want)
			}
		})
	}
}

// TestAQuestionThatCannotBeWorkedOut saves nothing either way, and says so.
func TestAQuestionThatCannotBeWorkedOut(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	for _, path := range []string{"/week-ahead?kg=x", "/yield?from=x", "/substrate?wet0=x"} {
		p := b.open(path)
		p.says("[role=alert] h2", "This cannot be worked out")
	}
}

func TestTypedAddress(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]string{
		"192.0.2.2:8080": "http://192.0.2.2:8080", "farm.local": "http://farm.local", "https://farm.local": "https://farm.local",
		"": "", "mushroom box": "mushroom box", " http://192.0.2.2 ": "http://192.0.2.2",
	} {
		if got := typedAddress(map[string][]string{"public": {typed}}, "public"); got != want {
			t.Errorf("%q becomes %q, want %q", typed, got, want)
		}
	}
}

// TestFieldsAreCalledWhatTheirFormsCallThem: a problem names a field by words that
// stand on its label. Labels of a word or a unit alone say nothing without their
// form; those few have words of their own.
func TestFieldsAreCalledWhatTheirFormsCallThem(t *testing.T) {
	t.Parallel()
	alone := []string{"a", "b", "batch", "by", "for", "gross", "pounds", "ripe_high", "ripe_low", "state", "t_high", "t_low", "to", "unit", "code", "from", "measure"}
	said := map[string][]string{}
	names, err := fs.Glob(pageFiles, "pages/*.html")
	if err != nil || len(names) == 0 {
		t.Fatal(names, err)
	}
	for _, name := range names {
		text, err := fs.ReadFile(pageFiles, name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`Field "([a-z_0-9]+)" "([^"]+)"`).FindAllStringSubmatch(string(text), -1) {
			said[m[1]] = append(said[m[1]], m[2])
		}
	}
	for field, labels := range said {
		words := strings.ToLower(fieldWords(field))
		if !slices.Contains(alone, field) && !slices.ContainsFunc(labels, func(l string) bool { return strings.Contains(strings.ToLower(l), words) }) {
			t.Errorf("%s is called %q in errors, its labels say %q", field, words, labels)
		}
	}
}
