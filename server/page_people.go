package server

import (
	"net/http"
	"net/url"
	"strconv"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// peoplePage lists who works here and which phones, computers and programs can
// get in; each can be ended at once.
type peoplePage struct {
	frame
	People  []store.Person
	Devices []store.Device
	Form    form
	Token   string // just made, shown once
}

// Roles are offered with what they may do.
func (p peoplePage) Roles() []choice {
	return []choice{{"grower", "grower: makes batches and logs"}, {"viewer", "viewer: looks"}, {"owner", "owner: everything"}}
}

// TokenRoles are the same for programs.
func (p peoplePage) TokenRoles() []choice {
	return []choice{{"sensor", "sensor: posts readings only"}, {"viewer", "viewer: reads and exports"}, {"grower", "grower: also writes"}, {"owner", "owner: everything"}}
}

func (s *Server) showPeople(c echo.Context) error {
	return s.drawPeople(c, http.StatusOK, formOf("role", "grower"), "")
}

func (s *Server) drawPeople(c echo.Context, status int, form form, token string) error {
	f, _, err := s.frame(c, "People and phones")
	if err != nil {
		return err
	}
	ctx, who := c.Request().Context(), actorOf(c)
	p := peoplePage{frame: f, Form: form, Token: token}
	if p.People, err = s.store.People(ctx); err != nil {
		return err
	}
	devices, err := s.store.Devices(ctx)
	if err != nil {
		return err
	}
	for _, d := range devices {
		if f.May("owner") || d.PersonID == who.PersonID && who.PersonID != 0 {
			p.Devices = append(p.Devices, d)
		}
	}
	return s.show(c, status, "people", p)
}

// postPeople runs one change of the people's page and shows the page again.
func (s *Server) postPeople(c echo.Context, change func(url.Values) (token string, err error)) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	token, err := change(v)
	if err == nil && token == "" {
		return c.Redirect(http.StatusSeeOther, localPath(v.Get("next"), "/people"))
	}
	if err == nil {
		return s.drawPeople(c, http.StatusOK, formOf("role", "grower"), token)
	}
	for _, secret := range []string{"passphrase", "old", "new"} {
		v.Del(secret)
	}
	f, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	return s.drawPeople(c, statusOf(grow.KindOf(err)), f, "")
}

func (s *Server) postPerson(c echo.Context) error {
	return s.postPeople(c, func(v url.Values) (string, error) {
		_, err := s.store.AddPerson(c.Request().Context(), actorOf(c), typed(v, "name"), store.Role(v.Get("role")), v.Get("passphrase"))
		return "", err
	})
}

func (s *Server) postEndPerson(c echo.Context) error {
	return s.postPeople(c, func(v url.Values) (string, error) {
		return "", s.store.EndPerson(c.Request().Context(), actorOf(c), idField(v, "person"))
	})
}

func (s *Server) postPassphrase(c echo.Context) error {
	return s.postPeople(c, func(v url.Values) (string, error) {
		who := actorOf(c)
		return "", s.store.ChangePassphrase(c.Request().Context(), who, who.PersonID, v.Get("old"), v.Get("new"))
	})
}

func (s *Server) postToken(c echo.Context) error {
	return s.postPeople(c, func(v url.Values) (string, error) {
		return s.store.NewToken(c.Request().Context(), typed(v, "token_name"), store.Role(v.Get("token_role")))
	})
}

func (s *Server) postRevoke(c echo.Context) error {
	return s.postPeople(c, func(v url.Values) (string, error) {
		return "", s.store.RevokeDevice(c.Request().Context(), actorOf(c), idField(v, "device"))
	})
}

// idField is a number that a page put into its own form.
func idField(v url.Values, name string) int64 {
	id, err := strconv.ParseInt(v.Get(name), 10, 64)
	if err != nil {
		return 0
	}
	return id
}
