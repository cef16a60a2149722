package server

import (
	"net/http"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// getToFruiting lists what is ready for fruiting, what is on hold, and the room
// there is.
func (s *Server) getToFruiting(c echo.Context) error {
	list, err := s.store.ToFruiting(c.Request().Context())
	if err != nil {
		return err
	}
	for i, r := range list.Rooms {
		list.Rooms[i].Payload = s.payloadNow(c, grow.PlaceCode, r.Code)
	}
	return answer(c, http.StatusOK, list)
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
