package grow_test

import (
	"strings"
	"testing"

	"bagmark/grow"
)

func TestPlaceName(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, text, want string }{
		{"one part", "room 2", "room 2"},
		{"parts", "room 2 > rack 3", "room 2 > rack 3"},
		{"no spaces", "room 2>rack 3>shelf 1", "room 2 > rack 3 > shelf 1"},
		{"spaces everywhere", "  room   2  >\track 3 ", "room 2 > rack 3"},
		{"empty parts", "> room 2 > > ", "room 2"},
		{"nothing", " > ", ""},
	}
	for _, test := range tests {
		if got := grow.PlaceName(test.text); got != test.want {
			t.Errorf("%s: PlaceName(%q) = %q, want %q", test.name, test.text, got, test.want)
		}
	}
}

// TestCheckPlaceName: a name has 1 to 60 characters.
func TestCheckPlaceName(t *testing.T) {
	t.Parallel()
	for _, ok := range []string{"r", "room 2 > rack 3", strings.Repeat("ö", 60)} {
		if err := grow.CheckPlaceName(ok); err != nil {
			t.Errorf("%q is refused: %v", ok, err)
		}
	}
	for _, bad := range []string{"", "  ", ">", strings.Repeat("r", 61), "room\n2", "room\x00", "\xff"} {
		if err := grow.CheckPlaceName(bad); grow.KindOf(err) != grow.Invalid || err == nil {
			t.Errorf("%q: %v, want it refused", bad, err)
		}
	}
}
