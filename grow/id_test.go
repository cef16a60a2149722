package grow_test

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"bagmark/grow"
)

func TestParseID(t *testing.T) {
	t.Parallel()
	const id = "3f2b8c1e-0d4a-4c6b-9e55-7a1d2c3b4e5f"
	for _, text := range []string{id, strings.ToUpper(id), "00000000-0000-0000-0000-000000000000", "ffffffff-ffff-ffff-ffff-ffffffffffff"} {
		if got, err := grow.ParseID(text); err != nil || string(got) != strings.ToLower(text) {
			t.Errorf("ParseID(%q) = %q, %v; want it in lower case", text, got, err)
		}
	}
	for _, text := range []string{"", "1", id[:35], id + "0", strings.ReplaceAll(id, "-", ""), "{" + id + "}", "urn:uuid:" + id,
		"3f2b8c1e00d4a-4c6b-9e55-7a1d2c3b4e5f", "g" + id[1:], id[:8] + "--" + id[10:], "3f2b8c1-e0d4a-4c6b-9e55-7a1d2c3b4e5f0"[:36], " " + id} {
		if got, err := grow.ParseID(text); err == nil || grow.KindOf(err) != grow.Invalid {
			t.Errorf("ParseID(%q) = %q, %v; want it refused", text, got, err)
		}
	}
}

// TestNewID: RFC 9562 section 5.4, version 4 and variant 10.
func TestNewID(t *testing.T) {
	t.Parallel()
	shape := regexp.MustCompile(`^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`)
	random := seeded(3)
	seen := map[grow.ID]bool{}
	for range 1000 {
		id, err := grow.NewID(random)
		if err != nil || !shape.MatchString(string(id)) || seen[id] {
			t.Fatalf("NewID = %q, %v", id, err)
		}
		if parsed, err := grow.ParseID(string(id)); err != nil || parsed != id {
			t.Fatalf("%q read back is %q, %v", id, parsed, err)
		}
		seen[id] = true
	}
	if _, err := grow.NewID(bytes.NewReader(make([]byte, 15))); grow.KindOf(err) != grow.Internal {
		t.Errorf("with too few random bytes: %v, want an internal error", err)
	}
}
