package server

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"bagmark/grow"
	"bagmark/grow/trace"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// trialsPage lists trials and begins one.
type trialsPage struct {
	frame
	Trials  []store.Trial
	Form    form
	Open    bool
	Species []choice
	Pairs   []choice // a condition with what is tried and what it is compared with
	Events  []choice
	Used    store.UsedNames
}

var trialEvents = []choice{{string(trace.EventContaminated), "how many get mouldy"}, {string(trace.EventColonised), "how long they take to be grown over"}}

func (s *Server) showTrials(c echo.Context) error {
	v := url.Values{"each": {"12"}, "day": {"28"}}
	if err := setNewID(v, "id"); err != nil {
		return err
	}
	return s.drawTrials(c, http.StatusOK, newForm(v))
}

func (s *Server) drawTrials(c echo.Context, status int, form form) error {
	f, farm, err := s.frame(c, "Trials")
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	p := trialsPage{frame: f, Form: form, Open: form.Message != "", Species: speciesChoices(farm), Pairs: trialPairs(farm), Events: trialEvents}
	if p.Trials, err = s.store.Trials(ctx); err != nil {
		return err
	}
	if p.Used, err = s.store.Used(ctx); err != nil {
		return err
	}
	return s.show(c, status, "trials", p)
}

// trialPairs are the departures that a label prints, each against the normal
// value.
func trialPairs(farm *store.Farm) (out []choice) {
	for _, key := range farm.Conditions.Keys() {
		cond := farm.Conditions[key]
		for _, value := range cond.Values {
			if cond.Departs(&value) {
				out = append(out, choice{key + "=" + value + "=" + *cond.Normal, fmt.Sprintf("%s: %s against %s", cond.Label, plainWords(value), plainWords(*cond.Normal))})
			}
		}
	}
	return out
}

func (s *Server) postTrial(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	var p grow.Problems
	d := store.TrialDraft{BatchFields: parseBatchFields(v, farm, &p), ID: grow.ID(v.Get("id")), Question: typed(v, "question"),
		Each: countField(v, "each", &p), Day: trialDay(v, &p), Event: trace.Event(v.Get("event"))}
	if pair := strings.Split(v.Get("pair"), "="); len(pair) == 3 {
		d.Key, d.Value, d.Against = pair[0], pair[1], pair[2]
	} else {
		p.Add("pair", "is missing: what is tried?")
	}
	if d.InoculatedAt.IsZero() {
		d.InoculatedAt = s.store.Now()
	}
	var made store.Trial
	if err = p.Err("this trial cannot be begun as it is"); err == nil {
		made, _, err = s.store.CreateTrial(ctx, actorOf(c), d)
	}
	if err == nil {
		return c.Redirect(http.StatusSeeOther, "/trials/"+string(made.Batch.Code))
	}
	f, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	return s.drawTrials(c, statusOf(grow.KindOf(err)), f)
}

func trialDay(v url.Values, p *grow.Problems) int {
	day, err := strconv.Atoi(typed(v, "day"))
	if err != nil {
		p.Add("day", "must be a day of the bags' life, like 28")
	}
	return day
}

// trialPage is one trial: its question, its groups, and its answer once its day
// has come.
type trialPage struct {
	frame
	store.Trial
	Groups  []trialGroup
	Asks    string
	Message string
	Early   *trialSays // an early look, just taken
	Says    *trialSays // the answer
}

// trialGroup are the bags with one value.
type trialGroup struct{ Value, Bags string }

// trialSays is what the records say, in words and in one drawing.
type trialSays struct {
	Words string
	Row   *traceRow
	Chart *chart
}

func (s *Server) showTrial(c echo.Context) error {
	v, err := s.trialOf(c)
	if err != nil {
		return err
	}
	return s.drawTrial(c, http.StatusOK, v, nil, "")
}

func (s *Server) trialOf(c echo.Context) (store.Trial, error) {
	code, err := batchParam(c)
	if err != nil {
		return store.Trial{}, err
	}
	return s.store.Trial(c.Request().Context(), code)
}

func (s *Server) drawTrial(c echo.Context, status int, v store.Trial, early *store.TrialAnswer, message string) error {
	f, farm, err := s.frame(c, "Trial "+string(v.Batch.Code))
	if err != nil {
		return err
	}
	p := trialPage{frame: f, Trial: v, Message: message, Early: newTrialSays(early, farm), Says: newTrialSays(v.Answer, farm)}
	for _, e := range trialEvents {
		if e.Value == string(v.Event) {
			p.Asks = e.Word
		}
	}
	for _, g := range v.Batch.BagConditions {
		if value := g.Conditions[v.Key]; value != nil {
			p.Groups = append(p.Groups, trialGroup{conditionLabel(v.Key, farm) + " " + plainWords(*value), strings.ReplaceAll(g.Bags, ",", ", ")})
		}
	}
	return s.show(c, status, "trial", p)
}

func newTrialSays(a *store.TrialAnswer, farm *store.Farm) *trialSays {
	if a == nil {
		return nil
	}
	says := &trialSays{Words: a.Words}
	if a.Row != nil {
		says.Row = &traceRow{Row: *a.Row, With: newWhisker(a.Row.With), Without: newWhisker(a.Row.Without)}
	}
	if a.Times != nil && len(a.Times.Groups) > 0 {
		says.Chart = timesChart(*a.Times, "Share of bags grown over, in 100, by "+conditionLabel(a.Times.By, farm))
	}
	return says
}

// postLookEarly shows what the records say before the day of the answer, and
// says how often that has been done.
func (s *Server) postLookEarly(c echo.Context) error {
	v, err := s.trialOf(c)
	if err != nil {
		return err
	}
	looked, so, err := s.store.LookEarly(c.Request().Context(), v.Batch.Code)
	if grow.KindOf(err) == grow.Conflict && err != nil {
		return s.drawTrial(c, http.StatusConflict, v, nil, asError(err).Message)
	}
	if err != nil {
		return err
	}
	return s.drawTrial(c, http.StatusOK, looked, &so, "")
}

func (s *Server) postTrialAnswer(c echo.Context) error {
	v, err := s.trialOf(c)
	if err != nil {
		return err
	}
	_, err = s.store.AnswerTrial(c.Request().Context(), v.Batch.Code)
	if err != nil && grow.KindOf(err) == grow.Conflict {
		return s.drawTrial(c, http.StatusConflict, v, nil, asError(err).Message)
	}
	if err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, "/trials/"+string(v.Batch.Code))
}
