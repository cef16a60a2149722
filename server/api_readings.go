package server

import (
	"net/http"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// readingsBody is what a sensor posts.
type readingsBody struct {
	Place    string            `json:"place"`
	Readings []grow.AirReading `json:"readings"`
	SentAt   *time.Time        `json:"sent_at,omitempty"`
}

// postReadings keeps what is good of what a sensor sends; the same again is known
// and changes nothing.
func (s *Server) postReadings(c echo.Context) error {
	var body readingsBody
	if err := readJSON(c, &body); err != nil {
		return err
	}
	kept, err := s.store.AddReadings(c.Request().Context(), actorOf(c), body.Place, body.Readings, body.SentAt, store.FromSensor)
	if err != nil {
		return err
	}
	kept.Place.Payload = s.payloadNow(c, grow.PlaceCode, kept.Place.Code)
	return answer(c, createdOr(kept.Stored > 0), kept)
}

// getReadings lists readings of one place, oldest first.
func (s *Server) getReadings(c echo.Context) error {
	q := queryOf(c)
	pick := store.ReadingQuery{Place: q.text("place"), From: q.instant("from"), To: q.instant("to"), After: q.text("after"), Limit: q.limit()}
	if pick.Place == "" {
		q.problems.Add("place", "is missing: a code or a name")
	}
	if err := q.err(); err != nil {
		return err
	}
	page, err := s.store.Readings(c.Request().Context(), pick)
	if err != nil {
		return err
	}
	page.Place.Payload = s.payloadNow(c, grow.PlaceCode, page.Place.Code)
	return answer(c, http.StatusOK, page)
}

// roomLog is a room's log as an answer.
type roomLog struct {
	Log []store.RoomEntry `json:"log"`
}

func (s *Server) getRoomLog(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	list, err := s.store.RoomLog(c.Request().Context(), code)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, roomLog{list})
}

// postRoomLine keeps a line of a room's log; the same line again is answered as
// it was kept.
func (s *Server) postRoomLine(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	var line grow.RoomLine
	if err := readJSON(c, &line); err != nil {
		return err
	}
	entry, created, err := s.store.AddRoomLine(c.Request().Context(), actorOf(c), code, line)
	if err != nil {
		return err
	}
	return answer(c, createdOr(created), map[string]store.RoomEntry{"line": entry})
}

func (s *Server) postRoomTakeBack(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	entry, err := s.store.TakeBackRoomLine(c.Request().Context(), actorOf(c), code, grow.ID(lowerID(c.Param("line"))))
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string]store.RoomEntry{"line": entry})
}

// placeAnswer is a place, how large it is and how its bags stand.
type placeAnswer struct {
	Place store.Place `json:"place"`
	store.PlaceFacts
}

// putPlaceFacts says how large a room is and how its bags stand; what the body
// leaves out stays.
func (s *Server) putPlaceFacts(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	raw, err := jsonBodyOf(c)
	if err != nil {
		return err
	}
	place, facts, err := s.store.PutPlaceFacts(c.Request().Context(), actorOf(c), code, func(f *store.PlaceFacts) error { return decodeJSON(raw, f) })
	if err != nil {
		return err
	}
	place.Payload = s.payloadNow(c, grow.PlaceCode, place.Code)
	return answer(c, http.StatusOK, placeAnswer{place, facts})
}
