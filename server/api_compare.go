package server

import (
	"net/http"
	"strings"

	"bagmark/grow"
	"bagmark/grow/trace"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// contaminationQuery reads what is asked and over which bags.
func (q *query) contaminationQuery() store.ContaminationQuery {
	ask := store.ContaminationQuery{By: q.text("by"), Species: grow.Slug(q.text("species")), Batch: grow.BatchCode(strings.ToUpper(q.text("batch"))),
		From: q.date("from"), To: q.date("to")}
	if ask.By == "" {
		q.problems.Add("by", "is missing: a condition, or strain, spawn_lot, substrate_lot, steriliser_run, recipe, operator")
	}
	return ask
}

// compareQuery is the same with the event that is waited for.
func (q *query) compareQuery() store.CompareQuery {
	ask := q.contaminationQuery()
	event := trace.Event(q.text("event"))
	if event == "" {
		q.problems.Add("event", "is missing: colonised, contaminated or started")
	}
	return store.CompareQuery{By: ask.By, Event: event, Species: ask.Species, Batch: ask.Batch, From: ask.From, To: ask.To}
}

// getContamination sets one condition against contamination.
func (s *Server) getContamination(c echo.Context) error {
	q := queryOf(c)
	ask := q.contaminationQuery()
	if err := q.err(); err != nil {
		return err
	}
	table, err := s.store.Contamination(c.Request().Context(), ask)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, table)
}

// getCompare compares how long bags took.
func (s *Server) getCompare(c echo.Context) error {
	q := queryOf(c)
	ask := q.compareQuery()
	if err := q.err(); err != nil {
		return err
	}
	times, err := s.store.Compare(c.Request().Context(), ask)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, times)
}
