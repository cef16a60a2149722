package server

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// ana sets the farm up and gives its owner's session over HTTP.
func (h *house) ana() store.Session {
	h.t.Helper()
	in, err := h.store.SetUp(h.t.Context(), store.FirstRun{
		Settings:  store.Settings{Name: "Hill farm", TimeZone: "Europe/Lisbon", Margin: 0.05, FirstLookDay: 7, Units: "metric"},
		OwnerName: "Ana", Passphrase: "beech sawdust and bran", DeviceName: "office laptop", Over: store.OverHTTP,
	})
	if err != nil {
		h.t.Fatal(err)
	}
	return in
}

// signedIn makes a request with a cookie instead of a token.
func (h *house) signedIn(in store.Session, method, path, body string) *http.Request {
	r := h.request(method, path, body)
	r.Header.Del("Authorization")
	r.AddCookie(&http.Cookie{Name: cookieHTTP, Value: in.Secret})
	return r
}

// TestCookiesOfTheFarmsOwnPages: the API takes them from the same origin only.
func TestCookiesOfTheFarmsOwnPages(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	in := h.ana()
	for _, test := range []struct {
		name, method, site, origin string
		status                     int
	}{
		{"own page reads", "GET", "same-origin", "", 200},
		{"typed address", "GET", "none", "", 200},
		{"browser that says nothing", "GET", "", "", 200},
		{"another site reads", "GET", "cross-site", "", 401},
		{"another port reads", "GET", "same-site", "", 401},
		{"own page writes", "POST", "same-origin", h.web.URL, 201},
		{"own page writes over plain HTTP", "POST", "", h.web.URL, 201},
		{"another site writes", "POST", "cross-site", "http://evil.example", 403},
		{"another port writes", "POST", "same-site", "http://127.0.0.1:1", 403},
		{"old browser on another site", "POST", "", "http://evil.example", 403},
		{"sandboxed page", "POST", "", "null", 403},
	} {
		t.Run(test.name, func(t *testing.T) {
			path, body := "/api/v1/settings", ""
			if test.method == "POST" {
				path, body = "/api/v1/blanks", `{"count":1}`
			}
			r := h.signedIn(in, test.method, path, body)
			for name, value := range map[string]string{"Sec-Fetch-Site": test.site, "Origin": test.origin} {
				if value != "" {
					r.Header.Set(name, value)
				}
			}
			got := h.send(r)
			if test.status >= 400 {
				got.refused(test.status, map[int]string{401: "unauthorized", 403: "forbidden"}[test.status])
			}
			got.want(test.status)
		})
	}
}

func TestCookiesThatDoNotCount(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	in := h.ana()
	for name, cookie := range map[string]http.Cookie{
		"garbled":                {Name: cookieHTTP, Value: in.Secret + "x"},
		"under the other name":   {Name: cookieHTTPS, Value: in.Secret},
		"a token as a cookie":    {Name: cookieHTTP, Value: h.tokens[store.Owner]},
		"in another letter case": {Name: cookieHTTP, Value: strings.ToLower(in.Secret)},
	} {
		t.Run(name, func(t *testing.T) {
			r := h.request("GET", "/api/v1/settings", "")
			r.Header.Del("Authorization")
			r.AddCookie(&cookie)
			h.send(r).refused(401, "unauthorized")
		})
	}
	r := h.request("GET", "/api/v1/settings", "")
	r.Header.Set("Authorization", "Bearer "+in.Secret)
	h.send(r).refused(401, "unauthorized") // a cookie's secret is no token
	r = h.signedIn(in, "GET", "/api/v1/settings", "")
	r.Header.Set("Authorization", "Bearer nonsense")
	h.send(r).refused(401, "unauthorized") // a wrong token is not made good by a cookie
	if err := h.store.SignOut(t.Context(), in.Actor); err != nil {
		t.Fatal(err)
	}
	h.send(h.signedIn(in, "GET", "/api/v1/settings", "")).refused(401, "unauthorized")
}

// TestSessionCookies: HttpOnly, SameSite and the prefix __Host- by RFC 6265bis.
func TestSessionCookies(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	in := h.ana()
	h.server.echo.GET("/sign-in-now", h.server.serve(route{http.MethodGet, "/sign-in-now", anyone, noBody, func(c echo.Context) error {
		if err := h.server.keepSignedIn(c, in); err != nil {
			return err
		}
		return c.NoContent(http.StatusNoContent)
	}}))
	plain := cookiesOf(h.get("/sign-in-now").want(204).header)
	if len(plain) != 1 || plain[cookieHTTP] == nil || plain[cookieHTTP].Secure {
		t.Errorf("over HTTP: %v", plain)
	}
	web := httptest.NewTLSServer(h.server.Handler())
	defer web.Close()
	answer, err := web.Client().Get(web.URL + "/sign-in-now")
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	both := cookiesOf(answer.Header)
	if len(both) != 2 || both[cookieHTTPS] == nil || !both[cookieHTTPS].Secure || both[cookieHTTP] == nil || both[cookieHTTP].Secure {
		t.Fatalf("over HTTPS: %v", both)
	}
	for _, c := range []*http.Cookie{plain[cookieHTTP], both[cookieHTTP], both[cookieHTTPS]} {
		if !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" || c.Expires.Before(noon.Add(24*time.Hour)) {
			t.Errorf("cookie %s", c)
		}
	}
	in.Secret = both[cookieHTTP].Value
	h.send(h.signedIn(in, "POST", "/api/v1/blanks", `{"count":1}`)).want(201)
	h.send(h.signedIn(in, "PUT", "/api/v1/settings", `{"margin":0.1}`)).refused(403, "forbidden") // in the clear at most a grower's rights
	if h.get("/api/v1/settings").header.Get("Strict-Transport-Security") != "" {
		t.Error("Strict-Transport-Security would lock plain HTTP out")
	}
}

func cookiesOf(h http.Header) map[string]*http.Cookie {
	out := map[string]*http.Cookie{}
	for _, c := range (&http.Response{Header: h}).Cookies() {
		out[c.Name] = c
	}
	return out
}

func TestPagesAskToSignIn(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.server.echo.GET("/page-for-viewers", h.server.serve(route{http.MethodGet, "/page-for-viewers", store.Viewer, noBody, func(c echo.Context) error {
		return c.String(http.StatusOK, actorOf(c).Person)
	}}))
	h.server.echo.GET("/page-for-anyone", h.server.serve(route{http.MethodGet, "/page-for-anyone", anyone, noBody, func(c echo.Context) error {
		who, ok := h.server.visitor(c)
		if !ok {
			who.Person = "nobody"
		}
		return c.String(http.StatusOK, who.Person)
	}}))
	in := h.ana()
	if got := h.send(h.signedIn(in, "GET", "/page-for-viewers", "")).want(200); string(got.body) != "Ana" {
		t.Errorf("signed in as %s", got.body)
	}
	if got := h.send(h.signedIn(in, "GET", "/page-for-anyone", "")).want(200); string(got.body) != "Ana" {
		t.Errorf("signed in as %s", got.body)
	}
	r := h.request("GET", "/page-for-anyone", "")
	r.Header.Del("Authorization")
	if got := h.send(r).want(200); string(got.body) != "nobody" {
		t.Errorf("not signed in, and taken for %s", got.body)
	}
	r = h.request("GET", "/page-for-viewers", "")
	r.Header.Del("Authorization")
	if got := h.send(r); got.status == 200 {
		t.Errorf("not signed in, and shown %s", got.body)
	}
}

// TestLabelPathsInAnyLetterCase: a camera app may fold a path either way.
func TestLabelPathsInAnyLetterCase(t *testing.T) {
	t.Parallel()
	for path, want := range map[string]string{
		"/b/7k3m9qxr": "/B/7k3m9qxr", "/B/7K3M9QXR": "/B/7K3M9QXR", "/s/x": "/S/x", "/p/secret": "/P/secret", "/": "/", "": "", "/b": "/b", "/bags/x": "/bags/x", "//x": "//x", "/api/v1": "/api/v1",
	} {
		if got := upperFirstSegment(path); got != want {
			t.Errorf("%s became %s, want %s", path, got, want)
		}
	}
}

func TestNothingSecretIsLogged(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	in := h.ana()
	h.send(h.signedIn(in, "GET", "/api/v1/settings", ""))
	h.get("/api/v1/settings?token=" + h.tokens[store.Grower])
	h.get("/P/ABCDEFGHJKMNPQRSTVWXYZ2345")
	r := h.request("GET", "/api/v1/settings", "")
	r.Header.Set("X-Request-Id", "forged\tid")
	got := h.send(r)
	log := h.log.String()
	for name, secret := range map[string]string{"cookie": in.Secret, "token": h.tokens[store.Grower], "pairing secret": "ABCDEFGHJKMNPQRSTVWXYZ2345", "what a client calls its request": "forged"} {
		if strings.Contains(log, secret) {
			t.Errorf("the log has the %s", name)
		}
	}
	if id := got.header.Get("X-Request-Id"); !strings.Contains(log, id) || strings.Contains(id, "forged") {
		t.Errorf("the request's id is %q", id)
	}
	if !strings.Contains(log, `person=Ana device="office laptop"`) {
		t.Errorf("the log does not say who it was: %s", log)
	}
}

// TestTheClientsAddressIsTheConnections: headers of proxies are not believed.
func TestTheClientsAddressIsTheConnections(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	r := h.request("GET", "/api/v1/settings", "")
	for _, name := range []string{"X-Forwarded-For", "X-Real-IP", "Forwarded", "X-Forwarded-Proto"} {
		r.Header.Set(name, "203.0.113.9")
	}
	h.send(r).want(200)
	if log := h.log.String(); strings.Contains(log, "203.0.113.9") || !strings.Contains(log, "from=127.0.0.1") {
		t.Error(log)
	}
}

func TestHeadersOfEveryAnswer(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	for _, path := range []string{"/api/v1/settings", "/api/v1/nothing", "/nothing", "/healthz"} {
		got := h.get(path).header
		for name, want := range map[string]string{
			"Content-Security-Policy": "default-src 'none'", "X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin", "Permissions-Policy": "camera=(self)",
			"Cross-Origin-Opener-Policy": "same-origin", "Cache-Control": "no-store",
		} {
			if !strings.Contains(got.Get(name), want) {
				t.Errorf("%s: %s is %q", path, name, got.Get(name))
			}
		}
		if got.Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("%s: open to other sites", path)
		}
	}
}

func TestTheStateOfTheFarmDecidesTheSetUpCode(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	h.ana()
	after, err := New(Options{Store: h.store})
	if err != nil {
		t.Fatal(err)
	}
	if code := after.SetUpCode(); code != "" {
		t.Errorf("a farm that is set up has the code %s", code)
	}
	if _, err := New(Options{Store: h.store, TLS: "maybe"}); grow.KindOf(err) != grow.Invalid {
		t.Errorf("TLS maybe: %v", err)
	}
}
