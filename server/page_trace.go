package server

import (
	"fmt"
	"net/http"

	"bagmark/grow"
	"bagmark/grow/trace"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// tracePage is the way back from one bag: what the records say of each of its
// conditions, the two that matter open, the rest folded.
type tracePage struct {
	frame
	Bag    store.Bag
	Now    store.BatchNow
	Open   []traceRow
	Folded []traceRow
	Near   []nearBag
	Age    string
}

// traceRow is one condition against contamination, in words first.
type traceRow struct {
	trace.Row
	Label   string
	Departs bool // this bag has the value
	With    whisker
	Without whisker
	Needs   string
}

// whisker is a share with its interval, drawn on an axis from 0 to 100 %.
type whisker struct {
	Words          string
	Has            bool
	Low, High, Dot string // in a box 300 units wide
}

func (s *Server) showTrace(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	t, err := s.store.Trace(c.Request().Context(), code)
	if err != nil {
		return err
	}
	f, farm, err := s.frame(c, fmt.Sprintf("Trace of %s #%d", t.Batch.Code, t.Bag.Number))
	if err != nil {
		return err
	}
	p := tracePage{frame: f, Bag: t.Bag, Now: t.BatchNow, Near: nearBags(t, farm), Age: grow.Age(t.Bag.Day, grow.DateOf(t.Batch.InoculatedAt, farm.Zone))}
	for _, row := range t.Conditions {
		r := newTraceRow(row, t.Bag, farm)
		if len(p.Open) < 2 && (r.Departs || row.Verdict == trace.PointsTo) {
			p.Open = append(p.Open, r)
		} else {
			p.Folded = append(p.Folded, r)
		}
	}
	return s.show(c, http.StatusOK, "trace", p)
}

func newTraceRow(row trace.Row, b store.Bag, farm *store.Farm) traceRow {
	r := traceRow{Row: row, Label: conditionLabel(row.Key, farm) + ": " + plainWords(row.Value), With: newWhisker(row.With), Without: newWhisker(row.Without)}
	for _, c := range b.Conditions {
		r.Departs = r.Departs || c.Departure && c.Key == row.Key && c.Value != nil && *c.Value == row.Value
	}
	return r
}

// conditionLabel is the word for a condition or a field of batches.
func conditionLabel(key string, farm *store.Farm) string {
	if c, ok := farm.Conditions[key]; ok {
		return c.Label
	}
	return plainWords(key)
}

// ConfoundedWords names what the records cannot tell apart from this.
func (r traceRow) ConfoundedWords() string {
	words := ""
	for i, key := range r.ConfoundedWith {
		words += onlyIf(i > 0, ", ") + plainWords(key)
	}
	return words
}

const whiskerWidth = 300

// fewestForShare is how many bags a share in per cent needs; fewer are counted
// only.
const fewestForShare = 5

func newWhisker(g trace.Group) whisker {
	if g.Rate == nil || g.Low == nil || g.High == nil {
		return whisker{Words: "no bags"}
	}
	at := func(rate float64) string { return fmt.Sprintf("%.1f", whiskerWidth*rate) }
	return whisker{Has: true, Low: at(*g.Low), High: at(*g.High), Dot: at(*g.Rate),
		Words: fmt.Sprintf("%d of %d%s (%s to %s)", g.Contaminated, g.Bags, onlyIf(g.Bags >= fewestForShare, ", "+shareWords(*g.Rate)), shareWords(*g.Low), shareWords(*g.High))}
}
