package server

import (
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// soldPage is what went to whom, and the way out for more.
type soldPage struct {
	frame
	Partings []store.Parting
	Form     form
	Species  []choice
	Sheets   []choice
}

func (s *Server) showSold(c echo.Context) error { return s.drawSold(c, http.StatusOK, form{}) }

// showBuyerLabels prints the form's labels, or gives the form back with what is
// wrong with it.
func (s *Server) showBuyerLabels(c echo.Context) error {
	asked := maps.Clone(c.QueryParams())
	err := gramsAsked(c.QueryParams(), s.unitsOf(c))
	if err == nil {
		err = s.getBuyerLabels(c)
	}
	f, typed := newForm(asked).refused(err)
	if !typed {
		return err
	}
	return s.drawSold(c, statusOf(grow.KindOf(err)), f)
}

// gramsAsked puts whole grams in place of the weight that was typed in the farm's
// unit: near enough for a tenth of an ounce to stand on the label.
func gramsAsked(v url.Values, u grow.Units) error {
	if u.Weight != grow.ImperialWeight {
		return nil
	}
	var p grow.Problems
	if g := typedGrams(u, grow.Kitchen, v, "grams", &p); g != nil {
		v.Set("grams", strconv.FormatFloat(*g, 'f', 0, 64))
	}
	return p.Err("these labels cannot be printed")
}

func (s *Server) drawSold(c echo.Context, status int, typed form) error {
	f, farm, err := s.frame(c, "Sold and given")
	if err != nil {
		return err
	}
	p := soldPage{frame: f, Species: speciesChoices(farm)}
	if p.Partings, err = s.store.Sold(c.Request().Context(), nil, nil); err != nil {
		return err
	}
	p.Partings = p.Partings[:min(len(p.Partings), mostPartings)]
	if p.Sheets, err = s.sheetChoices(c); err != nil {
		return err
	}
	today := grow.DateOf(s.store.Now(), farm.Zone)
	if p.Form = typed; typed.values != nil {
		return s.show(c, status, "sold", p)
	}
	p.Form = formOf("packed_on", today.String(), "open_by", (today + openWithin).String(), "sheet", sheetOrUsual(farm), "copies", "1", "start", "1")
	return s.show(c, status, "sold", p)
}

// mostPartings is how many the page lists; the API gives all.
const mostPartings = 100

// openWithin is the days that a buyer's label offers first (common practice for a
// bag that is ready).
const openWithin = 7

// To is whom the bags went to.
func (p soldPage) To(x store.Parting) string {
	if x.To == nil {
		return ", to whom was not said"
	}
	return " to " + *x.To
}

// What they were, by species.
func (p soldPage) What(x store.Parting) string {
	var names []string
	counts := map[string]int{}
	for _, b := range x.Bags {
		if counts[b.SpeciesName] == 0 {
			names = append(names, b.SpeciesName)
		}
		counts[b.SpeciesName]++
	}
	for i, n := range names {
		names[i] = fmt.Sprintf("%d %s", counts[n], n)
	}
	return strings.Join(names, ", ")
}

// Codes of the bags, for their labels.
func (p soldPage) Codes(x store.Parting) string {
	var out []string
	for _, b := range x.Bags {
		out = append(out, string(b.Code))
	}
	return strings.Join(out, ",")
}

func (s *Server) showBatchRecall(c echo.Context) error {
	code, err := param(c, "batch")
	if err != nil {
		return err
	}
	r, err := s.store.RecallBatch(c.Request().Context(), grow.BatchCode(strings.ToUpper(code)))
	if err != nil {
		return err
	}
	f, _, err := s.frame(c, "Recall of "+r.Of)
	if err != nil {
		return err
	}
	return s.show(c, http.StatusOK, "recall", recallPage{frame: f, Of: r.Of, Back: "/batches/" + r.Of, Parts: recallParts(r.Bags), Total: len(r.Bags)})
}
