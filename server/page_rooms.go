package server

import (
	"math"
	"net/http"
	"slices"
	"strings"

	"bagmark/grow"
	"bagmark/grow/climate"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// roomsPage lists the farm's rooms with how warm they are and what they suit.
type roomsPage struct {
	frame
	Rooms []roomLine
}

// roomLine is a room with its racks and shelves. A room that nobody made a label
// for has no code.
type roomLine struct {
	store.Room
	Now, Words string
	Within     []store.Room
}

// Inner is what a rack or shelf is called inside the room.
func (l roomLine) Inner(r store.Room) string {
	return r.Name[len(l.Name)+len(grow.PlaceSeparator):]
}

// roomLines puts racks and shelves under their rooms, in the order of names.
func roomLines(places []store.Room) (out []roomLine) {
	at := map[string]int{}
	for _, r := range places {
		name, _, inside := strings.Cut(r.Name, grow.PlaceSeparator)
		key := strings.ToLower(name)
		i, known := at[key]
		if !known {
			i, at[key] = len(out), len(out)
			out = append(out, roomLine{Room: store.Room{Place: store.Place{Name: name}}})
		}
		switch line := &out[i]; {
		case !inside:
			line.Room = r
		default:
			line.Within = append(line.Within, r)
			if line.Code == "" && !line.has(r) {
				line.Bags += r.Bags
			}
		}
	}
	return out
}

// has tells whether a place stands inside another of the room, which counts its
// bags as well.
func (l roomLine) has(r store.Room) bool {
	return slices.ContainsFunc(l.Within, func(o store.Room) bool { return grow.PlaceInside(r.Name, o.Name) })
}

func (s *Server) showRooms(c echo.Context) error {
	f, _, err := s.frame(c, "Rooms")
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	rooms, err := s.store.Rooms(ctx)
	if err != nil {
		return err
	}
	p := roomsPage{frame: f}
	for _, line := range roomLines(rooms) {
		if line.Code != "" {
			air, err := s.store.Climate(ctx, store.ClimateQuery{Place: line.Code, Days: 7})
			if err != nil {
				return err
			}
			if !math.IsNaN(air.LastDay) {
				line.Now = f.U.TempWords(air.LastDay)
			}
			if guests := air.Guests(); len(guests) > 0 {
				line.Words = climate.SuitWords(air.One, guests, f.U)
			}
		}
		p.Rooms = append(p.Rooms, line)
	}
	return s.show(c, http.StatusOK, "rooms", p)
}
