package server

import (
	"net/http"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// signInPage asks for a name and a passphrase, then leads where somebody wanted
// to go.
type signInPage struct {
	frame
	Form form
	Next string
}

func (s *Server) showSignIn(c echo.Context) error {
	next := localPath(c.QueryParam("next"), "/")
	if _, ok := s.visitor(c); ok {
		return c.Redirect(http.StatusSeeOther, next)
	}
	f, farm, err := s.frame(c, "Sign in")
	if err != nil {
		return err
	}
	if !farm.SetUp {
		return c.Redirect(http.StatusSeeOther, "/set-up")
	}
	return s.show(c, http.StatusOK, "sign-in", signInPage{frame: f, Next: next})
}

func (s *Server) postSignIn(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	name, next := typed(v, "name"), localPath(v.Get("next"), "/")
	if err = s.limits.signIn(strings.ToLower(name), c.RealIP()); err == nil {
		var session store.Session
		_, over := cookieOf(c.Request())
		if session, err = s.store.SignIn(c.Request().Context(), name, v.Get("passphrase"), deviceName(c, v), over, s.most(c.Request())); err == nil {
			if err := s.keepSignedIn(c, session); err != nil {
				return err
			}
			return c.Redirect(http.StatusSeeOther, next)
		}
	}
	v.Del("passphrase")
	form, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	f, _, err2 := s.frame(c, "Sign in")
	if err2 != nil {
		return err2
	}
	return s.show(c, statusOf(grow.KindOf(err)), "sign-in", signInPage{frame: f, Form: form, Next: next})
}

func (s *Server) postSignOut(c echo.Context) error {
	if err := s.store.SignOut(c.Request().Context(), actorOf(c)); err != nil {
		return err
	}
	dropCookies(c)
	return c.Redirect(http.StatusSeeOther, "/sign-in")
}
