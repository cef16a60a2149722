package server

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/google/go-cmp/cmp"
)

// secureHouse is a farm with HTTPS beside HTTP, both on real ports. Requests of
// the house itself go over plain HTTP.
type secureHouse struct {
	*house
	folder        string // of the authority
	plain, secure string // addresses
	pool          *x509.CertPool
}

func newSecureHouse(t *testing.T) *secureHouse {
	t.Helper()
	return newHouse(t).secured(filepath.Join(t.TempDir(), "tls"))
}

// secured serves the farm of a house, as the program does with -tls local.
func (h *house) secured(folder string) *secureHouse {
	h.t.Helper()
	var err error
	if h.server, err = New(Options{Store: h.store, Log: h.server.log, Version: "1.2.3", TLS: "local", TLSFolder: folder}); err != nil {
		h.t.Fatal(err)
	}
	h.standsAt("192.168.1.20")
	ctx, stop := context.WithCancel(context.Background())
	ready, ended := make(chan []string, 1), make(chan error, 1)
	go func() {
		err := h.server.Run(ctx, "127.0.0.1:0", "127.0.0.1:0", func(a []string) { ready <- a })
		ready <- nil
		ended <- err
	}()
	addresses := <-ready
	h.t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			h.t.Error(err)
		}
	})
	if len(addresses) != 2 || !strings.HasPrefix(addresses[0], "http://127.0.0.1:") || !strings.HasPrefix(addresses[1], "https://127.0.0.1:") {
		h.t.Fatalf("listens on %v", addresses)
	}
	h.web.URL = addresses[0]
	s := &secureHouse{house: h, folder: folder, plain: addresses[0], secure: addresses[1], pool: x509.NewCertPool()}
	s.pool.AddCert(h.server.secure.opened().certificate)
	return s
}

// standsAt has the machine's interfaces bear this address and no other.
func (h *house) standsAt(address string) {
	hosts := h.server.hosts
	hosts.mu.Lock()
	hosts.addresses, hosts.readAt = []netip.Addr{netip.MustParseAddr(address)}, time.Now().Add(24*time.Hour)
	hosts.mu.Unlock()
}

// client is a browser that trusts the authority, keeps cookies and follows no
// redirect.
func (h *secureHouse) client() *http.Client {
	h.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		h.t.Fatal(err)
	}
	transport := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: h.pool, Time: h.clock.Now}, ForceAttemptHTTP2: true}
	h.t.Cleanup(transport.CloseIdleConnections)
	return &http.Client{Jar: jar, Transport: transport, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// fetch gets a page, or posts a form.
func (h *secureHouse) fetch(c *http.Client, address string, form ...string) *reply {
	h.t.Helper()
	var answer *http.Response
	var err error
	if len(form) == 0 {
		answer, err = c.Get(address)
	} else {
		v := url.Values{}
		for i := 0; i+1 < len(form); i += 2 {
			v.Set(form[i], form[i+1])
		}
		answer, err = c.PostForm(address, v)
	}
	if err != nil {
		h.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		h.t.Fatal(err)
	}
	return &reply{t: h.t, what: address, status: answer.StatusCode, header: answer.Header, body: body}
}

func (h *secureHouse) signIn(c *http.Client, over string) *reply {
	h.t.Helper()
	return h.fetch(c, over+"/sign-in", "name", "Ana", "passphrase", "beech sawdust and bran", "device", "phone").want(http.StatusSeeOther)
}

// leaf is the certificate that the server shows just now.
func (h *secureHouse) leaf() *x509.Certificate {
	h.t.Helper()
	c, err := tls.Dial("tcp", strings.TrimPrefix(h.secure, "https://"), &tls.Config{RootCAs: h.pool, Time: h.clock.Now})
	if err != nil {
		h.t.Fatal(err)
	}
	defer c.Close()
	return c.ConnectionState().PeerCertificates[0]
}

// TestBothServe: neither sends a browser to the other, and neither has it insist
// on HTTPS for the printed labels' sake (RFC 6797).
func TestBothServe(t *testing.T) {
	t.Parallel()
	h := newSecureHouse(t)
	h.ana()
	c := h.client()
	for _, address := range []string{h.plain, h.secure} {
		for path, status := range map[string]int{"/healthz": 200, "/sign-in": 200, "/trust": 200, "/ca.crt": 200, "/B/7K3M9QXR": 303, "/nothing": 404} {
			got := h.fetch(c, address+path).want(status)
			if hsts := got.header.Values("Strict-Transport-Security"); len(hsts) > 0 {
				t.Errorf("%s%s: Strict-Transport-Security %v", address, path, hsts)
			}
			if to := got.header.Get("Location"); status == 303 && !strings.HasPrefix(to, "/sign-in") {
				t.Errorf("%s%s leads to %s", address, path, to)
			}
		}
	}
	farm, err := h.store.Farm(t.Context())
	if err != nil || farm.Listened != h.plain || strings.Contains(string(h.server.address(farm)), "https") {
		t.Errorf("the labels' address is %s, listened is %s, %v", h.server.address(farm), farm.Listened, err)
	}
}

// TestVersionsOfTLS: RFC 8996 ended those before 1.2.
func TestVersionsOfTLS(t *testing.T) {
	t.Parallel()
	h := newSecureHouse(t)
	for version, want := range map[uint16]bool{tls.VersionTLS10: false, tls.VersionTLS11: false, tls.VersionTLS12: true, tls.VersionTLS13: true} {
		c, err := tls.Dial("tcp", strings.TrimPrefix(h.secure, "https://"), &tls.Config{RootCAs: h.pool, Time: h.clock.Now, MinVersion: version, MaxVersion: version})
		if err == nil {
			c.Close()
		}
		if (err == nil) != want {
			t.Errorf("%s: %v", tls.VersionName(version), err)
		}
	}
}

func TestLeafIsRenewedInTime(t *testing.T) {
	t.Parallel()
	h := newSecureHouse(t)
	first := h.leaf()
	h.days(299)
	if !h.leaf().Equal(first) {
		t.Error("renewed before 300 days")
	}
	h.days(1)
	second := h.leaf()
	if second.Equal(first) || !second.NotAfter.Equal(first.NotAfter.AddDate(0, 0, 300)) {
		t.Errorf("after 300 days it is good until %s", second.NotAfter)
	}
	h.days(-10) // the clock was ahead
	if third := h.leaf(); third.Equal(second) {
		t.Error("a certificate of tomorrow is shown")
	}
}

func TestLeafFollowsTheMachine(t *testing.T) {
	t.Parallel()
	h := newSecureHouse(t)
	ca := h.fetch(h.client(), h.plain+"/ca.crt").body
	first := h.leaf()
	if err := first.VerifyHostname("192.168.1.20"); err != nil {
		t.Fatal(err)
	}
	if !h.leaf().Equal(first) {
		t.Error("made anew without a reason")
	}
	h.standsAt("10.1.2.3") // another router
	second := h.leaf()
	if second.Equal(first) || second.VerifyHostname("10.1.2.3") != nil || second.VerifyHostname("192.168.1.20") == nil {
		t.Errorf("the certificate is for %v", second.IPAddresses)
	}
	h.setPublic("http://bagroom.local:8080")
	if third := h.leaf(); third.VerifyHostname("bagroom.local") != nil {
		t.Errorf("the certificate is for %v", third.DNSNames)
	}
	h.setPublic("http://bags.farm.example:8080") // not what the authority was made for
	if fourth := h.leaf(); slices.Contains(fourth.DNSNames, "bags.farm.example") || !strings.Contains(h.log.String(), "bags.farm.example") {
		t.Errorf("the certificate is for %v, and nothing is logged", fourth.DNSNames)
	}
	page := string(h.fetch(h.client(), h.plain+"/trust").body)
	if !strings.Contains(page, "HTTPS does not answer to <b>bags.farm.example</b>") {
		t.Error("the page does not say so")
	}
	if again := h.fetch(h.client(), h.secure+"/ca.crt").body; !bytes.Equal(again, ca) {
		t.Error("the authority is another")
	}
}

func (h *house) setPublic(address string) {
	h.t.Helper()
	a, err := grow.ParseAddress(address)
	if err == nil {
		err = h.store.SetPublic(h.t.Context(), a)
	}
	if err != nil {
		h.t.Fatal(err)
	}
}

// TestAuthorityOfAPublicName: one that is known when the authority is made is
// one of the farm's.
func TestAuthorityOfAPublicName(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.setPublic("https://bags.farm.example")
	leaf := h.secured(filepath.Join(t.TempDir(), "tls")).leaf()
	if err := leaf.VerifyHostname("bags.farm.example"); err != nil {
		t.Error(err)
	}
}

// TestTwoCookiesOneDevice: a browser keeps cookies by host, not by port or
// scheme (RFC 6265, 8.5), and sends the secure one over HTTPS only.
func TestTwoCookiesOneDevice(t *testing.T) {
	t.Parallel()
	for _, way := range []string{"signs in", "joins", "sets up"} {
		t.Run(way, func(t *testing.T) {
			t.Parallel()
			h := newSecureHouse(t)
			c := h.client()
			wantSecure := http.StatusOK
			switch way {
			case "signs in":
				h.ana()
				checkPair(t, h.signIn(c, h.secure))
			case "joins": // as a grower, whoever invited
				in := h.ana()
				secret, _, err := h.store.StartPairing(t.Context(), in.Actor)
				if err != nil {
					t.Fatal(err)
				}
				checkPair(t, h.fetch(c, h.secure+"/P/"+secret, "device", "phone").want(http.StatusSeeOther))
				wantSecure = http.StatusForbidden
			case "sets up":
				checkPair(t, h.setUp(c, h.secure))
			}
			h.fetch(c, h.secure+"/settings").want(wantSecure)
			h.fetch(c, h.secure+"/bench").want(http.StatusOK)
			h.fetch(c, h.plain+"/bench").want(http.StatusOK)
			refused := h.fetch(c, h.plain+"/settings").want(http.StatusForbidden)
			if !strings.Contains(string(refused.body), h.secure) {
				t.Errorf("the refusal does not lead to HTTPS: %s", refused.body)
			}
			devices := h.devices("phone")
			if len(devices) != 1 {
				t.Fatalf("%d devices", len(devices))
			}
			if err := h.store.RevokeDevice(t.Context(), store.Actor{Role: store.Owner}, devices[0].ID); err != nil {
				t.Fatal(err)
			}
			for _, address := range []string{h.plain, h.secure} {
				if got := h.fetch(c, address+"/bench"); got.status != http.StatusSeeOther {
					t.Errorf("%s: still signed in: %d", address, got.status)
				}
			}
		})
	}
}

// checkPair looks at the two cookies of an answer over HTTPS.
func checkPair(t *testing.T, got *reply) {
	t.Helper()
	both := cookiesOf(got.header)
	if len(both) != 2 || both[cookieHTTP] == nil || both[cookieHTTPS] == nil {
		t.Fatalf("cookies %v", both)
	}
	if both[cookieHTTP].Secure || !both[cookieHTTPS].Secure || both[cookieHTTP].Value == both[cookieHTTPS].Value {
		t.Errorf("cookies %v", both)
	}
}

// setUp sets the farm up as its first page does.
func (h *secureHouse) setUp(c *http.Client, over string) *reply {
	h.t.Helper()
	return h.fetch(c, over+"/set-up", "code", h.server.SetUpCode(), "name", "Hill farm", "owner_name", "Ana", "passphrase", "beech sawdust and bran",
		"passphrase_again", "beech sawdust and bran", "time_zone", "Europe/Lisbon", "default_sheet", "a4-3x7-63.5x38.1", "device", "phone").want(http.StatusSeeOther)
}

func (h *house) devices(name string) []store.Device {
	h.t.Helper()
	all, err := h.store.Devices(h.t.Context())
	if err != nil {
		h.t.Fatal(err)
	}
	return slices.DeleteFunc(all, func(d store.Device) bool { return d.Name != name })
}

// TestPlainSignInsAreGrowersAtMost, however and whenever they were made.
func TestPlainSignInsAreGrowersAtMost(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	old := h.ana() // before the farm had HTTPS
	h.send(h.signedIn(old, "GET", "/settings", "")).want(http.StatusOK)
	s := h.secured(filepath.Join(t.TempDir(), "tls"))
	s.send(s.signedIn(old, "GET", "/bench", "")).want(http.StatusOK)
	s.send(s.signedIn(old, "GET", "/settings", "")).want(http.StatusForbidden)
	s.send(s.signedIn(old, "PUT", "/api/v1/settings", `{"margin":0.1}`)).refused(http.StatusForbidden, "forbidden")
	s.send(s.as(store.Owner, s.request("PUT", "/api/v1/settings", `{"margin":0.1}`))).want(http.StatusOK) // a token is no sign-in

	c := s.client()
	if got := cookiesOf(s.signIn(c, s.plain).header); len(got) != 1 || got[cookieHTTP] == nil {
		t.Errorf("cookies over plain HTTP: %v", got)
	}
	s.fetch(c, s.plain+"/settings").want(http.StatusForbidden)
	if d := s.devices("phone"); len(d) != 1 || d[0].Role != store.Grower {
		t.Errorf("the device is kept as %+v", d)
	}
	if got := s.fetch(c, s.secure+"/bench"); got.status != http.StatusSeeOther {
		t.Errorf("a sign-in over plain HTTP counts over HTTPS: %d", got.status)
	}
	page := string(s.fetch(s.client(), s.plain+"/sign-in").body)
	if !strings.Contains(page, s.secure+"/sign-in") {
		t.Error("the sign-in page does not say where an owner signs in")
	}
	first, c := newSecureHouse(t), s.client()
	if page := string(first.fetch(c, first.plain+"/set-up").body); !strings.Contains(page, first.secure+"/set-up") {
		t.Error("the set-up page does not lead to HTTPS")
	}
	first.setUp(c, first.plain)
	first.fetch(c, first.plain+"/first").want(http.StatusOK)
	first.fetch(c, first.plain+"/settings").want(http.StatusForbidden)
}

// TestSigningOutOverPlainHTTP ends what it cannot see, too.
func TestSigningOutOverPlainHTTP(t *testing.T) {
	t.Parallel()
	h := newSecureHouse(t)
	h.ana()
	c := h.client()
	h.signIn(c, h.secure)
	h.fetch(c, h.plain+"/sign-out", "x", "y").want(http.StatusSeeOther)
	if got := h.fetch(c, h.secure+"/bench"); got.status != http.StatusSeeOther {
		t.Errorf("still signed in over HTTPS: %d", got.status)
	}
}

// TestTheKeyStaysWhereItIs: in no backup, in no answer.
func TestTheKeyStaysWhereItIs(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	dir := t.TempDir()
	farm, err := store.Open(t.Context(), dir, store.Options{Now: h.clock.Now})
	if err != nil {
		t.Fatal(err)
	}
	defer farm.Close()
	h.store = farm
	s := h.secured(filepath.Join(dir, "tls"))
	kept, err := os.ReadFile(filepath.Join(s.folder, authorityKeyFile))
	if err != nil || len(kept) == 0 {
		t.Fatal(err)
	}
	bare, err := s.server.secure.opened().key.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	backup := filepath.Join(t.TempDir(), "farm.zip")
	if _, err := farm.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	z, err := zip.OpenReader(backup)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	var names []string
	for _, f := range z.File {
		names = append(names, f.Name)
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if data, err := io.ReadAll(r); err != nil || bytes.Contains(data, kept) || bytes.Contains(data, bare) {
			t.Errorf("%s has the key, %v", f.Name, err)
		}
		r.Close()
	}
	if diff := cmp.Diff([]string{"farm.db", "manifest.json"}, slices.Sorted(slices.Values(names))); diff != "" {
		t.Error(diff)
	}
	for _, path := range []string{"/ca.crt", "/ca.key", "/tls/ca.key", "/trust"} {
		if body := s.fetch(s.client(), s.plain+path).body; bytes.Contains(body, bare) || bytes.Contains(body, []byte("PRIVATE")) {
			t.Errorf("%s shows the key", path)
		}
	}
}

// TestRunWithoutHTTPS: what is wrong shows before anything is served.
func TestRunWithoutHTTPS(t *testing.T) {
	t.Parallel()
	h := newSecureHouse(t)
	taken := strings.TrimPrefix(h.secure, "https://")
	run := func(folder string) error {
		other := newHouse(t)
		s, err := New(Options{Store: other.store, TLS: "local", TLSFolder: folder})
		if err != nil {
			t.Fatal(err)
		}
		return s.Run(t.Context(), "127.0.0.1:0", map[bool]string{true: taken, false: "127.0.0.1:0"}[folder == "free"], func([]string) { t.Error("serves") })
	}
	if err := run("free"); grow.KindOf(err) != grow.Invalid || !strings.Contains(err.Error(), "cannot listen on "+taken) {
		t.Errorf("a port that is taken: %v", err)
	}
	if _, err := os.Stat("free"); err == nil {
		t.Error("an authority was made for nothing")
	}
	if err := os.Remove(filepath.Join(h.folder, authorityKeyFile)); err != nil {
		t.Fatal(err)
	}
	if err := run(h.folder); err == nil || !strings.Contains(err.Error(), "ca.key is missing") {
		t.Errorf("without a key: %v", err)
	}
}
