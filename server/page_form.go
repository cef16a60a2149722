package server

import (
	"errors"
	"net/url"
	"slices"
	"strings"

	"bagmark/grow"
)

// form is what somebody typed and what was wrong with it. Its fields bear the
// names that errors use, so a refusal finds its way to the field by itself.
type form struct {
	values url.Values
	errors map[string]string
	// Message is the refusal as a whole, "" before anything was refused.
	Message string
}

// field is one labelled input of a form.
type field struct {
	Name, Label, Value, Error string
	Note                      string // a quiet line under the label
	Type                      string // of the input: text, number, date, …
	Mode                      string // which keyboard a phone shows
	Complete                  string // what a browser may fill in
	Choices                   []choice
	Offers                    []string // names already on record
	Needed                    bool
	Small                     bool   // phones begin it with no capital
	Lines                     bool   // several lines of text
	Group                     string // tells fields of one name in several forms of a page apart
}

// choice is one option of a field.
type choice struct{ Value, Word string }

// newForm is a form filled with values, none of them refused.
func newForm(values url.Values) form { return form{values: values} }

// formOf is a form with single values, in pairs of name and value.
func formOf(pairs ...string) form {
	v := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		v.Set(pairs[i], pairs[i+1])
	}
	return newForm(v)
}

// refused is the form with what was wrong with it. It is false for an error
// that is not about what was typed.
func (f form) refused(err error) (form, bool) {
	var e *grow.Error
	if !errors.As(err, &e) || e.Kind != grow.Invalid && e.Kind != grow.Conflict && e.Kind != grow.Unauthorized && e.Kind != grow.TooMany && e.Kind != grow.NotFound {
		return f, false
	}
	f.Message, f.errors = e.Message, e.Fields
	return f, true
}

// Value is what stands in a field.
func (f form) Value(name string) string { return f.values.Get(name) }

// Has tells whether a field that may be ticked several times has this value.
func (f form) Has(name, value string) bool { return slices.Contains(f.values[name], value) }

// Error is what is wrong with a field, "" if nothing is.
func (f form) Error(name string) string { return f.errors[name] }

// Field is an input for a text, to be refined by the methods below.
func (f form) Field(name, label string) field {
	return field{Name: name, Label: label, Value: f.Value(name), Error: f.Error(name), Type: "text", Complete: "off"}
}

// Rest are the problems of fields that the page does not show by those names.
func (f form) Rest(shown ...string) []string {
	var out []string
	for name, message := range f.errors {
		if !slices.Contains(shown, name) {
			out = append(out, name+" "+message)
		}
	}
	slices.Sort(out)
	return out
}

// Problems are all problems in the order of their names, for the list on top.
func (f form) Problems() []problem {
	var out []problem
	for name, message := range f.errors {
		out = append(out, problem{name, message})
	}
	slices.SortFunc(out, func(a, b problem) int { return strings.Compare(a.Field, b.Field) })
	return out
}

// problem is what is wrong with one field.
type problem struct{ Field, Message string }

// Words is what the page calls the field.
func (p problem) Words() string { return fieldWords(p.Field) }

// Anchor is the field's id in the page.
func (p problem) Anchor() string { return anchor(p.Field) }

// Anchor is the input's id in the page.
func (f field) Anchor() string { return anchor(f.Group + f.Name) }

// anchor turns a field's name into an id that needs no escaping.
func anchor(name string) string {
	return "f-" + strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return '-'
	}, strings.ToLower(name))
}

// Hint adds a quiet line under the label.
func (f field) Hint(text string) field { f.Note = text; return f }

// As sets the type of the input.
func (f field) As(kind string) field { f.Type = kind; return f }

// In names the form of a page that has the field of this name twice.
func (f field) In(form string) field { f.Group = form + "-"; return f }

// Number asks for a number, on the phone's keyboard of digits.
func (f field) Number() field { f.Mode = "decimal"; return f }

// Uncapped begins without a capital on phones: a name that others on record set
// the pattern for.
func (f field) Uncapped() field { f.Small = true; return f }

// Must marks a field that cannot be left empty.
func (f field) Must() field { f.Needed = true; return f }

// Long makes room for several lines.
func (f field) Long() field { f.Lines = true; return f }

// Filled says what a browser or a password keeper may fill in.
func (f field) Filled(by string) field { f.Complete = by; return f }

// Of offers choices and nothing else.
func (f field) Of(choices []choice) field { f.Choices = choices; return f }

// Offer suggests names; another may be typed.
func (f field) Offer(names []string) field { f.Offers = names; return f }
