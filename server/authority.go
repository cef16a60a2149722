package server

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"fmt"
	"net"
	"net/netip"
	"slices"
	"strings"
	"time"

	"bagmark/grow"
)

// The farm's own certificate authority
//
// It lives in the farm's folder and nowhere else: its key is in no backup and
// is never sent. It is kept for ten years whatever else changes, for every phone
// must be told by hand to trust it. Critical name constraints (RFC 5280,
// 4.2.1.10) hold it to the farm's names and to addresses that exist on private
// networks only, so that whoever steals the key can still not pass for a bank.
// The certificate that the server shows is made at each start, anew when the
// machine's names or addresses change, and is never written to a disk.

const (
	authorityYears = 10
	// A leaf may live 825 days at most for Apple's phones (Apple support article
	// 103769), whose limit for public authorities is 398 days.
	leafLife  = 397 * 24 * time.Hour
	leafRenew = 300 * 24 * time.Hour
	// clockLeeway is how far behind the server's clock a phone's may be.
	clockLeeway = time.Hour
)

// authority signs the server's certificates.
type authority struct {
	certificate *x509.Certificate
	key         *ecdsa.PrivateKey
}

// privateNetworks are reached on a network of one's own only: RFC 1918, 1122
// (loopback) and 3927 (link-local), RFC 4291 and 4193 for IPv6. The whole ranges,
// since a new router may choose any of them.
var privateNetworks = []netip.Prefix{
	netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("172.16.0.0/12"), netip.MustParsePrefix("192.168.0.0/16"),
	netip.MustParsePrefix("127.0.0.0/8"), netip.MustParsePrefix("169.254.0.0/16"),
	netip.MustParsePrefix("::1/128"), netip.MustParsePrefix("fc00::/7"),
}

// privateNames are domains of the machine itself and of its network: RFC 6761
// and RFC 6762.
var privateNames = []string{"localhost", "local"}

// newAuthority makes an authority for these hosts and for everything private.
// Nothing is written.
func newAuthority(title string, hosts []string, now time.Time) (*authority, error) {
	if now.Year() < 2024 { // a board without a battery starts in 1970
		return nil, grow.Errorf(grow.Invalid, "this computer's clock says %s, and a certificate made by it would be worth nothing; set the clock first", now.Format(time.DateOnly))
	}
	names, networks := constraints(hosts)
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	template := &x509.Certificate{
		Subject:   pkix.Name{CommonName: title, Organization: []string{"bagmark"}},
		NotBefore: now.Add(-clockLeeway), NotAfter: now.AddDate(authorityYears, 0, 0),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign,
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: names, PermittedIPRanges: networks,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		return nil, err
	}
	certificate, err := x509.ParseCertificate(der)
	return &authority{certificate, key}, err
}

// constraints are what the authority may sign for: all that is private, and of
// the hosts those that are not.
func constraints(hosts []string) (names []string, networks []*net.IPNet) {
	prefixes := slices.Clone(privateNetworks)
	names = slices.Clone(privateNames)
	for _, host := range hosts {
		a, err := netip.ParseAddr(host)
		switch {
		case err != nil && isSignable(host) && !underOneOf(host, names):
			names = append(names, host)
		case err == nil && !inOneOf(a, prefixes):
			prefixes = append(prefixes, netip.PrefixFrom(a, a.BitLen()))
		}
	}
	for _, p := range prefixes {
		networks = append(networks, &net.IPNet{IP: p.Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())})
	}
	return names, networks
}

// isSignable tells whether a certificate may bear a name. One that is no DNS name
// would make the whole certificate worthless; and a constraint to a name of one
// part holds for all that ends in it, so that a machine called farm could pass
// for any site under the top-level domain of that name.
func isSignable(name string) bool {
	if len(name) > 253 || !strings.Contains(name, ".") && name != "localhost" {
		return false
	}
	for label := range strings.SplitSeq(name, ".") {
		if label == "" || len(label) > 63 || strings.Trim(label, "abcdefghijklmnopqrstuvwxyz0123456789-_") != "" {
			return false
		}
	}
	return true
}

func underOneOf(name string, domains []string) bool {
	return slices.ContainsFunc(domains, func(d string) bool { return name == d || strings.HasSuffix(name, "."+d) })
}

func inOneOf(a netip.Addr, networks []netip.Prefix) bool {
	return slices.ContainsFunc(networks, func(p netip.Prefix) bool { return p.Contains(a) })
}

// permits tells whether the authority may sign for a host, in lower case.
func (a *authority) permits(host string) bool {
	address, err := netip.ParseAddr(host)
	if err != nil {
		return isSignable(host) && underOneOf(host, a.certificate.PermittedDNSDomains)
	}
	return slices.ContainsFunc(a.certificate.PermittedIPRanges, func(n *net.IPNet) bool { return n.Contains(address.AsSlice()) })
}

// leavesOut are those of the hosts that it may not sign for.
func (a *authority) leavesOut(hosts []string) []string {
	return slices.DeleteFunc(slices.Clone(hosts), a.permits)
}

// issue makes a certificate with a key of its own for those of the hosts that
// the authority may sign for.
func (a *authority) issue(hosts []string, now time.Time) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	from := now.Add(-clockLeeway)
	if from.Before(a.certificate.NotBefore) {
		from = a.certificate.NotBefore
	}
	until := from.Add(leafLife)
	if until.After(a.certificate.NotAfter) {
		until = a.certificate.NotAfter
	}
	template := &x509.Certificate{
		Subject: pkix.Name{CommonName: "bagmark", Organization: []string{"bagmark"}}, NotBefore: from, NotAfter: until,
		BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	for _, host := range hosts {
		if !a.permits(host) {
			continue
		}
		if address, err := netip.ParseAddr(host); err == nil {
			template.IPAddresses = append(template.IPAddresses, address.AsSlice())
		} else {
			template.DNSNames = append(template.DNSNames, host)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, template, a.certificate, key.Public(), a.key)
	if err != nil {
		return nil, err
	}
	leaf, err := x509.ParseCertificate(der)
	return &tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key, Leaf: leaf}, err
}

// fingerprint is the SHA-256 of the authority's certificate in pairs of
// hexadecimal digits, as phones show it.
func (a *authority) fingerprint() string {
	sum := sha256.Sum256(a.certificate.Raw)
	return strings.ToUpper(strings.ReplaceAll(fmt.Sprintf("% x", sum), " ", ":"))
}
