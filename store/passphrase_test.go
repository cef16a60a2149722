package store

import (
	"context"
	"crypto/rand"
	"strings"
	"testing"

	"bagmark/grow"
)

// The hashes are those of the test suite of the reference implementation of
// Argon2 (P-H-C/phc-winner-argon2, src/test.c, version 0x13, Argon2id).
func TestRightPassphraseAgainstReferenceHashes(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name, passphrase, kept string
		want                   bool
	}{
		{"64 MiB", "password", "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc", true},
		{"256 KiB", "password", "$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4", true},
		{"two lanes", "password", "$argon2id$v=19$m=256,t=2,p=2$c29tZXNhbHQ$bQk8UB/VmZZF4Oo79iDXuL5/0ttZwg2f/5U52iv1cDc", true},
		{"another passphrase", "passwore", "$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4", false},
		{"none kept", "password", "", false},
		{"another kind", "password", "$argon2i$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4", false},
		{"no hash at all", "", "$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$", false},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			got, err := rightPassphrase(t.Context(), test.passphrase, test.kept)
			if err != nil || got != test.want {
				t.Errorf("got %v, %v, want %v", got, err, test.want)
			}
		})
	}
}

// A database from a stranger must not make the server work itself to death.
func TestParsePHCRefusesUnbearableFigures(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		figures string
		want    bool
	}{
		{"m=19456,t=2,p=1", true}, {"m=65536,t=10,p=8", true}, {"m=65537,t=2,p=1", false}, {"m=4194304,t=2,p=1", false},
		{"m=19456,t=11,p=1", false}, {"m=19456,t=0,p=1", false}, {"m=19456,t=2,p=0", false}, {"m=19456,t=2,p=9", false}, {"m=-1,t=2,p=1", false}, {"m=19456", false},
	} {
		if _, _, _, ok := parsePHC("$argon2id$v=19$" + test.figures + "$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4"); ok != test.want {
			t.Errorf("%s: taken %v, want %v", test.figures, ok, test.want)
		}
	}
}

// Figures: OWASP Password Storage Cheat Sheet, Argon2id with 19 MiB of memory,
// two passes, one lane.
func TestHashPassphraseKeepsFiguresAndSalt(t *testing.T) {
	t.Parallel()
	one := must(hashPassphrase(t.Context(), rand.Reader, "caf\u00e9 in the cellar"))(t)
	two := must(hashPassphrase(t.Context(), rand.Reader, "caf\u00e9 in the cellar"))(t)
	if !strings.HasPrefix(one, "$argon2id$v=19$m=19456,t=2,p=1$") {
		t.Errorf("kept as %s", one)
	}
	if one == two {
		t.Error("the same passphrase twice is kept the same: there is no salt")
	}
	// é as one character and as e with an accent, NIST SP 800-63B 3.1.1.2.
	if ok := must(rightPassphrase(t.Context(), "cafe\u0301 in the cellar", one))(t); !ok {
		t.Error("the same passphrase in another spelling of é is refused")
	}
	if ok := must(rightPassphrase(t.Context(), "cafe in the cellar", one))(t); ok {
		t.Error("a passphrase without the accent is taken")
	}
}

func TestHashingGivesUpWhenNobodyWaits(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	hashing <- struct{}{}
	hashing <- struct{}{}
	_, err := hashPassphrase(ctx, rand.Reader, "seven damp cellars")
	<-hashing
	<-hashing
	if err == nil {
		t.Error("a third hash was begun while two were under way")
	}
}

func TestCheckPassphrase(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name, passphrase string
		taken            bool
	}{
		{"a few words", "seven damp cellars", true},
		{"no rules on characters", "rackrackshelf", true},
		{"eight characters of any script", "ぶなしめじの部屋", true},
		{"eight characters", "rack 7 x", true},
		{"too short", "rack 7x", false},
		{"200", strings.Repeat("shelf ", 33) + "ab", true},
		{"201", strings.Repeat("shelf ", 33) + "abc", false},
		{"a common one", "password123", false},
		{"a common one spaced and in capitals", "Pass Word 123", false},
		{"of this trade", "Mushrooms", false},
		{"one character", "aaaaaaaaaaaa", false},
		{"spaces", "          ", false},
		{"the name", "odile invented", false},
		{"not UTF-8", "seven damp \xff", false},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			var p grow.Problems
			checkPassphrase(&p, "passphrase", test.passphrase, "Odile Invented")
			if taken := len(p) == 0; taken != test.taken {
				t.Errorf("%q: taken %v, want %v (%v)", test.passphrase, taken, test.taken, p)
			}
		})
	}
}
