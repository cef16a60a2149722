package scanner

import (
	"bytes"
	"math/rand/v2"
	"testing"

	"github.com/makiuchi-d/gozxing/common/reedsolomon"
)

// TestCheckWords compares check codewords with the library's encoder.
func TestCheckWords(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(5, 6))
	for _, check := range []int{7, 10, 13, 16, 18, 22, 26, 28} {
		data := make([]byte, 9+random.IntN(40))
		ints := make([]int, len(data)+check)
		for i := range data {
			data[i] = byte(random.Uint32())
			ints[i] = int(data[i])
		}
		if err := reedsolomon.NewReedSolomonEncoder(reedsolomon.GenericGF_QR_CODE_FIELD_256).Encode(ints, check); err != nil {
			t.Fatal(err)
		}
		for i, got := range checkWords(data, generatorOf(check)) {
			if int(got) != ints[len(data)+i] {
				t.Fatalf("%d check words: word %d is %d, want %d", check, i, got, ints[len(data)+i])
			}
		}
	}
}

// TestCorrect mends every mix of errors and erasures that the theory allows: twice
// the errors plus the erasures are at most the check codewords.
func TestCorrect(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(7, 8))
	for _, check := range []int{10, 16, 22, 28} {
		for erasures := range check + 1 {
			for errors := range (check-erasures)/2 + 1 {
				data := make([]byte, 16)
				for i := range data {
					data[i] = byte(random.Uint32())
				}
				want := append(bytes.Clone(data), checkWords(data, generatorOf(check))...)
				block := bytes.Clone(want)
				places := random.Perm(len(block))
				for _, at := range places[:erasures+errors] {
					block[at] ^= byte(1 + random.IntN(255))
				}
				got, ok := correct(block, check, places[:erasures])
				if !ok || !bytes.Equal(block, want) || got != errors {
					t.Fatalf("%d check words, %d erasures, %d errors: %d errors, %v, right %v", check, erasures, errors, got, ok, bytes.Equal(block, want))
				}
			}
		}
	}
}

// TestCorrectHopeless: noise is mended with a chance of about one over the
// factorial of the errors that can be mended, here 1/40320, and never with more
// erasures than check codewords.
func TestCorrectHopeless(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(9, 10))
	mended := 0
	for range 3000 {
		block := make([]byte, 44)
		for i := range block {
			block[i] = byte(random.Uint32())
		}
		if _, ok := correct(block, 16, nil); ok {
			mended++
		}
	}
	if mended > 3 {
		t.Errorf("%d of 3000 blocks of noise were mended", mended)
	}
	if _, ok := correct(make([]byte, 44), 16, make([]int, 17)); ok {
		t.Error("17 erasures were mended with 16 check codewords")
	}
}
