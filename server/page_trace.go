package server

import (
	"fmt"
	"math"
	"net/http"

	"bagmark/grow"
	"bagmark/grow/trace"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// tracePage is the way back from one bag: what the records say of each of its
// conditions: its own departures and what else it shares with bad bags open,
// the rest of what it shares folded, and apart from both what it does not have.
type tracePage struct {
	frame
	Bag    store.Bag
	Now    store.BatchNow
	Open   []traceRow // its own, with a departure or a finding
	Shared []traceRow // its own otherwise
	Others []traceRow // conditions of other bags
	Near   []nearBag
	Turns  []string
	Age    string
	// Together is several conditions at once, "" where there are not two.
	Together string
	Control  *store.ControlFound // points at the run before anything else
}

// traceRow is one condition against contamination, in words first.
type traceRow struct {
	trace.Row
	Label   string
	Departs bool // this bag departs with the value
	Has     bool // it has the value
	Unknown bool // nobody recorded which it has
	With    whisker
	Without whisker
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
	p := tracePage{frame: f, Bag: t.Bag, Control: t.Control, Now: t.BatchNow, Near: nearBags(t, farm), Age: grow.Age(t.Bag.Day, grow.DateOf(t.Batch.InoculatedAt, farm.Zone))}
	for _, turn := range t.Turns {
		p.Turns = append(p.Turns, turnWords(turn, t, farm))
	}
	if t.Together != nil {
		p.Together = t.Together.Words
	}
	for _, row := range t.Conditions {
		r := newTraceRow(row, t.Bag, farm)
		switch {
		case r.Departs || r.Has && row.Verdict == trace.PointsTo:
			p.Open = append(p.Open, r)
		case r.Has:
			p.Shared = append(p.Shared, r)
		default:
			p.Others = append(p.Others, r)
		}
	}
	return s.show(c, http.StatusOK, "trace", p)
}

// sharedWords say what two bags have in common that is no departure.
var sharedWords = map[string]string{trace.KeySpawnLot: "same spawn lot", trace.KeySpawnJar: "spawn from the same jar", trace.KeySteriliserRun: "same steriliser run",
	trace.KeySubstrateLot: "same lot of substrate", trace.KeyPlace: "stands in the same place", trace.KeyMadeNear: "made near it at the bench"}

// Patterns are the usual patterns of bad bags, to look one's own up in.
func (p tracePage) Patterns() []grow.Pattern { return grow.Patterns() }

// turnWords say how many of the living bags that share one thing may turn.
func turnWords(turn trace.SharedTurn, t store.Trace, farm *store.Farm) string {
	what, ok := sharedWords[turn.Key]
	if !ok {
		what = sharedDeparture(turn.Key, t, farm)
	}
	return capital(what) + onlyIf(turn.InBatch, ", in this batch") + ": " + turn.Words
}

func newTraceRow(row trace.Row, b store.Bag, farm *store.Farm) traceRow {
	r := traceRow{Row: row, Label: conditionLabel(row.Key, farm) + ": " + plainWords(row.Value), With: newWhisker(row.With), Without: newWhisker(row.Without)}
	r.Has = true // of the fields of batches only the bag's own value is asked about
	for _, c := range b.Conditions {
		if c.Key == row.Key {
			r.Has, r.Unknown = c.Value != nil && *c.Value == row.Value, c.Value == nil
			r.Departs = r.Has && c.Departure
		}
	}
	return r
}

// Sides name the bags of the two shares drawn.
func (r traceRow) Sides() [2]string {
	if r.Detail.Sides[0] == "" { // an answer kept from earlier has its words and figures only
		return [2]string{"with it", "without"}
	}
	return r.Detail.Sides
}

// conditionLabel is the word for a condition or a field of batches.
func conditionLabel(key string, farm *store.Farm) string {
	if c, ok := farm.Conditions[key]; ok {
		return c.Label
	}
	return plainWords(key)
}

// Figures are what a row's words rest on, for those who ask: the ratio above all
// explodes with few bags, so the difference stands in the words.
func (r traceRow) Figures() []choice {
	var out []choice
	add := func(b *trace.Bounds, word string, write func(float64) string) {
		if b != nil && b.Estimate != nil && b.Low != nil && b.High != nil {
			out = append(out, choice{fmt.Sprintf("%s (%s to %s)", write(*b.Estimate), write(*b.Low), write(*b.High)), word})
		}
	}
	add(r.Difference, "difference, in 100 bags, with its 95 % range", func(x float64) string { return numberWords(math.Round(1000*x) / 10) })
	add(r.Detail.Ratio, "times as often in the first as in the second", ratioWords)
	add(r.OddsRatio, "times the odds", ratioWords)
	if r.P != nil && r.Q != nil {
		out = append(out, choice{chanceWords(*r.P) + ", " + chanceWords(*r.Q), "how often chance alone would set the two so far apart: asked by itself, and beside all else that this page asks (on another page it may differ)"})
	}
	if word := methodWords[r.Method]; word != "" {
		out = append(out, choice{plural(r.Batches, "batch", "batches"), word})
	}
	return out
}

var methodWords = map[trace.Method]string{
	trace.StratifiedExact:  "bags compared with others of the same batch (exact test, mid-p)",
	trace.PooledOdds:       "bags compared with others of the same batch (Mantel-Haenszel)",
	trace.BatchPermutation: "whole batches compared: bags of one batch mostly share their fate",
}

// chanceWords writes a p: none is ever 0.
func chanceWords(p float64) string {
	if p < 0.001 {
		return "below 0.001"
	}
	return fmt.Sprintf("%.3f", p)
}

// ratioWords writes a ratio with two digits, and those before the point.
func ratioWords(x float64) string {
	switch {
	case x >= 9.95:
		return fmt.Sprintf("%.0f", x)
	case x >= 0.995:
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.2f", x)
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
