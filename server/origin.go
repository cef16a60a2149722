package server

import (
	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

// checkOrigin refuses a write that another site's page makes a browser send.
func (s *Server) checkOrigin(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		if err := s.origin.Check(c.Request()); err != nil {
			s.note(c, "refused: from another site")
			return &grow.Error{Kind: grow.Forbidden, Cause: err,
				Message: "this came from a page of another site, so nothing was done; open the farm's own page and do it there"}
		}
		return next(c)
	}
}
