package server

import (
	"net/http"

	"bagmark/grow"

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
