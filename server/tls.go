package server

import (
	"context"
	"crypto/tls"
	"errors"
	"net"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// secure is HTTPS beside plain HTTP, by the farm's own authority. Neither leads
// to the other: a phone that does not trust the authority goes on over plain
// HTTP. But nobody is more than a grower there, since what travels in the clear
// can be read and used again.
type secure struct {
	folder string // of the authority

	mu        sync.Mutex
	authority *authority // nil until the server listens
	port      string     // stays as it is from then on
	leaf      *tls.Certificate
	madeAt    time.Time // the leaf
	hosts     []string  // that the leaf was made for
}

// most is the most that a sign-in may do over the connection of a request.
func (s *Server) most(r *http.Request) store.Role {
	if s.secure != nil && r.TLS == nil {
		return store.Grower
	}
	return store.Owner
}

// listenTLS opens the port for HTTPS with the authority behind it; it is nil
// where the farm has no HTTPS.
func (s *Server) listenTLS(ctx context.Context, address string) (net.Listener, error) {
	if s.secure == nil {
		return nil, nil
	}
	l, err := s.listen(ctx, address)
	if err != nil {
		return nil, err
	}
	if err := s.openSecure(ctx, l); err != nil {
		return nil, errors.Join(err, l.Close())
	}
	return l, nil
}

// openSecure opens the authority and makes the first certificate, so that what
// is wrong with either shows at start.
func (s *Server) openSecure(ctx context.Context, l net.Listener) error {
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	now, hosts := s.store.Now(), s.hosts.callable(farm)
	a, err := openAuthority(s.secure.folder, authorityTitle(farm, now), hosts, now)
	if err != nil {
		return err
	}
	_, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		return err
	}
	s.secure.mu.Lock()
	defer s.secure.mu.Unlock()
	s.secure.authority, s.secure.port = a, port
	s.log.Info("HTTPS by the farm's own authority", "sha256", a.fingerprint(), "until", a.certificate.NotAfter.Format(time.DateOnly))
	return s.renew(hosts, now)
}

// authorityTitle is the name under which a phone lists the authority: at most
// 64 characters (RFC 5280, appendix A).
func authorityTitle(farm *store.Farm, now time.Time) string {
	name := farm.Name
	if host, err := os.Hostname(); name == "" && err == nil {
		name = host
	}
	if short := []rune(name); len(short) > 40 {
		name = string(short[:40])
	}
	return strings.TrimSpace("bagmark "+name) + " " + now.In(farm.Zone).Format(time.DateOnly)
}

// renew makes the certificate that is shown from now on. The caller holds the
// lock.
func (s *Server) renew(hosts []string, now time.Time) error {
	leaf, err := s.secure.authority.issue(hosts, now)
	if err != nil {
		return &grow.Error{Kind: grow.Internal, Message: "no certificate could be made for HTTPS", Cause: err}
	}
	s.secure.leaf, s.secure.madeAt, s.secure.hosts = leaf, now, hosts
	if left := s.secure.authority.leavesOut(hosts); len(left) > 0 {
		s.log.Warn("HTTPS does not answer to names that the authority was not made for", "names", strings.Join(left, " "))
	}
	return nil
}

// opened is the authority, nil where the farm has no HTTPS.
func (v *secure) opened() *authority {
	if v == nil {
		return nil
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.authority
}

// tlsConfig needs TLS 1.2 (RFC 8996 ended what came before).
func (s *Server) tlsConfig() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: s.certificate}
}

// certificate gives the certificate to show, a new one where the machine has
// other names or addresses than it was made for, or after 300 days.
func (s *Server) certificate(hello *tls.ClientHelloInfo) (*tls.Certificate, error) {
	farm, err := s.store.Farm(hello.Context())
	if err != nil {
		return nil, err
	}
	now, hosts := s.store.Now(), s.hosts.callable(farm)
	s.secure.mu.Lock()
	defer s.secure.mu.Unlock()
	if now.Sub(s.secure.madeAt) < leafRenew && !now.Before(s.secure.leaf.Leaf.NotBefore) && slices.Equal(hosts, s.secure.hosts) {
		return s.secure.leaf, nil
	}
	if err := s.renew(hosts, now); err != nil {
		s.log.Error(err.Error()) // the old one still serves
	}
	return s.secure.leaf, nil
}

// secureHost is host and port for HTTPS, with the first of the wanted hosts that
// the next connection's certificate is for; "" where the farm has no HTTPS or
// none will do.
func (s *Server) secureHost(farm *store.Farm, wanted ...string) string {
	a := s.secure.opened()
	if a == nil {
		return ""
	}
	hosts := s.hosts.callable(farm)
	for _, host := range wanted {
		if host = strings.ToLower(host); slices.Contains(hosts, host) && a.permits(host) {
			return strings.TrimSuffix(net.JoinHostPort(host, s.secure.port), ":443")
		}
	}
	return ""
}

// secureHere is the address over HTTPS of the host that a request was made to.
// Browsers keep cookies by host, so a phone that changes over should keep it.
func (s *Server) secureHere(c echo.Context, farm *store.Farm) string {
	wanted := append([]string{bareHost(c.Request().Host)}, s.labelHosts(farm)...)
	if host := s.secureHost(farm, append(wanted, "localhost")...); host != "" {
		return "https://" + host
	}
	return ""
}

// secureAddress is the farm's address over HTTPS, fit for a symbol.
func (s *Server) secureAddress(farm *store.Farm) (grow.Address, bool) {
	host := s.secureHost(farm, s.labelHosts(farm)...)
	if host == "" {
		return "", false
	}
	a, err := grow.ParseAddress("https://" + host)
	return a, err == nil
}

// labelHosts are the hosts under which phones find the farm, the labels' first.
func (s *Server) labelHosts(farm *store.Farm) (hosts []string) {
	for _, address := range s.labelAddresses(farm) {
		hosts = append(hosts, hostOf(address))
	}
	return hosts
}

// secureHint adds where that is to a sentence.
func (s *Server) secureHint(c echo.Context) string {
	if farm, err := s.store.Farm(c.Request().Context()); err == nil {
		if address := s.secureHere(c, farm); address != "" {
			return ", at " + address
		}
	}
	return ""
}
