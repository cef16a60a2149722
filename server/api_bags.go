package server

import (
	"net/http"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// getBag gives a bag with its log.
func (s *Server) getBag(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	bag, err := s.store.Bag(c.Request().Context(), code)
	if err != nil {
		return err
	}
	if err := s.addPayload(c, &bag); err != nil {
		return err
	}
	return answer(c, http.StatusOK, bag)
}

// addPayload fills in what the bag's symbol says.
func (s *Server) addPayload(c echo.Context, bag *store.Bag) error {
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return err
	}
	bag.Payload = s.address(farm).Payload(grow.BagCode, bag.Code)
	return nil
}

// getTrace tells what a bag went through and which others went through the same.
func (s *Server) getTrace(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	trace, err := s.store.Trace(c.Request().Context(), code)
	if err != nil {
		return err
	}
	trace.Bag.Payload = s.payloadNow(c, grow.BagCode, trace.Bag.Code)
	return answer(c, http.StatusOK, trace)
}

// getDue lists the bags that are due for something.
func (s *Server) getDue(c echo.Context) error {
	q := queryOf(c)
	after, limit := q.text("after"), q.limit()
	if err := q.err(); err != nil {
		return err
	}
	page, err := s.store.Due(c.Request().Context(), after, limit)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}
