package server

import (
	"net/http"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// getSold lists what was sold and given away.
func (s *Server) getSold(c echo.Context) error {
	q := queryOf(c)
	filter := store.SoldFilter{From: q.date("from"), To: q.date("to"), After: q.text("after"), Limit: q.limit()}
	if err := q.err(); err != nil {
		return err
	}
	page, err := s.store.Sold(c.Request().Context(), filter)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}

// getBatchRecall lists where the bags of a batch are now.
func (s *Server) getBatchRecall(c echo.Context) error {
	code, err := param(c, "batch")
	if err != nil {
		return err
	}
	recall, err := s.store.RecallBatch(c.Request().Context(), grow.BatchCode(strings.ToUpper(code)))
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, recall)
}
