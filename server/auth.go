package server

import (
	"net/http"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// The cookies that keep a browser signed in. A browser sends cookies of one
// host to all its ports and schemes, so HTTP and HTTPS have one each; the prefix
// __Host- makes browsers insist on Secure, the whole path and no domain (RFC
// 6265bis).
const (
	cookieHTTP  = "bm_s"
	cookieHTTPS = "__Host-bm_s"
)

const actorKey = "bagmark.actor"

// actorOf is who makes the request; nobody on a route for anyone.
func actorOf(c echo.Context) store.Actor {
	a, _ := c.Get(actorKey).(store.Actor)
	return a
}

// admit lets a request through that has the rights of the least role.
func (s *Server) admit(c echo.Context, least store.Role) error {
	if least == anyone {
		return nil
	}
	who, err := s.identify(c)
	if err != nil {
		return err
	}
	c.Set(actorKey, who)
	if !who.Role.May(least) {
		if most := s.most(c.Request()); !most.May(least) && who.Role == most {
			return grow.Errorf(grow.Forbidden, "this takes the rights of an %s, and over plain HTTP nobody has more than a %s's; an %s does it over HTTPS%s", least, most, least, s.secureHint(c))
		}
		return grow.Errorf(grow.Forbidden, "%s may not do this: it takes the rights of %s, and these are %s's", who.Person, withArticle(least), withArticle(who.Role))
	}
	return nil
}

// withArticle is a role as it stands in a sentence.
func withArticle(r store.Role) string {
	if r == store.Owner {
		return "an owner"
	}
	return "a " + string(r)
}

// visitor is who makes a request on a route for anyone, false if nobody is
// signed in.
func (s *Server) visitor(c echo.Context) (store.Actor, bool) {
	who, err := s.identify(c)
	if err != nil {
		return store.Actor{}, false
	}
	c.Set(actorKey, who)
	return who, true
}

// identify finds out who makes the request: by its token if it has an
// Authorization header, else by its cookie.
func (s *Server) identify(c echo.Context) (store.Actor, error) {
	r := c.Request()
	if header := r.Header.Values(echo.HeaderAuthorization); len(header) > 0 {
		token, ok := bearer(header)
		if !ok {
			return store.Actor{}, grow.Errorf(grow.Unauthorized, "the Authorization header must be Bearer and a token; the token command prints one")
		}
		return s.store.Who(r.Context(), token, store.OverToken)
	}
	name, over := cookieOf(r)
	cookie, err := r.Cookie(name)
	if err != nil || isAPI(c) && !sameOrigin(r) {
		if isAPI(c) {
			return store.Actor{}, grow.Errorf(grow.Unauthorized, "send a token in the Authorization header; the token command prints one")
		}
		return store.Actor{}, grow.Errorf(grow.Unauthorized, "sign in first")
	}
	who, err := s.store.Who(r.Context(), cookie.Value, over)
	if most := s.most(r); who.Role.May(most) {
		who.Role = most // also of a sign-in that is older than the farm's HTTPS
	}
	return who, err
}

// bearer takes the token out of the one Authorization header. The token is
// compared exactly, so nothing is trimmed off it.
func bearer(header []string) (string, bool) {
	scheme, token, ok := strings.Cut(header[0], " ")
	return token, ok && len(header) == 1 && token != "" && strings.EqualFold(scheme, "Bearer")
}

// sameOrigin tells whether a page of the farm's own sent a request, as far as
// the browser says.
func sameOrigin(r *http.Request) bool {
	site := r.Header.Get("Sec-Fetch-Site")
	return site == "" || site == "same-origin" || site == "none"
}

// cookieOf is the cookie that belongs to the connection a request came over.
func cookieOf(r *http.Request) (name string, over store.Over) {
	if r.TLS != nil {
		return cookieHTTPS, store.OverHTTPS
	}
	return cookieHTTP, store.OverHTTP
}

// keepSignedIn gives the browser the cookie of a new session. Over HTTPS it
// gets the one for HTTP too, so that one device is signed in both ways; what
// travels in the clear has at most the rights of a grower.
func (s *Server) keepSignedIn(c echo.Context, session store.Session) error {
	if c.Request().TLS == nil {
		c.SetCookie(sessionCookie(cookieHTTP, session, false))
		return nil
	}
	c.SetCookie(sessionCookie(cookieHTTPS, session, true))
	plain, err := s.store.SecondSecret(c.Request().Context(), session.Actor, store.OverHTTP, store.Grower)
	if err != nil {
		return err
	}
	c.SetCookie(sessionCookie(cookieHTTP, plain, false))
	return nil
}

// sessionCookie is Lax: a phone's camera app opens a bag's page from outside,
// and must be signed in there at once.
func sessionCookie(name string, session store.Session, secure bool) *http.Cookie {
	return &http.Cookie{Name: name, Value: session.Secret, Path: "/", Expires: session.ExpiresAt, HttpOnly: true, Secure: secure, SameSite: http.SameSiteLaxMode}
}

// dropCookies makes the browser forget both.
func dropCookies(c echo.Context) {
	c.SetCookie(&http.Cookie{Name: cookieHTTP, Path: "/", MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteLaxMode})
	if c.Request().TLS != nil {
		c.SetCookie(&http.Cookie{Name: cookieHTTPS, Path: "/", MaxAge: -1, HttpOnly: true, Secure: true, SameSite: http.SameSiteLaxMode})
	}
}
