package server

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"bagmark/grow"
	"bagmark/labels"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// printPage prints labels: of a batch, a lab day, or any codes; and what else
// goes onto label paper.
type printPage struct {
	frame
	Form    form
	Made    bool   // batches were made just now: print, then go to the bench
	What    string // will be printed
	Action  string // of the form that fetches the PDF
	Hidden  []hidden
	Sheets  []choice
	Bench   string
	Places  []store.Place
	Cards   []store.Card
	Lots    []store.Lot
	Codes   string
	LabDays []store.LabDay
	Words   []choice // departures that stickers can bear
	Slips   []store.Slip
	Nowhere string // the address that no phone finds, if the labels would bear it
}

func (s *Server) showPrint(c echo.Context) error {
	return s.drawPrint(c, http.StatusOK, newForm(c.QueryParams()))
}

func (s *Server) drawPrint(c echo.Context, status int, form form) error {
	f, farm, err := s.frame(c, "Print")
	if err != nil {
		return err
	}
	q := c.QueryParams()
	if form.values == nil {
		form.values = url.Values{}
	}
	if form.Value("sheet") == "" {
		form.values.Set("sheet", sheetOrUsual(farm))
	}
	p := printPage{frame: f, Form: form, Made: q.Get("made") != "", Nowhere: nowhere(s.address(farm))}
	if p.Sheets, err = s.sheetChoices(c); err != nil {
		return err
	}
	switch batch, day, codes := strings.ToUpper(q.Get("batch")), q.Get("lab_day"), q.Get("codes"); {
	case batch != "":
		p.What, p.Action, p.Bench = batch, "/api/v1/batches/"+url.PathEscape(batch)+"/labels.pdf", "/bench?batch="+url.QueryEscape(batch)
	case day != "":
		p.What, p.Action, p.Bench, p.Hidden = day, "/api/v1/labels.pdf", "/bench", logs("lab_day", day)
		if p.Slips, err = s.store.Slips(c.Request().Context(), day); err != nil {
			return err
		}
	case codes != "":
		p.What, p.Action, p.Hidden, p.Codes = plural(strings.Count(codes, ",")+1, "label", "labels"), "/api/v1/labels.pdf", logs("codes", codes), codes
	default:
		if err := s.printOffers(c, &p, farm); err != nil {
			return err
		}
	}
	return s.show(c, status, "print", p)
}

// OfBatch tells whether single bags can be picked.
func (p printPage) OfBatch() bool { return strings.HasPrefix(p.Action, "/api/v1/batches/") }

// CardCodes are all cards' in one run.
func (p printPage) CardCodes() string {
	var out []string
	for _, c := range p.Cards {
		out = append(out, string(c.Code))
	}
	return strings.Join(out, ",")
}

// PlaceCodes are all places' in one run.
func (p printPage) PlaceCodes() string {
	var out []string
	for _, x := range p.Places {
		out = append(out, string(x.Code))
	}
	return strings.Join(out, ",")
}

func (s *Server) printOffers(c echo.Context, p *printPage, farm *store.Farm) (err error) {
	ctx := c.Request().Context()
	if p.Places, err = s.store.Places(ctx); err != nil {
		return err
	}
	lots, err := s.store.Lots(ctx, store.LotFilter{Limit: 200})
	if err != nil {
		return err
	}
	p.Lots = lots.Lots
	if p.LabDays, err = s.store.LabDays(ctx, 10); err != nil {
		return err
	}
	for _, key := range farm.Conditions.Keys() {
		for _, v := range farm.Conditions[key].Values {
			if word := farm.Conditions[key].Printed(&v); word != "" && !slices.ContainsFunc(p.Words, func(x choice) bool { return x.Value == word }) {
				p.Words = append(p.Words, choice{word, word})
			}
		}
	}
	p.Cards, err = s.store.Cards(ctx)
	return err
}

// sheetChoices are all sheets, with their sizes in words.
func (s *Server) sheetChoices(c echo.Context) ([]choice, error) {
	all, err := allStock(c.Request().Context(), s.store)
	var out []choice
	for _, x := range offered(all, s.unitsOf(c).Paper) {
		words := fmt.Sprintf("%d a page, %g × %g mm (%s)", x.PerPage(), x.LabelW, x.LabelH, x.Name)
		if x.Roll {
			words = fmt.Sprintf("Roll of %g × %g mm (%s)", x.LabelW, x.LabelH, x.Name)
		}
		out = append(out, choice{x.Name, words})
	}
	return out, err
}

// postPrintBlanks makes labels ahead, to be adopted later.
func (s *Server) postPrintBlanks(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	var p grow.Problems
	count := countField(v, "count", &p)
	err = p.Err("no labels were made")
	var bags []store.BagRef
	if err == nil {
		bags, _, err = s.store.CreateBlanks(c.Request().Context(), actorOf(c), store.LabelsDraft{ID: idOf(v), Count: count})
	}
	if err != nil {
		f, ok := newForm(v).refused(err)
		if !ok {
			return err
		}
		return s.drawPrint(c, statusOf(grow.KindOf(err)), f)
	}
	codes := make([]string, len(bags))
	for i, b := range bags {
		codes[i] = string(b.Code)
	}
	return c.Redirect(http.StatusSeeOther, "/print?made=1&codes="+strings.Join(codes, ","))
}

// postPrintPlace makes a place, to print its label.
func (s *Server) postPrintPlace(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	place, _, err := s.store.CreatePlace(c.Request().Context(), actorOf(c), typed(v, "name"))
	if err == nil {
		return c.Redirect(http.StatusSeeOther, "/print?codes="+string(place.Code))
	}
	f, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	return s.drawPrint(c, statusOf(grow.KindOf(err)), f)
}

// getStickers prints departures alone, to be stuck on bags whose label is right
// but for them.
func (s *Server) getStickers(c echo.Context) error {
	q := queryOf(c)
	r := q.labels()
	words := c.QueryParams()["word"]
	if len(words) == 0 || len(words) > 20 {
		q.problems.Add("word", "is missing: what the stickers say")
	}
	if err := q.err(); err != nil {
		return err
	}
	ctx := c.Request().Context()
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	sheet, correction, err := stockOf(ctx, s.store, farm, r.Sheet)
	if err != nil {
		return err
	}
	job := labels.Job{Sheet: sheet, Correction: correction, Start: r.Start, Copies: r.Copies}
	for _, w := range words {
		job.Labels = append(job.Labels, labels.Label{Departures: []string{w}})
	}
	pdf, err := job.PDF()
	if err != nil {
		return err
	}
	return c.Blob(http.StatusOK, "application/pdf", pdf)
}
