package server

import (
	"net/http"

	"github.com/labstack/echo/v4"
)

// postPhoto keeps a photo; the same bytes again give the same photo.
func (s *Server) postPhoto(c echo.Context) error {
	data, err := pictureBytes(c)
	if err != nil {
		return err
	}
	id, created, err := s.keepPhoto(c.Request().Context(), actorOf(c), data)
	if err != nil {
		return err
	}
	return answer(c, createdOr(created), map[string]string{"photo": id})
}

// getPhoto gives a photo, or a small version of it. A photo never changes.
func (s *Server) getPhoto(c echo.Context) error {
	id, err := param(c, "photo")
	if err != nil {
		return err
	}
	q := queryOf(c)
	size := q.text("size")
	if size != "" && size != "thumb" {
		q.problems.Add("size", "can only be thumb")
	}
	if err := q.err(); err != nil {
		return err
	}
	data, err := s.store.Photo(c.Request().Context(), id, size == "thumb")
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "private, max-age=31536000, immutable")
	return c.Blob(http.StatusOK, "image/jpeg", data)
}
