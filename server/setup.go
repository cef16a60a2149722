package server

import (
	"crypto/rand"
	"crypto/subtle"
	"strings"
	"sync"

	"bagmark/grow"
)

// setUpCode proves that whoever sets the farm up can read the server's console.
type setUpCode struct {
	sync.Mutex
	code string // "" once the farm is set up
}

// The code has ten of the 32 symbols that labels use: 50 random bits, and never
// more than a few tries a minute.
const setUpCodeLength = 10

func (c *setUpCode) make() {
	const symbols = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
	draw := make([]byte, setUpCodeLength)
	rand.Read(draw)
	for i, b := range draw {
		draw[i] = symbols[b%32] // 256 is a multiple of 32: no symbol is favoured
	}
	c.code = string(draw)
}

// SetUpCode is the one-time code that the first owner types, as it is to be
// printed on the console; "" once the farm is set up.
func (s *Server) SetUpCode() string {
	s.setUp.Lock()
	defer s.setUp.Unlock()
	if s.setUp.code == "" {
		return ""
	}
	return s.setUp.code[:setUpCodeLength/2] + "-" + s.setUp.code[setUpCodeLength/2:]
}

// checkSetUpCode is nil if text is the code, in any letter case and spacing.
func (s *Server) checkSetUpCode(text string) error {
	if err := s.limits.setUp("setup"); err != nil {
		return err
	}
	s.setUp.Lock()
	defer s.setUp.Unlock()
	if s.setUp.code == "" {
		return grow.Errorf(grow.Conflict, "the farm is set up already: sign in instead")
	}
	typed := strings.NewReplacer("-", "", " ", "", "I", "1", "L", "1", "O", "0").Replace(strings.ToUpper(text))
	if subtle.ConstantTimeCompare([]byte(typed), []byte(s.setUp.code)) != 1 {
		p := grow.Problems{"code": "is not the code that the server printed when it started"}
		return p.Err("the farm cannot be set up with this code")
	}
	return nil
}

// closeSetUp makes the code worthless; call it once the farm is set up.
func (s *Server) closeSetUp() {
	s.setUp.Lock()
	s.setUp.code = ""
	s.setUp.Unlock()
}
