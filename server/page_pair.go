package server

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"bagmark/labels"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// pairPage is the office screen: a symbol that lets one phone join, for two
// minutes and once, and who has joined by it.
type pairPage struct {
	frame
	Symbol   *symbolPath // nil unless a symbol was asked for just now
	Link     string
	Until    string
	Pairings []store.Pairing
	Person   int64 // whose phone is to join
	HTTPS    bool  // the farm has it
	Over     string
}

// symbolPath is a symbol as one path, for a picture that needs no file.
type symbolPath struct {
	Side int // modules with the quiet zone
	Path string
}

// drawSymbol turns the dark modules of each row into strokes of one path.
func drawSymbol(payload string) (*symbolPath, error) {
	sym, err := labels.NewSymbol(payload)
	if err != nil {
		return nil, err
	}
	var b strings.Builder
	for y := range sym.Modules {
		for x := 0; x < sym.Modules; x++ {
			from := x
			for sym.Dark(x, y) {
				x++
			}
			if x > from {
				fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", from+labels.QuietZone, y+labels.QuietZone, x-from, x-from)
			}
		}
	}
	return &symbolPath{Side: sym.Side(), Path: b.String()}, nil
}

// showPaired tells who has joined; it shows no symbol, for a symbol is made by
// asking for it.
func (s *Server) showPaired(c echo.Context) error {
	p, err := s.newPairPage(c)
	if err != nil {
		return err
	}
	return s.show(c, http.StatusOK, "pair", p)
}

func (s *Server) newPairPage(c echo.Context) (pairPage, error) {
	f, farm, err := s.frame(c, "A phone joins")
	if err != nil {
		return pairPage{}, err
	}
	pairings, err := s.store.PairedBy(c.Request().Context(), actorOf(c))
	_, https := s.secureAddress(farm)
	return pairPage{frame: f, Pairings: pairings, HTTPS: https}, err
}

func (s *Server) postPair(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	ctx, who := c.Request().Context(), actorOf(c)
	person := who.PersonID
	if id, err := strconv.ParseInt(v.Get("person"), 10, 64); err == nil {
		person = id
	}
	secret, expires, err := s.store.StartPairingFor(ctx, who, person)
	if err != nil {
		return err
	}
	p, err := s.newPairPage(c)
	if err != nil {
		return err
	}
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	address := s.address(farm)
	if secure, ok := s.secureAddress(farm); ok && v.Get("over") == "https" {
		address, p.Over = secure, "https"
	}
	p.Person, p.Link, p.Until = person, string(address)+"/P/"+secret, p.U.TimeSeconds(expires)
	if p.Symbol, err = drawSymbol(p.Link); err != nil {
		return err
	}
	return s.show(c, http.StatusOK, "pair", p)
}

// joinPage is what the phone shows: whose phone it will be, and one button.
type joinPage struct {
	frame
	Form   form
	Person string
	Secret string
}

func (s *Server) showJoin(c echo.Context) error { return s.drawJoin(c, http.StatusOK, formOf()) }

func (s *Server) drawJoin(c echo.Context, status int, form form) error {
	secret, err := param(c, "secret")
	if err != nil {
		return err
	}
	pairing, err := s.store.PairingOf(c.Request().Context(), secret)
	if err != nil {
		return err
	}
	f, _, err := s.frame(c, "Join")
	if err != nil {
		return err
	}
	return s.show(c, status, "join", joinPage{frame: f, Form: form, Person: pairing.Person, Secret: strings.ToUpper(secret)})
}

func (s *Server) postJoin(c echo.Context) error {
	secret, err := param(c, "secret")
	if err != nil {
		return err
	}
	v, err := formValues(c)
	if err != nil {
		return err
	}
	if err := s.limits.pair(c.RealIP()); err != nil {
		return err
	}
	_, over := cookieOf(c.Request())
	session, err := s.store.Pair(c.Request().Context(), secret, deviceName(c, v), over)
	if err != nil {
		return err
	}
	if err := s.keepSignedIn(c, session); err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, "/")
}
