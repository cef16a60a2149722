package server

import (
	"net"
	"net/netip"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// hostList knows the names and addresses under which this machine may be
// called. A request under any other name is refused: a site that has its own
// name point at the farm's address must not get at the farm through a visitor's
// browser.
type hostList struct {
	mu        sync.Mutex
	readAt    time.Time
	addresses []netip.Addr // of this machine's interfaces
	names     []string     // of this machine
	listened  []string     // the hosts that -listen and -listen-tls named
}

// hostsFor is how long the interfaces' addresses are believed; Wi-Fi comes and
// goes.
const hostsFor = 10 * time.Second

func newHostList() *hostList {
	h := &hostList{names: []string{"localhost"}}
	if name, err := os.Hostname(); err == nil && name != "" {
		name = strings.ToLower(name)
		first, _, _ := strings.Cut(name, ".")
		h.names = append(h.names, name, first, first+".local")
	}
	return h
}

// own gives the addresses of this machine.
func (h *hostList) own() []netip.Addr {
	h.mu.Lock()
	defer h.mu.Unlock()
	if now := time.Now(); now.Sub(h.readAt) > hostsFor {
		h.addresses, h.readAt = interfaceAddresses(), now
	}
	return h.addresses
}

// allows tells whether host, with or without a port, is one of the farm's.
func (h *hostList) allows(host string, farm *store.Farm) bool {
	name := strings.TrimSuffix(strings.ToLower(bareHost(host)), ".")
	if name == "" {
		return false
	}
	if slices.Contains(h.names, name) || name == hostOf(farm.Public) || slices.Contains(h.listenedNames(), name) {
		return true
	}
	a, err := netip.ParseAddr(name)
	return err == nil && (a.IsLoopback() || slices.Contains(h.own(), a.Unmap()))
}

func (h *hostList) listenedNames() []string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return slices.Clone(h.listened)
}

// listen notes a host that -listen or -listen-tls named.
func (h *hostList) listen(host string) {
	h.mu.Lock()
	h.listened = append(h.listened, strings.ToLower(host))
	h.mu.Unlock()
}

// callable are the hosts that HTTPS should answer to, sorted: of this machine's
// many addresses those of IPv4 and of private IPv6 networks, and of its names
// those that a certificate may bear.
func (h *hostList) callable(farm *store.Farm) []string {
	hosts := append(h.listenedNames(), "127.0.0.1", "::1", hostOf(farm.Public))
	hosts = append(hosts, h.names...)
	for _, a := range h.own() {
		if a.Is4() || a.IsPrivate() {
			hosts = append(hosts, a.String())
		}
	}
	slices.Sort(hosts)
	return slices.DeleteFunc(slices.Compact(hosts), func(host string) bool {
		a, err := netip.ParseAddr(host)
		return err != nil && !isSignable(host) || err == nil && a.IsUnspecified()
	})
}

// bareHost takes the port and the brackets of an IPv6 address off.
func bareHost(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		return name
	}
	return strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
}

// hostOf is the host of an address such as http://FARM.LOCAL:8080.
func hostOf(address string) string {
	_, host, _ := strings.Cut(address, "://")
	return strings.ToLower(bareHost(host))
}

// interfaceAddresses are the addresses of all interfaces that are up, in the
// system's order, without zones.
func interfaceAddresses() []netip.Addr {
	interfaces, err := net.Interfaces()
	if err != nil {
		return nil
	}
	var out []netip.Addr
	for _, i := range interfaces {
		if i.Flags&net.FlagUp == 0 {
			continue
		}
		addresses, err := i.Addrs()
		if err != nil {
			continue
		}
		for _, a := range addresses {
			if p, err := netip.ParsePrefix(a.String()); err == nil {
				out = append(out, p.Addr().Unmap().WithZone(""))
			}
		}
	}
	return out
}

// checkHost refuses a Host that is not the farm's.
func (s *Server) checkHost(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		host := c.Request().Host
		if host == "" { // HTTP/1.0; no browser does that
			return next(c)
		}
		farm, err := s.store.Farm(c.Request().Context())
		if err != nil {
			return err
		}
		if !s.hosts.allows(host, farm) {
			s.note(c, "refused: called by a strange name")
			return grow.Errorf(grow.Invalid, "this farm does not answer to that name; open %s instead, or set the name as the farm's public address", strings.ToLower(string(s.address(farm))))
		}
		return next(c)
	}
}
