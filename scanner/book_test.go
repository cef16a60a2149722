package scanner

import (
	"bytes"
	"math/rand/v2"
	"testing"

	"bagmark/grow"
	"bagmark/labels"
)

// TestWords: codewords written here are those of the symbols that get
// printed, which are made by another encoder.
func TestWords(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(3, 4))
	for _, address := range farmAddresses {
		for _, kind := range []grow.CodeKind{grow.BagCode, grow.PlaceCode, grow.LotCode, grow.CardCode} {
			c := newChapter(chapterKey{address, kind})
			codes := []grow.Code{"00000000", "12345678", "A1234567", "1234567A"}
			for range 100 {
				codes = append(codes, drawCode(random))
			}
			for _, code := range codes {
				symbol, err := labels.NewSymbol(address.Payload(kind, code))
				if err != nil {
					t.Fatal(err)
				}
				_, got := c.encode(code)
				if want := readWords(symbol); !bytes.Equal(got, want) {
					t.Fatalf("%s: codewords\n%x, want\n%x", address.Payload(kind, code), got, want)
				}
			}
		}
	}
}
