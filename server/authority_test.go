package server

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

// shed is a machine with names and addresses of every kind. 192.0.2.9 and the
// domain are public (RFC 5737, RFC 2606), the others are not.
var shed = []string{"10.0.0.7", "127.0.0.1", "169.254.3.4", "172.31.9.9", "192.0.2.9", "192.168.1.20", "::1", "bags.farm.example", "fd00::2", "localhost", "shed.farm.example", "shed.local"}

func newTestAuthority(t *testing.T) *authority {
	t.Helper()
	a, err := newAuthority("bagmark Hill farm", append([]string{"farm"}, shed...), noon)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func (a *authority) mustIssue(t *testing.T, hosts []string, now time.Time) *x509.Certificate {
	t.Helper()
	leaf, err := a.issue(hosts, now)
	if err != nil {
		t.Fatal(err)
	}
	return leaf.Leaf
}

// verify judges a leaf as Go's verifier does for a client that trusts the
// authority.
func (a *authority) verify(leaf *x509.Certificate, host string, at time.Time) error {
	roots := x509.NewCertPool()
	roots.AddCert(a.certificate)
	_, err := leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: host, CurrentTime: at, KeyUsages: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}})
	return err
}

func TestLeafIsGoodForEveryHostOfTheFarm(t *testing.T) {
	t.Parallel()
	a := newTestAuthority(t)
	leaf := a.mustIssue(t, shed, noon)
	for _, host := range shed {
		for _, at := range []time.Time{noon, noon.Add(-clockLeeway), noon.Add(396 * 24 * time.Hour)} {
			if err := a.verify(leaf, host, at); err != nil {
				t.Errorf("%s on %s: %v", host, at, err)
			}
		}
		if !a.permits(host) {
			t.Errorf("the authority does not sign for %s", host)
		}
	}
	for _, host := range []string{"192.168.1.21", "barn.local", "www.bags.farm.example"} { // permitted, and not in the leaf
		if a.verify(leaf, host, noon) == nil {
			t.Errorf("the leaf is good for %s", host)
		}
	}
	if a.verify(leaf, "shed.local", noon.Add(398*24*time.Hour)) == nil {
		t.Error("the leaf is good after 398 days")
	}
}

// signFor has the authority's key sign for any host at all, as a thief would.
func (a *authority) signFor(t *testing.T, hosts ...string) tls.Certificate {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	from := a.certificate.NotBefore
	template := &x509.Certificate{NotBefore: from, NotAfter: from.Add(leafLife), ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
	for _, host := range hosts {
		if ip := net.ParseIP(host); ip != nil {
			template.IPAddresses = append(template.IPAddresses, ip)
		} else {
			template.DNSNames = append(template.DNSNames, host)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, template, a.certificate, key.Public(), a.key)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key, Leaf: leaf}
}

// TestAuthorityIsHeldToTheFarm: RFC 5280, 4.2.1.10 and 6.1. One name outside
// spoils the whole certificate.
func TestAuthorityIsHeldToTheFarm(t *testing.T) {
	t.Parallel()
	a := newTestAuthority(t)
	for name, hosts := range map[string][]string{
		"a site of the internet":             {"www.bank.example"},
		"the farm's domain's own parent":     {"farm.example"},
		"a name that only ends like one":     {"notshed.local.example"},
		"a name that ends in the letters":    {"mylocal"},
		"the machine's own name of one part": {"farm"},
		"a top-level domain of its name":     {"shop.farm"},
		"a public address":                   {"198.51.100.7"},
		"the neighbour of a public address":  {"192.0.2.10"},
		"just outside 172.16.0.0/12":         {"172.32.0.1"},
		"a public address of IPv6":           {"2001:db8::1"},
		"one foreign name beside the farm's": {"shed.local", "192.168.1.20", "www.bank.example"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var invalid x509.CertificateInvalidError
			err := a.verify(a.signFor(t, hosts...).Leaf, hosts[0], noon)
			if !errors.As(err, &invalid) || invalid.Reason != x509.CANotAuthorizedForThisName {
				t.Errorf("%v: %v", hosts, err)
			}
			foreign := hosts[len(hosts)-1]
			leaf := a.mustIssue(t, append(hosts, "shed.local"), noon)
			if err := a.verify(leaf, "shed.local", noon); err != nil || slices.Contains(leaf.DNSNames, foreign) || a.permits(foreign) {
				t.Errorf("the server would show a certificate for %v and %v: %v", leaf.DNSNames, leaf.IPAddresses, err)
			}
		})
	}
	if err := a.verify(a.signFor(t, "barn.local", "192.168.7.7").Leaf, "barn.local", noon); err != nil {
		t.Errorf("the thief's method is wrong: %v", err)
	}
}

// TestAuthorityIsOnlyThat holds both certificates to RFC 5280 and to the limits
// of Apple's phones (support articles 103769: 825 days, server authentication,
// names in the extension; 102028: 398 days).
func TestAuthorityIsOnlyThat(t *testing.T) {
	t.Parallel()
	a := newTestAuthority(t)
	c := a.certificate
	if !c.IsCA || c.MaxPathLen != 0 || !c.MaxPathLenZero || c.KeyUsage != x509.KeyUsageCertSign || c.PublicKey.(*ecdsa.PublicKey).Curve != elliptic.P256() {
		t.Errorf("the authority is %+v", c)
	}
	if c.NotAfter != noon.AddDate(10, 0, 0) || c.NotBefore.After(noon) {
		t.Errorf("the authority lives from %s to %s", c.NotBefore, c.NotAfter)
	}
	constraints := slices.IndexFunc(c.Extensions, func(e pkix.Extension) bool { return e.Id.String() == "2.5.29.30" })
	if constraints < 0 || !c.Extensions[constraints].Critical {
		t.Error("the name constraints are not critical")
	}
	leaf := a.mustIssue(t, shed, noon)
	if leaf.IsCA || leaf.NotAfter.Sub(leaf.NotBefore) != 397*24*time.Hour || leaf.KeyUsage != x509.KeyUsageDigitalSignature || !slices.Equal(leaf.ExtKeyUsage, []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}) {
		t.Errorf("the leaf is %+v", leaf)
	}
	if leaf.SerialNumber.Cmp(a.mustIssue(t, shed, noon).SerialNumber) == 0 {
		t.Error("two leaves have one serial number")
	}
	late := a.mustIssue(t, shed, c.NotAfter.AddDate(0, -1, 0))
	if late.NotAfter.After(c.NotAfter) {
		t.Error("a leaf outlives its authority")
	}
	early := a.mustIssue(t, shed, noon.AddDate(-1, 0, 0)) // the clock was set back
	if early.NotBefore.Before(c.NotBefore) || a.verify(early, "shed.local", noon) != nil {
		t.Error("a leaf is older than its authority")
	}
}

func TestAuthorityIsKept(t *testing.T) {
	t.Parallel()
	folder := filepath.Join(t.TempDir(), "tls")
	open := func(at time.Time) *authority {
		t.Helper()
		a, err := openAuthority(folder, "bagmark", shed, at)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	first := open(noon)
	checkModes := func() {
		t.Helper()
		modes := map[string]string{}
		for _, path := range []string{folder, filepath.Join(folder, authorityKeyFile), filepath.Join(folder, authorityFile)} {
			info, err := os.Stat(path)
			if err != nil {
				t.Fatal(err)
			}
			modes[filepath.Base(path)] = info.Mode().String()
		}
		if diff := cmp.Diff(map[string]string{"tls": "drwx------", "ca.key": "-rw-------", "ca.crt": "-rw-------"}, modes); diff != "" {
			t.Error(diff)
		}
	}
	checkModes()
	for _, path := range []string{folder, filepath.Join(folder, authorityKeyFile)} {
		if err := os.Chmod(path, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if again := open(noon.AddDate(9, 11, 0)); !again.certificate.Equal(first.certificate) || !again.key.Equal(first.key) {
		t.Error("the authority was not kept")
	}
	checkModes() // whoever loosened them
	if renewed := open(noon.AddDate(10, 0, 1)); renewed.certificate.Equal(first.certificate) {
		t.Error("an authority that is over was kept")
	}
	if err := os.Remove(filepath.Join(folder, authorityFile)); err != nil { // the power went before it was written
		t.Fatal(err)
	}
	half := open(noon)
	if err := half.verify(half.mustIssue(t, shed, noon), "shed.local", noon); err != nil {
		t.Error(err)
	}
}

func TestAuthorityInPieces(t *testing.T) {
	t.Parallel()
	for name, harm := range map[string]func(folder string) error{
		"no key":            func(f string) error { return os.Remove(filepath.Join(f, authorityKeyFile)) },
		"an empty key":      func(f string) error { return os.Truncate(filepath.Join(f, authorityKeyFile), 0) },
		"a cut certificate": func(f string) error { return os.Truncate(filepath.Join(f, authorityFile), 200) },
		"another's key": func(f string) error {
			other, err := newAuthority("other", nil, noon)
			if err != nil {
				return err
			}
			kept, err := os.ReadFile(filepath.Join(f, authorityFile))
			return errors.Join(err, other.write(f), os.WriteFile(filepath.Join(f, authorityFile), kept, 0o600))
		},
		"two keys": func(f string) error {
			key, err := os.ReadFile(filepath.Join(f, authorityKeyFile))
			return errors.Join(err, os.WriteFile(filepath.Join(f, authorityFile), key, 0o600))
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			folder := t.TempDir()
			_, err := openAuthority(folder, "bagmark", shed, noon)
			if err := errors.Join(err, harm(folder)); err != nil {
				t.Fatal(err)
			}
			_, err = openAuthority(folder, "bagmark", shed, noon)
			var e *grow.Error
			if !errors.As(err, &e) || !strings.Contains(e.Message, "put it back, or move its folder away") {
				t.Errorf("%v", err)
			}
		})
	}
	if _, err := openAuthority(t.TempDir(), "bagmark", shed, time.Unix(86400, 0)); grow.KindOf(err) != grow.Invalid || !strings.Contains(err.Error(), "1970-01-02") {
		t.Errorf("a clock without a battery: %v", err)
	}
	file := filepath.Join(t.TempDir(), "tls")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := openAuthority(file, "bagmark", shed, noon); grow.KindOf(err) != grow.Internal || !strings.Contains(err.Error(), "cannot be used") {
		t.Errorf("a file in the folder's place: %v", err)
	}
}

// Names that no certificate may bear are left out instead of spoiling it.
func TestOddNamesOfMachines(t *testing.T) {
	t.Parallel()
	odd := []string{"", "my shed.local", "shed..local", "-.local", "grün.local", strings.Repeat("a", 64) + ".local", strings.Repeat("a.", 125) + "local", "shed_2.local", "*.local", ".local", "shed", "shed.local"}
	a, err := newAuthority("bagmark", odd, noon)
	if err != nil {
		t.Fatal(err)
	}
	leaf := a.mustIssue(t, odd, noon)
	if diff := cmp.Diff([]string{"-.local", "shed_2.local", "shed.local"}, leaf.DNSNames); diff != "" {
		t.Error(diff)
	}
	if err := a.verify(leaf, "shed.local", noon); err != nil {
		t.Error(err)
	}
}

// needProgram finds a program that some test looks for.
func needProgram(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err == nil {
		return path
	}
	if os.Getenv("BAGMARK_REQUIRE_TOOLS") == "1" {
		t.Fatalf("no %s, and BAGMARK_REQUIRE_TOOLS=1 asks for it", name)
	}
	t.Skipf("skipped: needs %s", name)
	return ""
}

// TestOpenSSLAgrees has another implementation verify the chain, strictly.
func TestOpenSSLAgrees(t *testing.T) {
	t.Parallel()
	openssl := needProgram(t, "openssl")
	a := newTestAuthority(t)
	folder := t.TempDir()
	if err := a.write(folder); err != nil {
		t.Fatal(err)
	}
	verify := func(leaf *x509.Certificate, more ...string) string {
		path := filepath.Join(t.TempDir(), "leaf.pem")
		if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: leaf.Raw}), 0o600); err != nil {
			t.Fatal(err)
		}
		args := append([]string{"verify", "-x509_strict", "-purpose", "sslserver", "-attime", strconv.FormatInt(noon.Unix(), 10), "-CAfile", filepath.Join(folder, authorityFile)}, more...)
		out, _ := exec.CommandContext(t.Context(), openssl, append(args, path)...).CombinedOutput()
		return string(out)
	}
	leaf := a.mustIssue(t, shed, noon)
	for _, host := range shed {
		option := "-verify_hostname"
		if net.ParseIP(host) != nil {
			option = "-verify_ip"
		}
		if out := verify(leaf, option, host); !strings.Contains(out, ": OK") {
			t.Errorf("%s: %s", host, out)
		}
	}
	if out := verify(leaf, "-verify_ip", "192.168.1.21"); !strings.Contains(out, "IP address mismatch") {
		t.Errorf("another address: %s", out)
	}
	for _, hosts := range [][]string{{"shed.local", "www.bank.example"}, {"198.51.100.7"}} {
		if out := verify(a.signFor(t, hosts...).Leaf); !strings.Contains(out, "permitted subtree violation") {
			t.Errorf("%v: %s", hosts, out)
		}
	}
	out, err := exec.CommandContext(t.Context(), openssl, "x509", "-noout", "-fingerprint", "-sha256", "-in", filepath.Join(folder, authorityFile)).Output()
	if err != nil || !strings.Contains(string(out), a.fingerprint()) {
		t.Errorf("the fingerprint is %s, openssl says %s, %v", a.fingerprint(), out, err)
	}
}
