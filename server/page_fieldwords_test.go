package server

import "testing"

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
