package server

import (
	"net/http"
	"strings"

	"bagmark/grow"
	"bagmark/grow/yield"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// yieldQuery reads what is asked and of which bags.
func (q *query) yieldQuery() store.YieldQuery {
	return store.YieldQuery{By: q.text("by"), Measure: yield.Measure(q.text("measure")), Species: grow.Slug(q.text("species")),
		Batch: grow.BatchCode(strings.ToUpper(q.text("batch"))), From: q.date("from"), To: q.date("to")}
}

// getYield tells what bags gave.
func (s *Server) getYield(c echo.Context) error {
	q := queryOf(c)
	ask := q.yieldQuery()
	if ask.Measure == yield.Ounces { // of pages alone
		q.problems.Add("measure", "must be %s or %s", yield.Grams, yield.Efficiency)
	}
	if err := q.err(); err != nil {
		return err
	}
	out, err := s.store.Yield(c.Request().Context(), ask)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}
