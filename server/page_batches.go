package server

import (
	"fmt"
	"net/http"
	"net/url"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// batchesPage lists batches, newest first.
type batchesPage struct {
	frame
	Batches []store.Batch
	Next    string
	Form    form
	Species []choice
	Empty   bool
}

// States are offered to list batches by.
func (p batchesPage) States() []choice {
	out := []choice{{"", "any"}}
	for _, s := range grow.States {
		out = append(out, choice{string(s), stateWords[s]})
	}
	return out
}

func (s *Server) showBatches(c echo.Context) error {
	f, farm, err := s.frame(c, "Batches")
	if err != nil {
		return err
	}
	q := c.QueryParams()
	filter := store.BatchFilter{Species: grow.Slug(q.Get("species")), State: grow.State(q.Get("state")), LabDay: q.Get("lab_day"), After: q.Get("after")}
	page, err := s.store.Batches(c.Request().Context(), filter)
	if err != nil {
		return err
	}
	p := batchesPage{frame: f, Batches: page.Batches, Form: newForm(q), Species: append([]choice{{"", "all"}}, speciesChoices(farm)...)}
	p.Empty = len(page.Batches) == 0 && filter == store.BatchFilter{}
	if page.Next != nil {
		next := url.Values{"species": {q.Get("species")}, "state": {q.Get("state")}, "after": {*page.Next}}
		p.Next = "/batches?" + next.Encode()
	}
	return s.show(c, http.StatusOK, "batches", p)
}

// batchPage is a batch with its bags, what was corrected, and the form that
// corrects it.
type batchPage struct {
	frame
	store.BatchWhole
	Age        string
	Cells      []cell
	Legend     []shape
	Unmarked   int
	Form       form
	Open       bool
	Species    []choice
	Used       store.UsedNames
	Conditions []grow.Condition
	Sentence   string
}

// cell is a bag of the grid.
type cell struct {
	store.BatchBag
	Shape shape
}

// Says is what a screen reader hears.
func (c cell) Says() string {
	words := fmt.Sprintf("bag %d: %s", c.Number, c.Shape.Word)
	for _, d := range c.Departures {
		words += ", " + d
	}
	return words
}

// Label is what the farm calls a condition.
func (p batchPage) Label(key string) string {
	for _, c := range p.Conditions {
		if c.Key == key {
			return c.Label
		}
	}
	return plainWords(key)
}

// ValueChoices are a condition's values, unknown first.
func (p batchPage) ValueChoices(c grow.Condition) []choice { return valueChoices(c) }

func (s *Server) showBatch(c echo.Context) error {
	code, err := batchParam(c)
	if err != nil {
		return err
	}
	whole, err := s.store.Batch(c.Request().Context(), code)
	if err != nil {
		return err
	}
	return s.drawBatch(c, http.StatusOK, whole, nil)
}

func (s *Server) drawBatch(c echo.Context, status int, whole store.BatchWhole, refused *form) error {
	f, farm, err := s.frame(c, string(whole.Batch.Code))
	if err != nil {
		return err
	}
	p := batchPage{frame: f, BatchWhole: whole, Age: grow.Age(whole.Batch.Day, grow.DateOf(whole.Batch.InoculatedAt, farm.Zone)), Species: speciesChoices(farm), Form: fieldsForm(whole.Batch, f.U)}
	if refused != nil {
		p.Form, p.Open = *refused, true
	}
	if p.Used, err = s.store.Used(c.Request().Context()); err != nil {
		return err
	}
	for _, key := range farm.Conditions.Keys() {
		p.Conditions = append(p.Conditions, farm.Conditions[key])
	}
	species, _ := farm.SpeciesOf(whole.Batch.Species, whole.Batch.Strain)
	var shapes []shape
	for _, b := range whole.Bags {
		one := cell{b, shapeOf(bagFacts{State: b.State, Pct: b.ColonisedPct, Mouldy: b.Contaminated != nil, Late: b.Slow || b.Overdue, Ready: b.Ready,
			Ripening: species.RipeningDays.High > 0, Watched: b.Watched})}
		if len(b.Departures) > 0 {
			one.Shape.Layers = append(one.Shape.Layers, "differs")
		}
		p.Cells, shapes = append(p.Cells, one), append(shapes, one.Shape)
		if b.State == grow.Unmarked {
			p.Unmarked++
		}
	}
	p.Legend, p.Sentence = legend(shapes), batchSentence(whole)
	return s.show(c, status, "batch", p)
}

// batchSentence says how the batch stands.
func batchSentence(w store.BatchWhole) string {
	words := ""
	for _, s := range grow.States {
		if n := w.Counts[string(s)]; n > 0 {
			words += onlyIf(words != "", ", ") + fmt.Sprintf("%d %s", n, stateWords[s])
		}
	}
	if n := w.Counts["contaminated"]; n > 0 {
		words += fmt.Sprintf("; %d mouldy so far", n)
	}
	return words + "."
}

// postAdopt appends bags that carry blanks: codes typed or scanned one after
// the other.
func (s *Server) postAdopt(c echo.Context) error {
	code, err := batchParam(c)
	if err != nil {
		return err
	}
	v, err := formValues(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	blanks, err := codesOf(v.Get("blanks"), "blanks")
	if err == nil {
		_, _, _, err = s.store.AddBlanks(ctx, actorOf(c), code, store.BlanksDraft{ID: idOf(v), Blanks: blanks})
	}
	if err == nil {
		return c.Redirect(http.StatusSeeOther, "/batches/"+string(code))
	}
	whole, err2 := s.store.Batch(ctx, code)
	refused, ok := fieldsForm(whole.Batch, s.unitsOf(c)).refused(err)
	if err2 != nil || !ok {
		return err
	}
	refused.values.Set("blanks", v.Get("blanks"))
	return s.drawBatch(c, statusOf(grow.KindOf(err)), whole, &refused)
}
