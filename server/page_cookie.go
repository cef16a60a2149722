package server

import (
	"net/http"
	"strings"
	"time"

	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

// What a browser remembers for pages, beside its sign-in. None of it is a
// secret and none of it decides what may be done.
const (
	cookieTheme   = "bm_theme"   // light or dark; none: the phone's own setting
	cookieHand    = "bm_hand"    // left: buttons at the side are at the left
	cookieGloves  = "bm_gloves"  // the code of the mouldy bag just handled
	cookieCaution = "bm_caution" // the caution about mouldy bags was shown in full
	cookieSheet   = "bm_sheet"   // the sheet last printed on
)

func cookieValue(c echo.Context, name string) string {
	k, err := c.Cookie(name)
	if err != nil {
		return ""
	}
	return k.Value
}

// remember keeps a value for so long; "" forgets it.
func remember(c echo.Context, name, value string, d time.Duration) {
	k := &http.Cookie{Name: name, Value: value, Path: "/", MaxAge: int(d.Seconds()), SameSite: http.SameSiteLaxMode}
	if value == "" {
		k.MaxAge = -1
	}
	c.SetCookie(k)
}

const (
	aYear = 365 * 24 * time.Hour
	aHand = 4 * time.Hour // how long the question about gloves waits for the next bag
)

// noteMould remembers that this device has just handled a mouldy bag, so that
// the next bag's page asks about gloves, and that its caution has been seen.
func noteMould(c echo.Context, e grow.Entry) {
	switch {
	case e.Kind == grow.KindContaminated:
		remember(c, cookieGloves, string(e.Bag), aHand)
	case e.Kind == grow.KindCull, e.Kind == grow.KindIsolate, e.Kind == grow.KindAgain:
		if cookieValue(c, cookieGloves) == string(e.Bag) {
			remember(c, cookieCaution, "seen", aYear)
		}
	}
}

func (s *Server) postGloves(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	remember(c, cookieGloves, "", 0)
	return c.Redirect(http.StatusSeeOther, localPath(v.Get("next"), "/"))
}

func (s *Server) postTheme(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	if v.Has("hand") {
		remember(c, cookieHand, onlyIf(v.Get("hand") == "left", "left"), aYear)
		return c.Redirect(http.StatusSeeOther, localPath(v.Get("next"), "/"))
	}
	theme := v.Get("theme")
	if theme != "light" && theme != "dark" {
		theme = ""
	}
	remember(c, cookieTheme, theme, aYear)
	return c.Redirect(http.StatusSeeOther, localPath(v.Get("next"), "/"))
}

// localPath is a path of this site, or else: never an address that somebody
// else could have put into a link. Browsers read a backslash as a slash and
// drop control characters.
func localPath(path, otherwise string) string {
	if !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "//") || strings.ContainsFunc(path, func(r rune) bool { return r == '\\' || r < ' ' || r == 0x7f }) {
		return otherwise
	}
	return path
}
