package demo

import (
	crand "crypto/rand"
	"encoding/binary"
	"math/rand/v2"
	"time"
)

// clock is the farm's clock while it is made. It only goes forward.
type clock struct{ at time.Time }

func (c *clock) now() time.Time { return c.at }

func (c *clock) moveTo(t time.Time) {
	if t.After(c.at) {
		c.at = t
	}
}

// source gives the farm its random bytes: from a seed for what may be known,
// so that the same farm comes out each time, from the machine while a secret is
// drawn.
type source struct {
	seeded *rand.PCG
	secret bool
}

func newSource(seed uint64) *source { return &source{seeded: rand.NewPCG(seed, 0xba6)} }

// Read fills b, like crypto/rand's.
func (s *source) Read(b []byte) (int, error) {
	if s.secret {
		return crand.Read(b)
	}
	var word [8]byte
	for i := range b {
		if i%8 == 0 {
			binary.LittleEndian.PutUint64(word[:], s.seeded.Uint64())
		}
		b[i] = word[i%8]
	}
	return len(b), nil
}

// between is a number from low to high.
func between(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }

// days is a whole number of days from low to high, both inclusive.
func days(r *rand.Rand, low, high int) int { return low + r.IntN(high-low+1) }

func pick[T any](r *rand.Rand, list ...T) T { return list[r.IntN(len(list))] }
