package server

import (
	"net/http"
	"strconv"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// getWeekAhead tells what bags alive promise and, if asked, what to make. Its
// weeks start on Monday (ISO 8601), whatever the farm's pages show.
func (s *Server) getWeekAhead(c echo.Context) error {
	q := queryOf(c)
	ask := store.WeekAheadQuery{Starts: grow.FromMonday, Species: grow.Slug(q.text("species")), Week: q.date("week")}
	if text := q.text("grams"); text != "" {
		grams, err := strconv.ParseFloat(text, 64)
		if err != nil {
			q.problems.Add("grams", "must be a number")
		}
		ask.Grams = &grams
	}
	if n := q.number("load_bags", 1, grow.MostBags); n > 0 {
		ask.LoadBags = &n
	}
	if err := q.err(); err != nil {
		return err
	}
	out, err := s.store.WeekAhead(c.Request().Context(), ask)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}
