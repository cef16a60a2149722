package server

import (
	"net/http"
	"net/url"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// oldBagsPage takes bags that were on the racks before the farm began to keep
// records: a backdated batch, whose labels may come later.
type oldBagsPage struct {
	frame
	Form    form
	Species []choice
	Used    store.UsedNames
}

func (s *Server) showOldBags(c echo.Context) error {
	v := url.Values{}
	if err := setNewID(v, "id"); err != nil {
		return err
	}
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return err
	}
	v.Set("labels_later", (grow.DateOf(s.store.Now(), farm.Zone) + 7).String())
	return s.drawOldBags(c, http.StatusOK, newForm(v))
}

func (s *Server) drawOldBags(c echo.Context, status int, form form) error {
	f, farm, err := s.frame(c, "Bags on the racks")
	if err != nil {
		return err
	}
	p := oldBagsPage{frame: f, Form: form, Species: speciesChoices(farm)}
	if p.Used, err = s.store.Used(c.Request().Context()); err != nil {
		return err
	}
	return s.show(c, status, "old-bags", p)
}

func (s *Server) postOldBags(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	var p grow.Problems
	d := grow.BatchDraft{BatchFields: parseBatchFields(v, farm, &p), Bags: countField(v, "bags", &p)}
	if made := dateField(v, "made_on", &p); made != nil {
		if *made > grow.DateOf(s.store.Now(), farm.Zone) {
			p.Add("made_on", "is a day to come: bags on the racks were made by today")
		}
		d.InoculatedAt = made.In(farm.Zone, 12) // nobody knows the hour any more
	} else {
		p.Add("made_on", "is missing: the day on the bag, as well as you know it")
	}
	id := grow.ID(v.Get("id"))
	d.ID = &id
	err = p.Err("these bags cannot be taken up as they are")
	var b store.Batch
	if err == nil {
		b, _, _, err = s.store.CreateBatch(ctx, actorOf(c), d)
	}
	if err == nil {
		return c.Redirect(http.StatusSeeOther, "/print?made=1&batch="+string(b.Code))
	}
	f, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	return s.drawOldBags(c, statusOf(grow.KindOf(err)), f)
}
