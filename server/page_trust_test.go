package server

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/chromedp/chromedp"
)

// document reads a page.
func (r *reply) document() page {
	r.t.Helper()
	d, err := goquery.NewDocumentFromReader(bytes.NewReader(r.body))
	if err != nil {
		r.t.Fatal(err)
	}
	return page{r, d}
}

func TestTrustPage(t *testing.T) {
	t.Parallel()
	h := newSecureHouse(t)
	c := h.client()
	got := h.fetch(c, h.plain+"/ca.crt").want(http.StatusOK)
	if kind := got.header.Get("Content-Type"); kind != "application/x-x509-ca-cert" || got.header.Get("Content-Disposition") != "" {
		t.Errorf("the certificate comes as %s", kind)
	}
	ca, err := x509.ParseCertificate(got.body) // DER, as it stands
	if err != nil {
		t.Fatal(err)
	}
	for _, address := range []string{h.plain, h.secure} {
		p := h.fetch(c, address+"/trust").want(http.StatusOK).document()
		checkMarkup(t, p)
		sum := sha256.Sum256(ca.Raw)
		shown := strings.Join(strings.Fields(p.Find(".secret").Text()), "")
		shown = strings.ToLower(strings.ReplaceAll(shown, ":", ""))
		if shown != hex.EncodeToString(sum[:]) {
			t.Errorf("the fingerprint is %x, the page shows %s", sum, shown)
		}
		p.says("title", "Trust this farm").has(1, "a[href='/ca.crt']").has(1, "a[href='"+h.secure+"/']").says("main", ca.Subject.CommonName).says("main", "All the rest works without it")
		p.says("main", "Certificate Trust Settings").says("main", "Install a certificate")
	}
	h.fetch(c, h.secure+"/trust").document().says("main", "This page came over HTTPS")
}

// TestTrustPageOfAnotherName leads to the host that the browser knows the farm
// by, since cookies stay with a host.
func TestTrustPageOfAnotherName(t *testing.T) {
	t.Parallel()
	h := newSecureHouse(t)
	port := h.secure[strings.LastIndex(h.secure, ":"):]
	for host, want := range map[string]string{"localhost": "localhost", "192.168.1.20:8080": "192.168.1.20", "[::1]:8080": "[::1]", "": "127.0.0.1"} {
		r := h.request("GET", "/trust", "")
		if host != "" {
			r.Host = host
		}
		h.send(r).want(http.StatusOK).document().has(1, "a[href='https://"+want+port+"/']")
	}
}

func TestTrustWithoutHTTPS(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	p := b.open("/trust").ok().says("main", "This farm has no HTTPS yet")
	p.has(0, "a[href='/ca.crt']").has(0, ".secret")
	none := b.open("/ca.crt")
	none.want(http.StatusNotFound)
	none.says("main", "-tls local")
	b.open("/settings").ok().has(1, "a[href='/trust']")
	b.open("/pair").ok().has(1, "a[href='/trust']")
	b.fill(b.open("/pair"), "main form").ok().has(0, "input[name=over]")
}

// TestPairingOverHTTPS: the symbol leads over HTTPS where that is asked for, to
// the host that the labels have.
func TestPairingOverHTTPS(t *testing.T) {
	t.Parallel()
	h := newSecureHouse(t)
	h.ana()
	c := h.client()
	h.signIn(c, h.secure)
	port := h.secure[strings.LastIndex(h.secure, ":"):]
	plain := h.fetch(c, h.secure+"/pair", "person", "1").want(http.StatusOK).document()
	checkMarkup(t, plain)
	plain.says(".secret", "http://").has(1, "input[name=over][value=https]").has(1, "main form:has(input[name=over]) input[name=person][value='1']")
	over := h.fetch(c, h.secure+"/pair", "over", "https", "person", "1").want(http.StatusOK).document()
	checkMarkup(t, over)
	over.says(".secret", "https://192.168.1.20"+port+"/P/").has(0, "input[name=over]").has(1, "figure.qr svg path")
	_, path, _ := strings.Cut(over.Find(".secret").Text(), port)
	h.fetch(h.client(), h.secure+path, "device", "bench phone").want(http.StatusSeeOther)
	h.setPublic("http://shed.local:8080")
	h.fetch(c, h.secure+"/pair", "over", "https", "person", "1").document().says(".secret", "https://SHED.LOCAL"+port+"/P/")
	h.setPublic("http://shed:8080") // no certificate bears a name of one part
	h.fetch(c, h.secure+"/pair", "over", "https", "person", "1").document().says(".secret", "https://192.168.1.20"+port+"/P/")
}

// TestBrowserTrustsTheFarm has a real browser with the authority among those
// that its user trusts open the farm: without a warning, and so that it may use
// the camera. Another farm's authority, and a name that the farm's own may not
// sign for, it refuses.
func TestBrowserTrustsTheFarm(t *testing.T) {
	t.Parallel()
	chromium, certutil := findChromium(t), needProgram(t, "certutil")
	plain := newHouse(t)
	plain.clock.now = time.Now() // the browser has no other
	h := plain.secured(filepath.Join(t.TempDir(), "tls"))
	h.ana()
	home := t.TempDir()
	trust(t, certutil, home, filepath.Join(h.folder, authorityFile))
	ctx := newDesk(t, chromium, home)

	const title = `document.title.split(" · ")[0]`
	see := func(what, address, script, want string) {
		t.Helper()
		err := chromedp.Do(ctx, chromedp.Navigate(address))
		got := ""
		if err == nil {
			got, err = chromedp.Run(ctx, chromedp.Evaluate[string](script, chromedp.EvalAwaitPromise))
		}
		if err != nil || got != want {
			t.Errorf("%s, at %s: %q, want %q, %v", what, address, got, want, err)
		}
	}
	see("a page that may use the camera", h.secure+"/trust", `String([isSecureContext, "mediaDevices" in navigator, "serviceWorker" in navigator])`, "true,true,true")
	see("the farm by its name", strings.Replace(h.secure, "127.0.0.1", "localhost", 1)+"/trust", title, "Trust this farm")
	see("signing in", h.secure+"/sign-in", `fetch("/sign-in", { method: "POST", body: new URLSearchParams({ name: "Ana", passphrase: "beech sawdust and bran" }) }).then((r) => r.url)`, h.secure+"/")
	see("signed in over HTTPS", h.secure+"/settings", title, "Settings")
	see("signed in over plain HTTP", h.plain+"/bench", title, "Bench")
	see("a grower at most over plain HTTP", h.plain+"/settings", title, "Not done")
	for refusal, certificate := range map[string]tls.Certificate{
		"ERR_CERT_AUTHORITY_INVALID": newTestAuthority(t).signFor(t, "127.0.0.1"),
		"ERR_CERT_INVALID":           h.server.secure.opened().signFor(t, "127.0.0.1", "www.bank.example"),
	} {
		web := httptest.NewUnstartedServer(http.NotFoundHandler())
		web.TLS = &tls.Config{Certificates: []tls.Certificate{certificate}}
		web.Config.ErrorLog = h.server.newHTTP().ErrorLog
		web.StartTLS()
		defer web.Close()
		if err := chromedp.Do(ctx, chromedp.Navigate(web.URL)); err == nil || !strings.Contains(err.Error(), refusal) {
			t.Errorf("want %s: %v", refusal, err)
		}
	}
}

// newDesk is a browser of a person whose home this is.
func newDesk(t *testing.T, chromium, home string) context.Context {
	t.Helper()
	options := []chromedp.ExecAllocatorOption{chromedp.ExecPath(chromium), chromedp.UserDataDir(t.TempDir()), chromedp.NoSandbox, chromedp.Flag("headless", "new"), chromedp.Env("HOME=" + home)}
	for _, flag := range []string{"disable-gpu", "disable-dev-shm-usage", "no-first-run", "disable-background-networking", "disable-component-update", "disable-sync"} {
		options = append(options, chromedp.Flag(flag, true))
	}
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, end := chromedp.NewContext(allocator)
	t.Cleanup(end)
	return ctx
}

// trust puts an authority among those that the programs of a home trust.
func trust(t *testing.T, certutil, home, authority string) {
	t.Helper()
	store := filepath.Join(home, ".pki", "nssdb")
	if err := os.MkdirAll(store, 0o700); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"-N", "--empty-password"}, {"-A", "-t", "C,,", "-n", "the farm", "-i", authority}} {
		if out, err := exec.CommandContext(t.Context(), certutil, append([]string{"-d", "sql:" + store}, args...)...).CombinedOutput(); err != nil {
			t.Fatalf("certutil %v: %v: %s", args, err, out)
		}
	}
}
