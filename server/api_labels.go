package server

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

// getSheets lists the label sheets, and which of them the farm usually takes.
func (s *Server) getSheets(c echo.Context) error {
	ctx := c.Request().Context()
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	sheets, err := allStock(ctx, s.store)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, struct {
		Sheets []stock `json:"sheets"`
		Usual  string  `json:"usual"`
	}{sheets, sheetOrUsual(farm)})
}

// getBatchLabels prints the labels of a batch.
func (s *Server) getBatchLabels(c echo.Context) error {
	code, err := batchParam(c)
	if err != nil {
		return err
	}
	q := queryOf(c)
	r := q.labels()
	r.Batch, r.Bags = code, q.text("bags")
	if err := q.err(); err != nil {
		return err
	}
	return s.print(c, r, string(code))
}

// getLabels prints the labels of a lab day or of any codes.
func (s *Server) getLabels(c echo.Context) error {
	q := queryOf(c)
	r := q.labels()
	r.LabDay, r.Codes = q.text("lab_day"), q.codes()
	switch {
	case r.LabDay == "" && len(r.Codes) == 0:
		q.problems.Add("codes", "is missing: name codes, or a lab_day")
	case r.LabDay != "" && len(r.Codes) > 0:
		q.problems.Add("codes", "and lab_day cannot be printed in one run; give one of the two")
	}
	if q.text("bags") != "" {
		q.problems.Add("bags", "goes with the labels of one batch only")
	}
	if err := q.err(); err != nil {
		return err
	}
	return s.print(c, r, "labels")
}

// labels reads what all prints have in common.
func (q *query) labels() LabelRequest {
	return LabelRequest{Sheet: q.text("sheet"), Start: q.number("start", 1, 2000), Copies: q.number("copies", 1, 100)}
}

// codes reads codes with commas between them, in any spelling.
func (q *query) codes() []grow.Code {
	text := q.text("codes")
	if text == "" {
		return nil
	}
	var out []grow.Code
	for i, part := range strings.Split(text, ",") {
		code, err := grow.ParseCode(part)
		if err != nil {
			q.problems.Add(fmt.Sprintf("codes[%d]", i), "%s", err)
		}
		out = append(out, code)
	}
	return out
}

// printPatience is how long a slow reader may take over a large run.
const printPatience = 2 * time.Minute

func (s *Server) print(c echo.Context, r LabelRequest, name string) error {
	if err := bePatient(c, printPatience); err != nil {
		return err
	}
	pdf, err := PrintLabels(c.Request().Context(), s.store, r)
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderContentDisposition, `inline; filename="`+name+`.pdf"`)
	return c.Blob(http.StatusOK, "application/pdf", pdf)
}
