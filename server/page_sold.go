package server

import (
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// soldPage is what went to whom, and the way out for more.
type soldPage struct {
	frame
	Partings []soldRow
	Older    string // where the list goes on, "" at its end
	Form     form
	Species  []choice
	Sheets   []choice
	Buyers   []string // offered again
}

// soldRow is one parting. Only the newest lead to their bags: the others are
// counted, so that the page stays small.
type soldRow struct {
	store.Parting
	Linked []store.Recalled
}

// More is how many of its bags have no link.
func (r soldRow) More() int { return len(r.Bags) - len(r.Linked) }

// mostLinked is how many bags the page leads to.
const mostLinked = 100

func soldRows(list []store.Parting) []soldRow {
	out, left := make([]soldRow, len(list)), mostLinked
	for i, p := range list {
		out[i] = soldRow{p, p.Bags[:min(left, len(p.Bags))]}
		left -= len(out[i].Linked)
	}
	return out
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
	page, err := s.store.Sold(c.Request().Context(), store.SoldFilter{After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	p.Partings = soldRows(page.Partings)
	p.Buyers = buyersOf(page.Partings)
	if page.Next != nil {
		p.Older = *page.Next
	}
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

// atTheGate is what to say of a buyer whose name nobody asked.
const atTheGate = "at the gate"

// buyersOf are those to whom bags went, the latest first, and the nameless one.
func buyersOf(list []store.Parting) []string {
	var out []string
	for _, p := range list {
		if p.To != nil && !slices.Contains(out, *p.To) {
			out = append(out, *p.To)
		}
	}
	if !slices.Contains(out, atTheGate) {
		out = append(out, atTheGate)
	}
	return out
}

// openWithin is the days that a buyer's label offers first (common practice for a
// bag that is ready).
const openWithin = 7

// To is whom the bags went to.
func (p soldPage) To(x soldRow) string {
	if x.To == nil {
		return ", to whom was not said"
	}
	return " to " + *x.To
}

// What they were, by species.
func (p soldPage) What(x soldRow) string {
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
func (p soldPage) Codes(x soldRow) string {
	var out []string
	for _, b := range x.Linked {
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
