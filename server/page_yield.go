package server

import (
	"fmt"
	"net/http"

	"bagmark/grow"
	"bagmark/grow/trace"
	"bagmark/grow/yield"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// yieldPage says what bags gave, by one thing at a time.
type yieldPage struct {
	frame
	Form    form
	Keys    []choice
	Species []choice
	Label   string // of what it is told by
	Yield   *store.Yield
	Groups  []yieldLine
}

// yieldLine is one value's bags in words.
type yieldLine struct {
	store.YieldGroup
	Name, Mean, Efficiency, First string
	Usual                         string // of the species
}

func (s *Server) showYield(c echo.Context) error {
	f, farm, err := s.frame(c, "Yield")
	if err != nil {
		return err
	}
	p, status := yieldPage{frame: f, Form: newForm(c.QueryParams()), Species: append([]choice{{"", "all"}}, speciesChoices(farm)...)}, http.StatusOK
	for _, key := range farm.YieldKeys() {
		p.Keys = append(p.Keys, choice{key, conditionLabel(key, farm)})
	}
	q := queryOf(c)
	ask := q.yieldQuery()
	if ask.By == "" {
		ask.By = store.BySpecies
	}
	if ounces := f.U.Weight == grow.ImperialWeight; ounces && (ask.Measure == "" || ask.Measure == yield.Grams) {
		ask.Measure = yield.Ounces
	}
	var out store.Yield
	if err = q.err(); err == nil {
		out, err = s.store.Yield(c.Request().Context(), ask)
	}
	if err != nil {
		var ok bool
		if p.Form, ok = p.Form.refused(err); !ok {
			return err
		}
		status = statusOf(asError(err).Kind)
	} else {
		p.fill(out, farm)
	}
	return s.show(c, status, "yield", p)
}

func (p *yieldPage) fill(y store.Yield, farm *store.Farm) {
	p.Yield, p.Label = &y, conditionLabel(*y.By, farm)
	for _, g := range y.Groups {
		line := yieldLine{YieldGroup: g, Name: plainWords(g.Value), Mean: meanWords(g.Group, y.Measure)}
		if *y.By == store.BySpecies {
			species, _ := farm.SpeciesOf(grow.Slug(g.Value), nil)
			line.Name = species.Name
			if be := species.Fruiting.BE; be.High > 0 {
				line.Usual = fmt.Sprintf("Usual: %s to %s %% (%s)", numberWords(be.Low), numberWords(be.High), be.Mark)
			}
		}
		if g.EfficiencyPct != nil {
			line.Efficiency = fmt.Sprintf("%.0f %%", *g.EfficiencyPct)
		}
		if m := g.ToFirst; m != nil {
			line.First = fmt.Sprintf("day %.0f", m.Median)
			if m.Low != m.High {
				line.First += fmt.Sprintf(" (half of them %.0f to %.0f)", m.Low, m.High)
			}
		}
		p.Groups = append(p.Groups, line)
	}
}

// meanWords is a mean with its range.
func meanWords(g yield.Group, m yield.Measure) string {
	if g.Mean == nil {
		return "no bags counted"
	}
	decimals := 0
	if m == yield.Ounces {
		decimals = 1
	}
	words := fmt.Sprintf("%.*f %s", decimals, *g.Mean, m.Unit())
	if g.Low != nil && g.High != nil {
		words += fmt.Sprintf(" (95 %% range %.*f to %.*f)", decimals, *g.Low, decimals, *g.High)
	}
	return words
}

// Measures are what can be told.
func (p yieldPage) Measures() []choice {
	return []choice{{string(yield.Grams), map[bool]string{true: "ounces", false: "grams"}[p.U.Weight == grow.ImperialWeight] + " a bag made"}, {string(yield.Efficiency), "biological efficiency"}}
}

// Waits says what is not counted yet, and why; "" if all is.
func (p yieldPage) Waits() string {
	n, words := p.Yield.NotCounted, ""
	for _, part := range []struct {
		bags int
		why  string
	}{{n.Giving, "are of batches that still give"}, {n.Elsewhere, "were sold, given away, used or lost"}, {n.NotWeighed, "are of batches that nobody weighed"},
		{n.NoDry, "have no wet weight and moisture on record"}, {n.Unknown, "have no value on record"}} {
		if part.bags > 0 {
			words += onlyIf(words != "", "; ") + fmt.Sprintf("%d %s", part.bags, part.why)
		}
	}
	return words
}

// Denominator is what biological efficiency divides by.
func (p yieldPage) Denominator() string { return store.Denominator }

// Kind is how a row's verdict is drawn.
func (p yieldPage) Kind(r yield.Row) string {
	return onlyIf(r.Verdict == trace.PointsTo, " points")
}

// Side is one side of a row in words.
func (p yieldPage) Side(s yield.Side) string {
	return fmt.Sprintf("%s of %s", plural(s.Bags, "bag", "bags"), plural(s.Batches, "batch", "batches"))
}

// Lost adds up what thrown out bags cost.
func (p yieldPage) Lost() (grams float64) {
	for _, l := range p.Yield.All.Losses {
		grams += l.Grams
	}
	return grams
}
