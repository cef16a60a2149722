package server

import (
	"fmt"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// runsPage lists steriliser runs and puts new ones on record.
type runsPage struct {
	frame
	Form    form
	Runs    []runLine
	Past    []runLine // folded
	Next    string
	Left    []store.SterileLeft
	Methods []choice
	Used    store.UsedNames
}

// openRuns is how many runs stand open on the page; those before them are folded.
const openRuns = 12

// runLine is a run in a list.
type runLine struct {
	store.Run
	Words string
}

func (s *Server) showRuns(c echo.Context) error {
	ctx := c.Request().Context()
	if name := c.QueryParam("name"); name != "" {
		w, err := s.store.Run(ctx, name)
		if err != nil {
			return err
		}
		return c.Redirect(http.StatusSeeOther, "/L/"+string(w.Run.Code))
	}
	now := s.store.Now().In(s.store.Zone(ctx)).Format("2006-01-02T15:04:05")
	return s.drawRuns(c, http.StatusOK, formOf("method", string(grow.PressureSteam), "started_at", now))
}

func (s *Server) drawRuns(c echo.Context, status int, form form) error {
	f, _, err := s.frame(c, "Steriliser runs")
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	page, err := s.store.Runs(ctx, c.QueryParam("after"), 0)
	if err != nil {
		return err
	}
	p := runsPage{frame: f, Form: form, Methods: methodChoices()}
	for _, r := range page.Runs {
		p.Runs = append(p.Runs, runLine{r, runWords(r)})
	}
	newest := min(openRuns, len(p.Runs))
	p.Runs, p.Past = p.Runs[:newest], p.Runs[newest:]
	if page.Next != nil {
		p.Next = "/runs?" + url.Values{"after": {*page.Next}}.Encode()
	}
	if p.Left, err = s.store.SterileLeft(ctx); err != nil {
		return err
	}
	if p.Used, err = s.store.Used(ctx); err != nil {
		return err
	}
	return s.show(c, status, "runs", p)
}

func methodChoices() []choice {
	out := []choice{{"", "not said"}}
	for _, m := range grow.RunMethods {
		out = append(out, choice{string(m), runMethodWords(m)})
	}
	return out
}

func runMethodWords(m grow.RunMethod) string {
	return map[grow.RunMethod]string{grow.PressureSteam: "steam under pressure", grow.OpenSteam: "open steam", grow.HotWater: "hot water", grow.Lime: "lime"}[m]
}

func runWords(r store.Run) string {
	var words []string
	if r.Method != nil {
		words = append(words, runMethodWords(*r.Method))
	}
	if r.StartedAt != nil {
		words = append(words, dayWords(*r.StartedAt))
	}
	switch {
	case r.Short != nil && *r.Short:
		words = append(words, fmt.Sprintf("SHORT: F0 %.1f", *r.F0))
	case r.F0 != nil:
		words = append(words, fmt.Sprintf("F0 %.1f", *r.F0))
	case r.Method == nil || r.Method.Steam():
		words = append(words, "no reading of a core")
	}
	return strings.Join(words, " · ")
}

func (s *Server) postRunForm(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	var p grow.Problems
	d := grow.RunDraft{ID: idOf(v), RunFields: s.runFieldsOf(c, v, &p)}
	err = p.Err("this run cannot be kept like this")
	var w store.RunWhole
	if err == nil {
		w, _, err = s.store.CreateRun(ctx, actorOf(c), d)
	}
	if err != nil {
		f, ok := newForm(v).refused(err)
		if !ok {
			return err
		}
		return s.drawRuns(c, statusOf(grow.KindOf(err)), f)
	}
	return c.Redirect(http.StatusSeeOther, "/L/"+string(w.Run.Code))
}

// runFieldsOf reads a run's fields from a form. The load plan stands in one
// field, a line a position: position, then what, then how many bags.
func (s *Server) runFieldsOf(c echo.Context, v url.Values, p *grow.Problems) grow.RunFields {
	f := grow.RunFields{Name: typed(v, "name"), StartedAt: timeField(v, "started_at", s.store.Zone(c.Request().Context()), p), Vessel: text(v, "vessel"), HoldC: typedDegrees(s.unitsOf(c), v, "hold_c", p),
		TargetF0: numberField(v, "target_f0", p), GaugeKPa: numberField(v, "gauge_kpa", p), Recipe: text(v, "recipe"), Note: text(v, "note"), Load: []grow.LoadPlace{}}
	if m := grow.RunMethod(v.Get("method")); m != "" {
		f.Method = &m
	}
	for line := range strings.Lines(v.Get("load")) {
		if line = strings.TrimSpace(line); line != "" {
			f.Load = append(f.Load, loadPlaceOf(line))
		}
	}
	return f
}

// uncounted stands where nobody said how many bags and what they are begins with a
// number: ? 2 kg bags.
const uncounted = "?"

func loadPlaceOf(line string) grow.LoadPlace {
	position, rest, _ := strings.Cut(line, ":")
	l := grow.LoadPlace{Position: strings.TrimSpace(position)}
	words := strings.Fields(rest)
	if len(words) > 0 {
		if n, err := strconv.Atoi(words[0]); err == nil {
			l.Bags = &n
		}
		if l.Bags != nil || words[0] == uncounted {
			words = words[1:]
		}
	}
	if what := strings.Join(words, " "); what != "" {
		l.What = &what
	}
	return l
}

func loadLine(l grow.LoadPlace) string {
	line := l.Position
	if l.Bags != nil || l.What != nil {
		line += ":"
	}
	first, _, _ := strings.Cut(deref(l.What), " ")
	if l.Bags != nil {
		line += " " + strconv.Itoa(*l.Bags)
	} else if _, err := strconv.Atoi(first); err == nil {
		line += " " + uncounted
	}
	return line + onlyIf(l.What != nil, " "+deref(l.What))
}

// runPage is a steriliser run: what was read, what that says, what it made.
type runPage struct {
	frame
	store.RunWhole
	Form     form
	Open     string
	Methods  []choice
	Used     store.UsedNames
	Spots    []choice
	Units    []choice
	Chart    *chart
	Lines    []seriesLine
	Waiting  int
	Control  *store.SterileBag
	Verdicts []string
	Steam    bool
	Pressure bool
	Method   string
	Bad      int
	Bags     int
}

// seriesLine is what was read at one place, in words.
type seriesLine struct {
	store.Series
	Words []string
	Main  bool // judged by
}

// drawRun shows a run; refused is the form with what was wrong with it.
func (s *Server) drawRun(c echo.Context, status int, code grow.Code, refused *form, open string) error {
	ctx := c.Request().Context()
	w, err := s.store.Run(ctx, string(code))
	if err != nil {
		return err
	}
	f, _, err := s.frame(c, "Steriliser "+store.RunName(w.Run.Name))
	if err != nil {
		return err
	}
	p := runPage{frame: f, RunWhole: w, Form: runForm(w.Run, f.U), Open: open, Methods: methodChoices(), Spots: []choice{{"core", "in the core of a bag"}, {"chamber", "in the chamber"}},
		Units: []choice{{"C", "°C"}, {"F", "°F"}}}
	if f.U.Temperature == grow.Fahrenheit {
		slices.Reverse(p.Units)
	}
	if refused != nil {
		p.Form = *refused
	}
	p.fill()
	if p.Used, err = s.store.Used(ctx); err != nil {
		return err
	}
	return s.show(c, status, "run", p)
}

func (p *runPage) fill() {
	p.Steam, p.Verdicts = p.Run.Method == nil || p.Run.Method.Steam(), p.Says
	p.Pressure = p.Run.Method == nil || *p.Run.Method == grow.PressureSteam
	if p.Run.Method != nil {
		p.Method = runMethodWords(*p.Run.Method)
	}
	for _, x := range p.Series {
		p.Lines = append(p.Lines, seriesLine{x, seriesWords(x, p.U), p.Coldest != nil && *p.Coldest == x.ID})
	}
	for i, b := range p.Sterile {
		if b.Control {
			p.Control = &p.Sterile[i]
		} else if b.State == "waiting" && b.Contaminated == nil {
			p.Waiting++
		}
	}
	for _, b := range p.Batches {
		p.Bags, p.Bad = p.Bags+b.Bags, p.Bad+b.Contaminated
	}
	p.Chart = runChart(p.Series, p.U)
}

func seriesWords(x store.Series, u grow.Units) []string {
	words := []string{fmt.Sprintf("%s from %s to %s, highest %s", plural(x.Readings, "reading", "readings"), u.DayTime(x.From), u.Time(x.To), u.TempWords(x.Highest))}
	if x.Lethality != nil {
		words = append(words, fmt.Sprintf("F0 %.1f", x.Lethality.F0)+onlyIf(x.Spot != "core", ", of the chamber: it flatters the load"))
	}
	if x.ComeUp != nil {
		words = append(words, fmt.Sprintf("hold reached after %.0f min, held %.0f min", *x.ComeUp, x.Held))
	}
	if n := len(x.Gaps) + x.Missing; n > 0 {
		words = append(words, plural(len(x.Gaps), "gap", "gaps")+gapWords(x.Gaps, u)+", "+plural(x.Missing, "row", "rows")+" without a reading")
	}
	if x.Assumed != nil {
		words = append(words, *x.Assumed)
	}
	if x.VoidedAt != nil {
		words = append(words, "taken back, counts no more")
	}
	return words
}

// gapWords say when nothing was read.
func gapWords(gaps []store.SeriesGap, u grow.Units) string {
	const most = 5
	if len(gaps) == 0 {
		return ""
	}
	var out []string
	for _, g := range gaps[:min(most, len(gaps))] {
		out = append(out, u.Time(g.From)+" to "+u.Time(g.To))
	}
	return " (nothing from " + strings.Join(out, ", ") + onlyIf(len(gaps) > most, " and so on") + ")"
}

// mostDrawn is how many points of a line are drawn; of those between the coldest
// stays, so that no sag is hidden.
const mostDrawn = 240

// runChart draws temperatures over the minutes of the run; nil without readings.
func runChart(series []store.Series, u grow.Units) *chart {
	var from, to, most float64
	for _, x := range series {
		if x.VoidedAt == nil && len(x.Points) > 0 {
			from, to = earliest(from, x), math.Max(to, float64(x.To.Unix()))
			most = math.Max(most, u.Degrees(x.Highest))
		}
	}
	if to <= from || most <= 0 {
		return nil
	}
	c := newChart("temperatures", "Temperatures of the run", "minutes", (to-from)/60, most)
	c.Desc, c.Y = "Each line is one probe; the figures stand below.", nil
	for _, v := range ticks(most) {
		c.Y = append(c.Y, tick{units(c.y(v)), numberWords(v)})
	}
	c.days()
	for i, x := range series {
		if x.VoidedAt == nil {
			c.line(thinned(x, from, u), i%4, x.Probe)
		}
	}
	c.names()
	return c
}

func earliest(from float64, x store.Series) float64 {
	at := float64(x.From.Unix())
	if from == 0 || at < from {
		return at
	}
	return from
}

// thinned are the points of a line, the coldest of each stretch.
func thinned(x store.Series, from float64, u grow.Units) [][2]float64 {
	step := max(1, len(x.Points)/mostDrawn)
	var out [][2]float64
	for i := 0; i < len(x.Points); i += step {
		low := x.Points[i]
		for _, p := range x.Points[i:min(i+step, len(x.Points))] {
			if p.C < low.C {
				low = p
			}
		}
		out = append(out, [2]float64{(float64(low.At.Unix()) - from) / 60, math.Max(0, u.Degrees(low.C))})
	}
	return out
}

func runForm(r store.Run, u grow.Units) form {
	v := url.Values{"name": {r.Name}, "spot": {"core"}, "count": {"12"}}
	if r.Method != nil {
		v.Set("method", string(*r.Method))
	}
	if r.StartedAt != nil {
		v.Set("started_at", r.StartedAt.Format(formTime))
	}
	for name, value := range map[string]*string{"vessel": r.Vessel, "recipe": r.Recipe, "note": r.Note} {
		v.Set(name, deref(value))
	}
	for name, value := range map[string]*float64{"target_f0": r.TargetF0, "gauge_kpa": r.GaugeKPa} {
		if value != nil {
			v.Set(name, numberWords(*value))
		}
	}
	if r.HoldC != nil {
		v.Set("hold_c", u.TempTyped(*r.HoldC))
	}
	var load []string
	for _, l := range r.Load {
		load = append(load, loadLine(l))
	}
	v.Set("load", strings.Join(load, "\n"))
	return newForm(v)
}

// SterileCodes are the labels of the clean bags that wait, and of the control.
func (p runPage) SterileCodes() string {
	var out []string
	for _, b := range p.Sterile {
		if b.State == "waiting" && b.Contaminated == nil {
			out = append(out, string(b.Code))
		}
	}
	return strings.Join(out, ",")
}

// TypedLike are readings as somebody types them.
func (p runPage) TypedLike() string {
	return fmt.Sprintf("0 %s, next line 45 %s; or %s", p.U.TempTyped(20), p.U.TempTyped(100), typedLike(p.U))
}

// typedLike is a reading with its time of day.
func typedLike(u grow.Units) string {
	return u.Time(grow.Date(0).Time().Add(9*time.Hour+35*time.Minute)) + " " + u.TempTyped(118.5)
}

// Heading names the run.
func (p runPage) Heading() string { return "Steriliser " + store.RunName(p.Run.Name) }

// Answer is the plain answer to whether it was long enough; "" where nobody can
// tell.
func (p runPage) Answer() string {
	switch {
	case p.Run.Short == nil:
		return ""
	case *p.Run.Short:
		return "No: less than was aimed at."
	default:
		return "Yes, by what was aimed at."
	}
}

// Lime tells whether the load was treated with lime.
func (p runPage) Lime() bool { return p.Run.Method != nil && *p.Run.Method == grow.Lime }

// IsShort tells whether the readings say that the load had less than its target.
func (p runPage) IsShort() bool { return p.Run.Short != nil && *p.Run.Short }
