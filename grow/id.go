package grow

import (
	"encoding/hex"
	"io"
	"strings"
)

// ID is a UUID (RFC 9562) in lower case, made where a thing was first written
// down: on the phone for an entry. The same ID twice is the same thing twice.
type ID string

// ParseID reads a UUID in any letter case.
func ParseID(text string) (ID, error) {
	t := strings.ToLower(text)
	bare := strings.ReplaceAll(t, "-", "")
	if _, err := hex.DecodeString(bare); err != nil || len(t) != 36 || len(bare) != 32 ||
		t[8] != '-' || t[13] != '-' || t[18] != '-' || t[23] != '-' {
		return "", Errorf(Invalid, "must be a UUID like 3f2b8c1e-0d4a-4c6b-9e55-7a1d2c3b4e5f")
	}
	return ID(t), nil
}

// NewID makes a random UUID (version 4) from random.
func NewID(random io.Reader) (ID, error) {
	var b [16]byte
	if _, err := io.ReadFull(random, b[:]); err != nil {
		return "", &Error{Kind: Internal, Message: "no random numbers for a new id", Cause: err}
	}
	b[6] = b[6]&0x0f | 0x40
	b[8] = b[8]&0x3f | 0x80
	h := hex.EncodeToString(b[:])
	return ID(h[:8] + "-" + h[8:12] + "-" + h[12:16] + "-" + h[16:20] + "-" + h[20:]), nil
}
