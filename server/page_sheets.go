package server

import (
	"encoding/json"
	"net/http"
	"net/url"

	"bagmark/grow"
	"bagmark/labels"

	"github.com/labstack/echo/v4"
)

// sheetsPage lists label stock, adds the farm's own, and puts a printer right
// that strays.
type sheetsPage struct {
	frame
	Sheets []stock
	Form   form
	Open   string
}

// Corrected tells whether a sheet's printer strays.
func (s stock) Corrected() bool { return s.Correction != labels.Correction{} }

// Across, Down and Frame are what a true printer's calibration page measures.
func (s stock) Across() string { across, _ := labels.Rulers(s.Sheet); return numberWords(across) }
func (s stock) Down() string   { _, down := labels.Rulers(s.Sheet); return numberWords(down) }
func (s stock) Frame() string  { return numberWords(labels.FrameMM(s.Sheet)) }

func (s *Server) showSheets(c echo.Context) error {
	return s.drawSheets(c, http.StatusOK, form{}, "")
}

func (s *Server) drawSheets(c echo.Context, status int, form form, open string) error {
	f, _, err := s.frame(c, "Label sheets")
	if err != nil {
		return err
	}
	all, err := allStock(c.Request().Context(), s.store)
	if err != nil {
		return err
	}
	return s.show(c, status, "sheets", sheetsPage{frame: f, Sheets: offered(all, f.U.Paper), Form: form, Open: open})
}

func (s *Server) postSheet(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	if err = s.keepSheet(c, v); err == nil {
		return c.Redirect(http.StatusSeeOther, "/sheets")
	}
	f, ok := newForm(v).refused(asError(err))
	if !ok {
		return err
	}
	return s.drawSheets(c, statusOf(grow.KindOf(asError(err))), f, "own")
}

func (s *Server) keepSheet(c echo.Context, v url.Values) error {
	ctx, name := c.Request().Context(), typed(v, "name")
	if v.Get("act") == "remove" {
		return s.store.PutOwnSheet(ctx, name, nil)
	}
	var p grow.Problems
	sheet := labels.Sheet{Name: name, Columns: countField(v, "columns", &p), Rows: countField(v, "rows", &p), Roll: v.Get("roll") == "yes"}
	for field, into := range map[string]*float64{"page_w_mm": &sheet.PageW, "page_h_mm": &sheet.PageH, "label_w_mm": &sheet.LabelW, "label_h_mm": &sheet.LabelH,
		"left_mm": &sheet.Left, "top_mm": &sheet.Top, "pitch_x_mm": &sheet.PitchX, "pitch_y_mm": &sheet.PitchY} {
		if n := numberField(v, field, &p); n != nil {
			*into = *n
		}
	}
	if err := p.Err("this label sheet cannot be used"); err != nil {
		return err
	}
	if err := sheet.Validate(); err != nil {
		return err
	}
	raw, err := json.Marshal(sheet)
	if err != nil {
		return err
	}
	return s.store.PutOwnSheet(ctx, name, raw)
}

// postCorrection works out from what a ruler says how to print so that a sheet
// comes out right.
func (s *Server) postCorrection(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	if err = s.keepCorrection(c, v); err == nil {
		return c.Redirect(http.StatusSeeOther, "/sheets")
	}
	f, ok := newForm(v).refused(asError(err))
	if !ok {
		return err
	}
	return s.drawSheets(c, statusOf(grow.KindOf(asError(err))), f, v.Get("sheet"))
}

func (s *Server) keepCorrection(c echo.Context, v url.Values) error {
	ctx := c.Request().Context()
	if v.Get("act") == "remove" {
		return s.store.PutCorrection(ctx, v.Get("sheet"), nil)
	}
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	sheet, _, err := stockOf(ctx, s.store, farm, v.Get("sheet"))
	if err != nil {
		return err
	}
	var p grow.Problems
	n := numbersField(v, &p, "across", "down", "left", "top")
	if err := p.Err("this correction cannot be used"); err != nil {
		return err
	}
	correction, err := labels.Measured{Across: n[0], Down: n[1], Left: n[2], Top: n[3]}.Correction(sheet)
	if err != nil {
		return err
	}
	raw, err := json.Marshal(correction)
	if err != nil {
		return err
	}
	return s.store.PutCorrection(ctx, sheet.Name, raw)
}

// getCalibration is the page to be measured; with ?corrected=1 as it comes out
// with the correction on record.
func (s *Server) getCalibration(c echo.Context) error {
	name, err := param(c, "sheet")
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	sheet, correction, err := stockOf(ctx, s.store, farm, name)
	if err != nil {
		return err
	}
	if c.QueryParam("corrected") == "" {
		correction = labels.Correction{}
	}
	pdf, err := labels.Calibration(sheet, correction, s.store.Now())
	if err != nil {
		return err
	}
	return c.Blob(http.StatusOK, "application/pdf", pdf)
}
