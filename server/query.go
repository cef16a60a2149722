package server

import (
	"strconv"
	"time"

	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

// query reads the values behind the question mark and collects what is wrong
// with them.
type query struct {
	c        echo.Context
	problems grow.Problems
}

func queryOf(c echo.Context) *query { return &query{c: c} }

func (q *query) text(name string) string { return q.c.QueryParam(name) }

// date is a date of the farm's calendar; nil if not given.
func (q *query) date(name string) *grow.Date {
	text := q.text(name)
	if text == "" {
		return nil
	}
	d, err := grow.ParseDate(text)
	if err != nil {
		q.problems.Add(name, "%s", err)
		return nil
	}
	return &d
}

// instant is a time with its offset; nil if not given.
func (q *query) instant(name string) *time.Time {
	text := q.text(name)
	if text == "" {
		return nil
	}
	t, err := time.Parse(time.RFC3339Nano, text)
	if err != nil {
		q.problems.Add(name, "must be a time like 2026-11-25T12:00:00+00:00 (+ is written %%2B in an address)")
		return nil
	}
	return &t
}

// number is a whole number from low to high; 0 if not given.
func (q *query) number(name string, low, high int) int {
	text := q.text(name)
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < low || n > high {
		q.problems.Add(name, "must be %d to %d", low, high)
	}
	return n
}

// limit is how many a list may give at once; 0 for the usual number.
func (q *query) limit() int { return q.number("limit", 1, 200) }

func (q *query) err() error { return q.problems.Err("this cannot be asked like this") }
