package store

import (
	"context"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"bagmark/grow"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"
)

// Passphrases are kept as Argon2id (RFC 9106) in the PHC string format:
//
//	$argon2id$v=19$m=19456,t=2,p=1$SALT$HASH
//
// Memory, passes and lanes are the least that the OWASP Password Storage Cheat
// Sheet gives. A hash made with other figures still verifies, within bounds
// that a small server can bear.

// argonFigures are Argon2id's cost: memory in KiB, passes, lanes.
type argonFigures struct {
	memory uint32
	passes uint32
	lanes  uint8
}

var ourFigures = argonFigures{memory: 19 * 1024, passes: 2, lanes: 1}

const (
	saltBytes = 16
	hashBytes = 32
	// The length of a passphrase, in characters.
	shortestPassphrase, longestPassphrase = 8, 200
)

// hashing lets two hashes be worked out at once in this process, so that a
// rush of sign-ins cannot take the server's memory.
var hashing = make(chan struct{}, 2)

func (f argonFigures) bearable() bool {
	return f.memory >= 8 && f.memory <= 64*1024 && f.passes >= 1 && f.passes <= 10 && f.lanes >= 1 && f.lanes <= 8
}

func (f argonFigures) hash(ctx context.Context, passphrase string, salt []byte, length uint32) ([]byte, error) {
	select {
	case hashing <- struct{}{}:
		defer func() { <-hashing }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	return argon2.IDKey(spelt(passphrase), salt, f.passes, f.memory, f.lanes, length), nil
}

// spelt is a passphrase in one spelling: an é typed as one character or as two
// is the same é (Unicode NFKC, as NIST SP 800-63B asks).
func spelt(passphrase string) []byte { return norm.NFKC.Bytes([]byte(passphrase)) }

// hashPassphrase hashes a new passphrase with a salt of its own.
func hashPassphrase(ctx context.Context, random io.Reader, passphrase string) (string, error) {
	salt := make([]byte, saltBytes)
	if _, err := io.ReadFull(random, salt); err != nil {
		return "", noRandom(err)
	}
	sum, err := ourFigures.hash(ctx, passphrase, salt, hashBytes)
	if err != nil {
		return "", err
	}
	b64 := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, ourFigures.memory, ourFigures.passes, ourFigures.lanes,
		b64.EncodeToString(salt), b64.EncodeToString(sum)), nil
}

// rightPassphrase tells whether a passphrase is the kept one. Without a kept
// one it takes as long and says no.
func rightPassphrase(ctx context.Context, passphrase, kept string) (bool, error) {
	figures, salt, want, ok := parsePHC(kept)
	if !ok {
		_, err := ourFigures.hash(ctx, passphrase, make([]byte, saltBytes), hashBytes)
		return false, err
	}
	got, err := figures.hash(ctx, passphrase, salt, uint32(len(want)))
	return err == nil && subtle.ConstantTimeCompare(got, want) == 1, err
}

func parsePHC(kept string) (f argonFigures, salt, sum []byte, ok bool) {
	parts := strings.Split(kept, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return f, nil, nil, false
	}
	if n, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &f.memory, &f.passes, &f.lanes); n != 3 || err != nil || !f.bearable() {
		return f, nil, nil, false
	}
	salt, saltErr := base64.RawStdEncoding.DecodeString(parts[4])
	sum, sumErr := base64.RawStdEncoding.DecodeString(parts[5])
	return f, salt, sum, saltErr == nil && sumErr == nil && len(salt) >= 8 && len(sum) >= 16 && len(sum) <= 64
}

// checkPassphrase notes a problem unless a passphrase may be used. There are
// no rules on which characters it must have: length is what counts.
func checkPassphrase(p *grow.Problems, field, passphrase, name string) {
	n := utf8.RuneCountInString(passphrase)
	plain := strings.ToLower(strings.Join(strings.Fields(passphrase), ""))
	switch {
	case !utf8.ValidString(passphrase):
		p.Add(field, "is not valid UTF-8 text")
	case n < shortestPassphrase:
		p.Add(field, "must have at least %d characters; a few words are easier to remember than one odd one", shortestPassphrase)
	case n > longestPassphrase:
		p.Add(field, "may have at most %d characters", longestPassphrase)
	case plain == "" || strings.Trim(plain, plain[:1]) == "" || slices.Contains(guessedFirst, plain):
		p.Add(field, "is one of those that are guessed first; take a few words of your own")
	case name != "" && plain == strings.ToLower(strings.Join(strings.Fields(name), "")):
		p.Add(field, "is the name; take a few words of your own")
	}
}

// guessedFirst are passphrases of eight and more characters that head every
// published list, and the obvious ones of this trade (from memory).
var guessedFirst = []string{
	"password", "password1", "password12", "password123", "password1234", "passw0rd", "p@ssw0rd", "p@ssword", "passphrase", "mypassword",
	"12345678", "123456789", "1234567890", "12345678910", "0123456789", "87654321", "987654321", "9876543210", "123123123", "123454321",
	"12341234", "11223344", "1122334455", "147258369", "1q2w3e4r", "1q2w3e4r5t", "1qaz2wsx", "q1w2e3r4", "qwertyui", "qwertyuiop", "qwerty12",
	"qwerty123", "qwerty1234", "qwerty12345", "asdfghjk", "asdfghjkl", "asdf1234", "zxcvbnm1", "abcdefgh", "abcd1234", "abc12345", "a1b2c3d4",
	"iloveyou", "iloveyou1", "sunshine", "princess", "football", "baseball", "superman", "starwars", "trustno1", "letmein1", "letmeinnow",
	"welcome1", "welcome123", "changeme", "changeme1", "changeme123", "administrator", "admin123", "admin1234", "internet", "computer",
	"whatever", "michael1", "jennifer", "michelle", "charlie1", "dragon123", "monkey123", "master123", "secret123", "test1234", "testtest",
	"mushroom", "mushrooms", "mushroom1", "mushroom123", "mycelium", "mycelium1", "shiitake", "oystermushroom", "fungifungi", "growroom", "bagmark1",
}
