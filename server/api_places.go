package server

import (
	"net/http"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// getPlaces lists the places.
func (s *Server) getPlaces(c echo.Context) error {
	places, err := s.store.Places(c.Request().Context())
	if err != nil {
		return err
	}
	for i, p := range places {
		places[i].Payload = s.payloadNow(c, grow.PlaceCode, p.Code)
	}
	return answer(c, http.StatusOK, map[string][]store.Place{"places": places})
}

// postPlace makes a place; one that is there already is given as it is.
func (s *Server) postPlace(c echo.Context) error {
	var body struct {
		Name string `json:"name"`
	}
	if err := readJSON(c, &body); err != nil {
		return err
	}
	place, created, err := s.store.CreatePlace(c.Request().Context(), actorOf(c), body.Name)
	if err != nil {
		return err
	}
	place.Payload = s.payloadNow(c, grow.PlaceCode, place.Code)
	return answer(c, createdOr(created), map[string]store.Place{"place": place})
}

// getPlace gives a place with what should stand there and what was seen otherwise.
func (s *Server) getPlace(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	w, err := s.store.Place(c.Request().Context(), code)
	if err != nil {
		return err
	}
	w.Place.Payload = s.payloadNow(c, grow.PlaceCode, w.Place.Code)
	for i, r := range w.Parts {
		w.Parts[i].Payload = s.payloadNow(c, grow.PlaceCode, r.Code)
	}
	return answer(c, http.StatusOK, w)
}

// putPlace says how many bags a place takes.
func (s *Server) putPlace(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	var body struct {
		CapacityBags *int `json:"capacity_bags"`
	}
	if err := readJSON(c, &body); err != nil {
		return err
	}
	room, err := s.store.SetCapacity(c.Request().Context(), actorOf(c), code, body.CapacityBags)
	if err != nil {
		return err
	}
	room.Payload = s.payloadNow(c, grow.PlaceCode, room.Code)
	return answer(c, http.StatusOK, map[string]store.Room{"place": room})
}

// patchPlace gives a place another name.
func (s *Server) patchPlace(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	var body struct {
		Name string `json:"name"`
	}
	if err := readJSON(c, &body); err != nil {
		return err
	}
	room, err := s.store.RenamePlace(c.Request().Context(), actorOf(c), code, body.Name)
	if err != nil {
		return err
	}
	room.Payload = s.payloadNow(c, grow.PlaceCode, room.Code)
	return answer(c, http.StatusOK, map[string]store.Room{"place": room})
}
