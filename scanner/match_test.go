package scanner

import (
	"context"
	"math/rand/v2"
	"testing"

	"bagmark/grow"
	"bagmark/labels"
)

// noisyStream is a label's symbol seen through noise of a standard deviation, 1
// being the distance from grey to dark.
func noisyStream(t *testing.T, random *rand.Rand, address grow.Address, code grow.Code, noise float64) (stream, int) {
	t.Helper()
	symbol, err := labels.NewSymbol(address.Payload(grow.BagCode, code))
	if err != nil {
		t.Fatal(err)
	}
	l := layoutOf(symbol.Version)
	soft := make([]float32, l.n*l.n)
	for i := range soft {
		soft[i] = -1
		if symbol.Dark(i%l.n, i/l.n) {
			soft[i] = 1
		}
	}
	f := formats(l, soft)[0]
	for i := range soft {
		soft[i] += float32(random.NormFloat64() * noise)
	}
	return newStream(l, soft, f), symbol.Version
}

func sheetsOf(t *testing.T, address grow.Address, codes []grow.Code) *matcher {
	t.Helper()
	opts := Options{Known: func(context.Context) (Known, error) {
		known := Known{Addresses: []grow.Address{address}}
		for _, c := range codes {
			known.Labels = append(known.Labels, Reference{grow.BagCode, c})
		}
		return known, nil
	}}
	m, err := newMatcher(t.Context(), &book{}, opts)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestMatch: a symbol too noisy to decode is told apart from 2,000 others; one
// that is not among them is never taken for one that is.
func TestMatch(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(11, 12))
	for _, address := range farmAddresses {
		codes := make([]grow.Code, 2000)
		for i := range codes {
			codes[i] = drawCode(random)
		}
		m := sheetsOf(t, address, codes)
		found, decoded := 0, 0
		const tries = 40
		for i := range tries {
			known, other := codes[i*31], drawCode(random)
			for _, code := range []grow.Code{known, other} {
				s, version := noisyStream(t, random, address, code, 1.1)
				if _, ok := s.decode(nil); ok {
					decoded++
				}
				for k := range m.sheets {
					sh := &m.sheets[k]
					if sh.form.version != version || sh.form.coding != s.coding || sh.form.commonScore(&s) < prefixScore {
						continue
					}
					got := sh.match(&s)
					if !got.sure() {
						continue
					}
					if got.code != code {
						t.Errorf("%s: %s was taken for %s with %.2f", address, code, got.code, got.score)
					} else {
						found++
					}
				}
			}
		}
		if found < tries*8/10 {
			t.Errorf("%s: matched %d of %d known symbols", address, found, tries)
		}
		if decoded > tries/10 {
			t.Errorf("%s: %d symbols could be decoded; the test is too easy", address, decoded)
		}
	}
}

// TestDecodeWithCommonWords: what all labels share is known beforehand and makes
// up for as many codewords lost.
func TestDecodeWithCommonWords(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(13, 14))
	address := farmAddresses[1]
	m := sheetsOf(t, address, nil)
	plain, helped := 0, 0
	for range 60 {
		code := drawCode(random)
		s, _ := noisyStream(t, random, address, code, 0.62)
		if _, ok := s.decode(nil); ok {
			plain++
		}
		for k := range m.sheets {
			if sh := &m.sheets[k]; sh.form.coding == s.coding && sh.form.commonScore(&s) > prefixScore {
				if msg, ok := s.decode(sh.form.certain); ok {
					if want := address.Payload(grow.BagCode, code); msg.text != want {
						t.Errorf("decoded %q, want %q", msg.text, want)
					}
					helped++
					break
				}
			}
		}
	}
	t.Logf("decoded %d of 60 as they are, %d with the common words", plain, helped)
	if helped <= plain {
		t.Errorf("the common words helped %d times, plain decoding %d", helped, plain)
	}
}

func TestKnownErrorReachesCaller(t *testing.T) {
	t.Parallel()
	failed := grow.Errorf(grow.Internal, "the farm's codes could not be listed")
	opts := Options{Known: func(context.Context) (Known, error) { return Known{}, failed }}
	if _, err := newMatcher(t.Context(), &book{}, opts); err != error(failed) {
		t.Errorf("got %v, want %v", err, failed)
	}
}
