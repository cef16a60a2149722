package server

import (
	"net/http"
	"slices"
	"strings"

	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

// authorityType is how phones know a certificate that they may come to trust.
const authorityType = "application/x-x509-ca-cert"

// trustPage walks a phone through trusting the farm's authority. It needs no
// sign-in, for it comes before joining.
type trustPage struct {
	frame
	On          bool   // the farm has HTTPS
	Here        string // its address over HTTPS
	Over        bool   // the page came over HTTPS
	Authority   string // its name, as phones list it
	Fingerprint []string
	Until       grow.Date
	LeftOut     []string // hosts that HTTPS does not answer to
}

// fingerprintRow is how many pairs stand in a row.
const fingerprintRow = 8

func (s *Server) showTrust(c echo.Context) error {
	s.visitor(c)
	f, farm, err := s.frame(c, "Trust this farm")
	if err != nil {
		return err
	}
	p := trustPage{frame: f, Here: s.secureHere(c, farm), Over: c.Request().TLS != nil}
	if a := s.secure.opened(); a != nil {
		p.On, p.Authority, p.Until = true, a.certificate.Subject.CommonName, grow.DateOf(a.certificate.NotAfter, farm.Zone)
		for row := range slices.Chunk(strings.Split(a.fingerprint(), ":"), fingerprintRow) {
			p.Fingerprint = append(p.Fingerprint, strings.Join(row, " "))
		}
		p.LeftOut = a.leavesOut(s.hosts.callable(farm))
	}
	return s.show(c, http.StatusOK, "trust", p)
}

// getAuthority gives the authority's certificate, never its key.
func (s *Server) getAuthority(c echo.Context) error {
	a := s.secure.opened()
	if a == nil {
		return grow.Errorf(grow.NotFound, "this farm has no HTTPS of its own; it gets one when it is started with -tls local")
	}
	return c.Blob(http.StatusOK, authorityType, a.certificate.Raw)
}
