package server

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"bagmark/grow"
	"bagmark/grow/plan"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// aheadPage says what the bags alive promise, week by week, and what to make to
// have so much of a species in a week.
type aheadPage struct {
	frame
	Form    form
	Ahead   store.WeekAhead
	Species []choice
	Weeks   []choice
	Unit    string // kg or lb
	Rows    []aheadRow
	Answer  *aheadAnswer
	AskLoad bool // nobody said what a steriliser load takes
	units   grow.Units
}

// aheadRow is one week of the table.
type aheadRow struct {
	Week  string
	All   string
	Crops []string
}

// weeksOffered is how many weeks can be chosen on the page.
const weeksOffered = 30

func (s *Server) showWeekAhead(c echo.Context) error {
	f, farm, err := s.frame(c, "Week ahead")
	if err != nil {
		return err
	}
	v := c.QueryParams()
	asked := v.Has("kg") || v.Has("species") || v.Has("week")
	today := grow.DateOf(s.store.Now(), farm.Zone)
	p := aheadPage{frame: f, Species: speciesChoices(farm), Weeks: weekChoices(farm.Writing, today), Unit: largeUnit(farm.Writing), units: farm.Writing}
	ask, status := store.WeekAheadQuery{Starts: farm.WeekStarts}, http.StatusOK
	if asked {
		p.Form = newForm(v)
		err = wantFrom(v, farm.Writing, &ask)
	} else {
		p.Form = formOf("week", p.Weeks[usualWeek].Value)
	}
	if err == nil {
		p.Ahead, err = s.store.WeekAhead(c.Request().Context(), ask)
		err = atWeight(err)
	}
	if err != nil {
		var ok bool
		if p.Form, ok = p.Form.refused(err); !ok {
			return err
		}
		status = statusOf(asError(err).Kind)
		if p.Ahead, err = s.store.WeekAhead(c.Request().Context(), store.WeekAheadQuery{Starts: farm.WeekStarts}); err != nil {
			return err
		}
	}
	p.fill(farm)
	return s.show(c, status, "week-ahead", p)
}

// atWeight puts what is wrong with the grams at the field in which they are typed.
func atWeight(err error) error {
	var e *grow.Error
	if errors.As(err, &e) && e.Fields["grams"] != "" {
		words := "is missing: how much do you want?"
		if !strings.HasPrefix(e.Fields["grams"], "is missing") {
			words = "must be more than 0 and at most a hundred tonnes"
		}
		e.Fields["kg"] = words
		delete(e.Fields, "grams")
	}
	return err
}

// usualWeek is the week that the form offers first: most species can be made for
// it, and few are promised by then.
const usualWeek = 6

// wantFrom reads what the form asks for.
func wantFrom(v url.Values, u grow.Units, to *store.WeekAheadQuery) error {
	var p grow.Problems
	to.Species, to.Week = grow.Slug(v.Get("species")), dateField(v, "week", &p)
	if text := typed(v, "kg"); text != "" {
		if _, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64); err == nil {
			text += " " + largeUnit(u)
		}
		grams, err := u.Grams(text, grow.Bucket)
		if err != nil {
			p.Add("kg", "must be a number of %s", largeUnit(u))
		}
		to.Grams = &grams
	}
	if n := numberField(v, "load_bags", &p); n != nil {
		bags := int(*n)
		if to.LoadBags = &bags; float64(bags) != *n {
			p.Add("load_bags", "must be a whole number")
		}
	}
	return p.Err("this cannot be planned as it is")
}

// largeUnit is what crops are planned in.
func largeUnit(u grow.Units) string {
	if u.Weight == grow.ImperialWeight {
		return "lb"
	}
	return "kg"
}

// large writes grams in that unit: tenths below ten, whole above.
func large(u grow.Units, grams float64) string {
	n := grams / 1000
	if u.Weight == grow.ImperialWeight {
		n = grams / grow.GramsPerPound
	}
	text := fmt.Sprintf("%.1f", n)
	if n >= 9.95 {
		text = fmt.Sprintf("%.0f", n)
	}
	return strings.TrimSuffix(text, ".0")
}

// wanted writes grams that somebody asked for in that unit, as they were typed.
func wanted(u grow.Units, grams float64) string {
	per, decimals := 1000.0, 1e5
	if u.Weight == grow.ImperialWeight {
		per, decimals = grow.GramsPerPound, 100
	}
	return strconv.FormatFloat(math.Round(grams/per*decimals)/decimals, 'f', -1, 64)
}

// spread writes a figure with its range.
func spread(u grow.Units, f plan.Figure) string {
	low, likely, high := large(u, f.Low), large(u, f.Likely), large(u, f.High)
	switch {
	case high == "0":
		return "0"
	case likely == "0":
		return "up to " + high
	}
	return fmt.Sprintf("%s (%s to %s)", likely, low, high)
}

// narrow is the same for a table.
func narrow(u grow.Units, f plan.Figure) string {
	number, ends, _ := strings.Cut(spread(u, f), " (")
	if ends == "" {
		return number
	}
	return number + " (" + strings.Replace(ends, " to ", "–", 1)
}

func weekChoices(u grow.Units, today grow.Date) (out []choice) {
	first := u.WeekStartOf(today)
	for i := range weeksOffered {
		from := first + grow.Date(7*i)
		words := weekWords(u, from, from+6)
		switch i {
		case 0:
			words = "this week, " + words
		case 1:
			words = "next week, " + words
		}
		out = append(out, choice{from.String(), words})
	}
	return out
}

// weekWords are a week's days; ISO 8601 numbers weeks that start on Monday.
func weekWords(u grow.Units, from, to grow.Date) string {
	words := shortDate(from) + " to " + shortDate(to)
	if u.WeekStartOf(to) == to-6 && to.Time().Weekday() == 0 {
		_, n := to.Time().ISOWeek()
		words += fmt.Sprintf(" (week %d)", n)
	}
	return words
}

func shortDate(d grow.Date) string { return d.Time().Format("2 Jan") }

func (p *aheadPage) fill(farm *store.Farm) {
	p.AskLoad = p.Ahead.Load.Bags == nil || p.Ahead.Load.From == store.LoadAsked
	for _, w := range p.Ahead.Weeks {
		row := aheadRow{Week: shortDate(w.From) + " to " + shortDate(w.To), All: narrow(p.units, w.Grams)}
		for _, crop := range w.Species {
			row.Crops = append(row.Crops, narrow(p.units, crop.Grams))
		}
		p.Rows = append(p.Rows, row)
	}
	if p.Ahead.Want != nil {
		p.Answer = answerWords(farm.Writing, &p.Ahead)
	}
}

// Spread is a figure in the farm's large unit.
func (p aheadPage) Spread(f plan.Figure) string { return spread(p.units, f) }

// Soon says what one of the next weeks brings, species by species; those that
// bring nothing are left out.
func (p aheadPage) Soon(w store.AheadWeek) string {
	var out []string
	for _, crop := range w.Species {
		if crop.Grams.Likely > 0 || crop.Grams.High > 100 {
			out = append(out, lower(crop.Name)+" "+spread(p.units, crop.Grams))
		}
	}
	return strings.Join(out, ", ")
}

// Promises tells whether the bags alive give anything in the weeks listed.
func (p aheadPage) Promises() bool {
	for _, w := range p.Ahead.Weeks {
		if w.Grams.High > 0 {
			return true
		}
	}
	return false
}

// Kept is what the load is known from, in words.
func (p aheadPage) Kept() string { return loadWords(p.Ahead.Load) }

// BuiltIn names the species whose figures are not the farm's own.
func (p aheadPage) BuiltIn() string {
	var out []string
	for _, s := range p.Ahead.Species {
		if !s.Basis.Own() {
			out = append(out, s.Name)
		}
	}
	return strings.Join(out, ", ")
}
