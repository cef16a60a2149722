package server

import (
	"cmp"
	"fmt"
	"math"
	"net/http"

	"bagmark/grow/trace"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// asking is the form of a question over many bags.
type asking struct {
	Form    form
	Keys    []choice
	Species []choice
	Events  []choice
}

// eventChoices are what times are compared to.
var eventChoices = []choice{{string(trace.EventColonised), "grown over"}, {string(trace.EventContaminated), "found mouldy"}, {string(trace.EventStarted), "started"}}

func newAsking(c echo.Context, farm *store.Farm) asking {
	a := asking{Form: newForm(c.QueryParams()), Keys: []choice{{"", "choose"}}, Species: append([]choice{{"", "all"}}, speciesChoices(farm)...), Events: eventChoices}
	for _, key := range farm.Comparable() {
		a.Keys = append(a.Keys, choice{key, conditionLabel(key, farm)})
	}
	return a
}

// contaminationPage sets one condition against contamination, and shows the
// farm's weeks.
type contaminationPage struct {
	frame
	asking
	Label  string // of the condition asked about, "" before anything was asked
	Groups []groupLine
	Rows   []traceRow
	Margin string
	// FoundLater are bags that went bad after the day on which they are judged.
	FoundLater int

	Weeks    []weekLine
	Chart    *chart
	Sentence string // about the weeks
}

// groupLine is all bags with one value.
type groupLine struct {
	Value, Words string
	Whisker      whisker
}

// weekLine is one week of inoculation.
type weekLine struct {
	Start        string
	Bags, Bad    int
	Share, Usual string
	Out          bool
}

func (s *Server) showContamination(c echo.Context) error {
	f, farm, err := s.frame(c, "Contamination")
	if err != nil {
		return err
	}
	p := contaminationPage{frame: f, asking: newAsking(c, farm), Margin: numberWords(100 * farm.Margin)}
	status, err := s.answerContamination(c, farm, &p)
	if err != nil {
		return err
	}
	return s.show(c, status, "contamination", p)
}

// answerContamination fills the page in; a question that cannot be asked so
// leaves it with what was wrong.
func (s *Server) answerContamination(c echo.Context, farm *store.Farm, p *contaminationPage) (status int, err error) {
	ctx, q := c.Request().Context(), queryOf(c)
	ask := q.contaminationQuery()
	asked := ask.By != ""
	if !asked {
		delete(q.problems, "by")
	}
	var weeks store.Weeks
	if err = q.err(); err == nil {
		weeks, err = s.store.Weeks(ctx, ask)
	}
	if err == nil && asked {
		var table store.Contamination
		if table, err = s.store.Contamination(ctx, ask); err == nil {
			p.fill(table, farm)
		}
	}
	if err != nil {
		var ok bool
		if p.Form, ok = p.Form.refused(err); !ok {
			return 0, err
		}
		return statusOf(asError(err).Kind), nil
	}
	p.drawWeeks(weeks)
	return http.StatusOK, nil
}

func (p *contaminationPage) fill(table store.Contamination, farm *store.Farm) {
	p.Label, p.FoundLater = conditionLabel(table.By, farm), table.FoundLater
	for _, g := range table.Groups {
		p.Groups = append(p.Groups, groupLine{plainWords(g.Value), cmp.Or(trace.RateWords(g.Group), "no bags counted"), newWhisker(g.Group)})
	}
	for _, row := range table.Rows {
		p.Rows = append(p.Rows, traceRow{Row: row, Label: p.Label + ": " + plainWords(row.Value), With: newWhisker(row.With), Without: newWhisker(row.Without)})
	}
}

// drawWeeks lists the weeks, newest first, and draws them if the farm has weeks
// enough to say what is usual.
func (p *contaminationPage) drawWeeks(w store.Weeks) {
	if !w.Told {
		for i := len(w.Weeks) - 1; i >= 0; i-- {
			p.Weeks = append(p.Weeks, newWeekLine(trace.ChartPoint{Week: w.Weeks[i], Weeks: 1}))
		}
		return
	}
	c := w.Chart
	p.Sentence = cmp.Or(c.Words(), c.UsualWords())
	for i := len(c.Points) - 1; i >= 0; i-- {
		line := newWeekLine(c.Points[i])
		line.Usual = fmt.Sprintf("%s to %s", shareWords(c.Points[i].Low), shareWords(c.Points[i].High))
		line.Out = c.Points[i].Out
		p.Weeks = append(p.Weeks, line)
	}
	p.Chart = weekChart(c, p.Sentence)
}

func newWeekLine(point trace.ChartPoint) weekLine {
	start := point.Start.Format("2 Jan 2006")
	return weekLine{Start: start + onlyIf(point.Weeks > 1, fmt.Sprintf(" and %d more", point.Weeks-1)), Bags: int(point.Bags), Bad: int(point.Bad), Share: shareWords(point.Rate())}
}

// weekChart is the share contaminated by week of inoculation, with the band in
// which weeks of that size usually lie.
func weekChart(w trace.Chart, words string) *chart {
	most := 0.1
	for _, p := range w.Points {
		most = math.Max(most, math.Max(p.Rate(), p.High))
	}
	n := float64(len(w.Points))
	c := newChart("weeks", "Share contaminated, in 100, by week of inoculation", "week of inoculation", n, math.Min(1, most))
	c.Desc = words
	var line [][2]float64
	every := (len(w.Points) + 3) / 4
	for i, p := range w.Points {
		at := float64(i) + 0.5
		c.band(float64(i), float64(i+1), p.Low, p.High)
		line = append(line, [2]float64{at, p.Rate()})
		c.Marks = append(c.Marks, mark{units(c.x(at)), units(c.y(p.Rate())), p.Out})
		if i%every == 0 {
			c.X = append(c.X, tick{units(c.x(at)), p.Start.Format("2 Jan")})
		}
	}
	c.line([][2]float64{{0, w.Centre}, {n, w.Centre}}, 1, fmt.Sprintf("usual %.0f", 100*w.Centre))
	c.line(line, 0, "each week")
	c.names()
	return c
}

// comparePage is how long bags with different values took.
type comparePage struct {
	frame
	asking
	Label, Event string
	Times        *trace.Times
	Chart        *chart
}

func (s *Server) showCompare(c echo.Context) error {
	f, farm, err := s.frame(c, "Compare")
	if err != nil {
		return err
	}
	p, status := comparePage{frame: f, asking: newAsking(c, farm)}, http.StatusOK
	q := queryOf(c)
	ask := q.compareQuery()
	if ask.By != "" {
		var times trace.Times
		if err = q.err(); err == nil {
			times, err = s.store.Compare(c.Request().Context(), ask)
		}
		var ok bool
		switch {
		case err == nil:
			p.fill(times, farm)
		default:
			if p.Form, ok = p.Form.refused(err); !ok {
				return err
			}
			status = statusOf(asError(err).Kind)
		}
	}
	return s.show(c, status, "compare", p)
}

func (p *comparePage) fill(t trace.Times, farm *store.Farm) {
	p.Times, p.Label = &t, conditionLabel(t.By, farm)
	for _, e := range eventChoices {
		if e.Value == string(t.Event) {
			p.Event = e.Word
		}
	}
	p.Chart = timesChart(t, fmt.Sprintf("Share of bags %s, in 100, by %s", p.Event, p.Label))
}

// timesChart draws one line a group; where a band stands the curve is not known
// more closely than that.
func timesChart(t trace.Times, title string) *chart {
	most := 7.0
	for _, g := range t.Groups {
		for _, p := range g.Curve {
			most = math.Max(most, p[0])
		}
	}
	c := newChart("times", title, "days since inoculation", most, 1)
	c.Desc = t.Words
	c.days()
	for i, g := range t.Groups {
		points := append([][2]float64{{0, 0}}, g.Curve...)
		for k := 1; k < len(points); k++ {
			if a, b := points[k-1], points[k]; b[1] > a[1] && b[0] > a[0] {
				c.band(a[0], b[0], a[1], b[1])
			}
		}
		c.line(points, i%4, plainWords(g.Value))
	}
	c.names()
	return c
}

// P is how often chance alone would set the groups so far apart, "" where
// nothing was compared.
func (p comparePage) P() string {
	if p.Times == nil || p.Times.P == nil {
		return ""
	}
	return chanceWords(*p.Times.P)
}

// Half is by when half of a group's bags had the event.
func (p comparePage) Half(g trace.TimeGroup) string {
	switch {
	case g.MedianDays == nil:
		return "not yet"
	case *g.MedianLow == *g.MedianHigh:
		return "day " + numberWords(*g.MedianHigh)
	}
	return fmt.Sprintf("day %s to %s", numberWords(*g.MedianLow), numberWords(*g.MedianHigh))
}
