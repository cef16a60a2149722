package server

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"bagmark/grow"
	"bagmark/scanner"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// thingBag is a bag in a list, with its drawing.
type thingBag struct {
	store.BagHit
	Shape shape
}

func thingBags(hits []store.BagHit) []thingBag {
	var out []thingBag
	for _, h := range hits {
		out = append(out, thingBag{h, shapeOf(bagFacts{State: h.State, Mouldy: h.Contaminated})})
	}
	return out
}

// cardPage is what a phone's camera app opens of a bench card: it says what the
// card does, and a tap does it on this device's bench.
type cardPage struct {
	frame
	Card store.Card
}

func (s *Server) showCard(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	card, err := s.store.Card(c.Request().Context(), code)
	if err != nil {
		return err
	}
	f, _, err := s.frame(c, "Bench card")
	if err != nil {
		return err
	}
	return s.show(c, http.StatusOK, "card", cardPage{frame: f, Card: card})
}

// blankPage is a label printed ahead: a bag that is being made takes it.
type blankPage struct {
	frame
	Code    grow.Code
	Batches []store.Batch
	Form    form
}

func (s *Server) showBlank(c echo.Context, code grow.Code, form form) error {
	if _, _, err := s.store.Sterile(c.Request().Context(), code); err == nil {
		return s.drawSterile(c, map[bool]int{true: http.StatusBadRequest, false: http.StatusOK}[form.Message != ""], code, form)
	}
	f, _, err := s.frame(c, "Blank label")
	if err != nil {
		return err
	}
	page, err := s.store.Batches(c.Request().Context(), store.BatchFilter{Limit: 10})
	if err != nil {
		return err
	}
	status := http.StatusOK
	if form.Message != "" {
		status = http.StatusBadRequest
	}
	return s.show(c, status, "blank", blankPage{frame: f, Code: code, Batches: page.Batches, Form: form})
}

// postAdoptOne makes a blank one more bag of a batch.
func (s *Server) postAdoptOne(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	batch := grow.BatchCode(strings.ToUpper(typed(v, "batch")))
	_, _, _, err = s.store.AddBlanks(c.Request().Context(), actorOf(c), batch, store.BlanksDraft{ID: idOf(v), Blanks: []grow.Code{code}})
	if err == nil {
		return c.Redirect(http.StatusSeeOther, "/B/"+string(code))
	}
	f, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	return s.showBlank(c, code, f)
}

// codesOf reads codes one after the other, as a scanner types them.
func codesOf(text, field string) ([]grow.Code, error) {
	var p grow.Problems
	var out []grow.Code
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == ' ' || r == '\n' || r == '\r' || r == '\t' }) {
		ref, err := scanner.ParseTyped(word)
		if err != nil {
			p.Add(field, "%q: %s", word, err)
			continue
		}
		out = append(out, ref.Code)
	}
	if len(out) == 0 {
		p.Add(field, "is missing: at least one code")
	}
	return out, p.Err("these labels cannot be taken")
}

// scanPage opens a label: typed, scanned by a hand-held reader, or on a photo.
type scanPage struct {
	frame
	Form  form
	Found []foundLabel
	Read  bool // a photo was read
	Hits  []thingBag
}

// Path is where a found label leads.
func (l foundLabel) Path() string { return l.Kind.Path(l.Code) }

// Says names a found label.
func (l foundLabel) Says() string {
	switch {
	case l.Batch != "":
		return string(l.Batch) + " #" + numberWords(float64(l.Number))
	case l.Name != "":
		return l.Name
	case l.Code != "":
		return l.Code.Spaced()
	}
	return l.Text
}

// showScan opens what the field says at once, else shows the field.
func (s *Server) showScan(c echo.Context) error {
	text := c.QueryParam("code")
	f, _, err := s.frame(c, "Scan")
	if err != nil {
		return err
	}
	p := scanPage{frame: f, Form: newForm(url.Values{"code": {text}})}
	if strings.TrimSpace(text) == "" {
		return s.show(c, http.StatusOK, "scan", p)
	}
	ctx := c.Request().Context()
	ref, refusal := scanner.ParseTyped(text)
	if refusal == nil {
		path, err := s.pathOfCode(c, ref)
		if err == nil {
			return c.Redirect(http.StatusSeeOther, path)
		}
		refusal = err
	}
	hits, err := s.store.FindBags(ctx, text)
	if err != nil {
		return err
	}
	p.Hits = thingBags(hits)
	if len(p.Hits) > 0 {
		return s.show(c, http.StatusOK, "scan", p)
	}
	p.Form.Message, p.Form.errors = asError(refusal).Message, map[string]string{"code": "opens nothing"}
	return s.show(c, statusOf(grow.KindOf(refusal)), "scan", p)
}

// pathOfCode is the page of a code; what the farm knows of it decides.
func (s *Server) pathOfCode(c echo.Context, ref scanner.Reference) (string, error) {
	things, err := s.store.WhatIs(c.Request().Context(), []grow.Code{ref.Code})
	if err != nil {
		return "", err
	}
	thing, ok := things[ref.Code]
	if !ok {
		return "", grow.Errorf(grow.NotFound, "this farm has no label %s", ref.Code.Spaced())
	}
	return thing.Kind.Path(ref.Code), nil
}

// postScanPhoto lists what a photo shows, with links; it logs nothing.
func (s *Server) postScanPhoto(c echo.Context) error {
	data, err := pictureBytes(c)
	if err != nil {
		return s.refusePhoto(c, err)
	}
	result, err := s.scan(c.Request().Context(), data, nil)
	if err != nil {
		return s.refusePhoto(c, err)
	}
	f, _, err := s.frame(c, "Scan")
	if err != nil {
		return err
	}
	slices.SortStableFunc(result.Found, byBatch)
	return s.show(c, http.StatusOK, "scan", scanPage{frame: f, Found: result.Found, Read: true, Form: form{}})
}

// byBatch puts bags by batch and number, and after them what is no bag's label.
func byBatch(a, b foundLabel) int {
	if (a.Batch == "") != (b.Batch == "") {
		return strings.Compare(string(b.Batch), string(a.Batch))
	}
	return cmp.Or(strings.Compare(string(a.Batch), string(b.Batch)), cmp.Compare(a.Number, b.Number))
}

func (s *Server) refusePhoto(c echo.Context, refusal error) error {
	kind := grow.KindOf(refusal)
	if kind == grow.Internal {
		return refusal
	}
	f, _, err := s.frame(c, "Scan")
	if err != nil {
		return err
	}
	return s.show(c, statusOf(kind), "scan", scanPage{frame: f, Form: form{Message: asError(refusal).Message}})
}
