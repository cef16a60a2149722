package server

import (
	"net"
	"net/netip"
	"strings"

	"bagmark/grow"
	"bagmark/store"
)

// FarmAddress is the address that the farm's symbols carry: the public one once
// it is set; until then the first private address of this machine's network
// with the port last listened on; where there is none, what was listened on.
func FarmAddress(f *store.Farm) grow.Address { return farmAddress(f, interfaceAddresses()) }

// address is FarmAddress with the interfaces as they were read a moment ago.
func (s *Server) address(f *store.Farm) grow.Address { return farmAddress(f, s.hosts.own()) }

func farmAddress(f *store.Farm, own []netip.Addr) grow.Address {
	if f.Public != "" {
		return grow.Address(f.Public)
	}
	host, port := splitListened(f.Listened)
	if a, err := netip.ParseAddr(host); err == nil && a.Is4() && a.IsPrivate() {
		return makeAddress(host, port)
	}
	for _, a := range own {
		if a.Is4() && a.IsPrivate() { // IPv6 needs brackets, which would make the symbol larger
			return makeAddress(a.String(), port)
		}
	}
	return makeAddress(host, port)
}

// nowhere is the address, as a person reads it, if it is that of this machine for
// itself: no phone finds it. It is "" for every other.
func nowhere(a grow.Address) string {
	text := strings.ToLower(string(a))
	host := hostOf(text)
	if ip, err := netip.ParseAddr(host); host == "localhost" || err == nil && ip.IsLoopback() {
		return text
	}
	return ""
}

// makeAddress writes an address in its one spelling. A host that cannot stand
// in a symbol, such as [::1] or 0.0.0.0, is this machine itself.
func makeAddress(host, port string) grow.Address {
	if a, err := netip.ParseAddr(host); host == "" || err == nil && (a.IsUnspecified() || a.Is6()) {
		host = "localhost"
	}
	text := "http://" + host
	if port != "" && port != "80" {
		text += ":" + port
	}
	a, err := grow.ParseAddress(text)
	if err != nil {
		return grow.Address("http://LOCALHOST")
	}
	return a
}

// splitListened takes apart what [listenedOn] wrote.
func splitListened(address string) (host, port string) {
	_, rest, _ := strings.Cut(address, "://")
	host, port, err := net.SplitHostPort(rest)
	if err != nil {
		return rest, ""
	}
	return host, port
}

// listenedOn writes the address of a listener as the farm keeps it.
func listenedOn(l net.Listener) string { return "http://" + l.Addr().String() }

// openAt is where a person on this network finds a listener.
func openAt(scheme string, l net.Listener, own []netip.Addr) string {
	host, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		return scheme + "://" + l.Addr().String()
	}
	if a, err := netip.ParseAddr(host); err == nil && a.IsUnspecified() {
		host = "127.0.0.1"
		for _, o := range own {
			if o.Is4() && o.IsPrivate() {
				host = o.String()
				break
			}
		}
	}
	return scheme + "://" + net.JoinHostPort(host, port)
}
