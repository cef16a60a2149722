package server

import (
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// afterRun leads back to the run, or shows it again with what was refused.
func (s *Server) afterRun(c echo.Context, code grow.Code, v url.Values, open string, refusal error) error {
	return backTo(c, "/L/"+string(code), v, refusal, func(status int, f form) error { return s.drawRun(c, status, code, &f, open) })
}

func (s *Server) postRunFields(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	var p grow.Problems
	fields := s.runFieldsOf(c, v, &p)
	if err = p.Err("this run cannot be corrected like this"); err == nil {
		_, err = s.store.PatchRun(c.Request().Context(), actorOf(c), string(code), func(f *grow.RunFields) error { *f = fields; return nil })
	}
	return s.afterRun(c, code, v, "correct", err)
}

// postTypedReadings keeps readings typed by hand: a line each, minutes since the
// start or a time of day, then the temperature.
func (s *Server) postTypedReadings(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	w, err := s.store.Run(ctx, string(code))
	if err != nil {
		return err
	}
	table, lines := typedTable(v.Get("readings"))
	log, err := readRunLog([]byte(table), s.logFormat(ctx, w.Run, v.Get("unit")))
	if err != nil || len(log.Probes) != 1 || len(log.Probes[0].Points) != lines { // all of it or nothing
		u := s.unitsOf(c)
		p := grow.Problems{"readings": "a line cannot be read: on each write the minutes since the start, or on each the time of day, then the temperature, like 95 " + u.TempTyped(118.5) + " or " + typedLike(u)}
		return s.afterRun(c, code, v, "typed", p.Err("these readings cannot be kept"))
	}
	d := store.SeriesDraft{Probe: "typed", Spot: v.Get("spot"), Position: text(v, "position"), Points: pointsOf(log.Probes[0])}
	_, _, err = s.store.AddRunReadings(ctx, actorOf(c), string(code), []store.SeriesDraft{d})
	return s.afterRun(c, code, v, "typed", err)
}

// joinedHalf finds the half of the day behind a time.
var joinedHalf = regexp.MustCompile(`(?i)(:\d\d)\s+([ap]m)`)

// typedTable makes a table of lines that somebody typed with spaces between, and
// tells how many there are.
func typedTable(lines string) (table string, count int) {
	var b strings.Builder
	head := "min;temperature\n"
	if strings.Contains(lines, ":") {
		head = "time;temperature\n"
	}
	b.WriteString(head)
	for line := range strings.Lines(lines) {
		line = joinedHalf.ReplaceAllString(line, "$1$2") // 2:05 pm is one cell
		if words := strings.FieldsFunc(line, func(r rune) bool { return r == ' ' || r == ';' || r == '\t' || r == '\n' || r == '\r' }); len(words) > 0 {
			b.WriteString(strings.Join(words, ";") + "\n")
			count++
		}
	}
	return b.String(), count
}

// postLoggerFile keeps a logger's file.
func (s *Server) postLoggerFile(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	v, data, err := uploaded(c, "file")
	if err == nil {
		var drafts []store.SeriesDraft
		drafts, err = s.readLogger(c, string(code), loggerFile{data: data, spot: v.Get("spot"), position: typed(v, "position"), unit: v.Get("unit"), anyway: v.Get("anyway") == "true"})
		if err == nil {
			_, _, err = s.store.AddRunReadings(c.Request().Context(), actorOf(c), string(code), drafts)
		}
	}
	return s.afterRun(c, code, v, "file", err)
}

// uploaded are the fields of a form with a file, and the file.
func uploaded(c echo.Context, name string) (url.Values, []byte, error) {
	m, err := c.MultipartForm()
	if err != nil {
		return url.Values{}, nil, &grow.Error{Kind: grow.Invalid, Message: "the file did not arrive whole; send it again", Cause: err}
	}
	v := url.Values(m.Value)
	if len(m.File[name]) == 0 {
		p := grow.Problems{name: "is missing"}
		return v, nil, p.Err("there is no file to read")
	}
	f, err := m.File[name][0].Open()
	if err != nil {
		return v, nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(f)
	return v, data, err
}

func (s *Server) postSeriesBack(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	series, err := strconv.ParseInt(v.Get("series"), 10, 64)
	if err == nil {
		_, err = s.store.VoidSeries(c.Request().Context(), actorOf(c), string(code), series)
	}
	return s.afterRun(c, code, v, "", err)
}

// postSterileForm makes sterile bags or the control, and leads on to their
// labels.
func (s *Server) postSterileForm(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	var p grow.Problems
	d := store.SterileDraft{ID: idOf(v), Count: 1, Control: v.Get("control") == "true", Recipe: text(v, "recipe"), Position: text(v, "position"), FilledOn: dateField(v, "filled_on", &p)}
	if n := wholeField(v, "count", &p); n != nil && !d.Control {
		d.Count = *n
	}
	err = p.Err("these sterile bags cannot be made")
	var bags []store.SterileBag
	if err == nil {
		bags, _, err = s.store.CreateSterile(c.Request().Context(), actorOf(c), string(code), d)
	}
	if err != nil {
		return s.afterRun(c, code, v, "sterile", err)
	}
	codes := make([]string, len(bags))
	for i, b := range bags {
		codes[i] = string(b.Code)
	}
	return c.Redirect(http.StatusSeeOther, "/print?codes="+strings.Join(codes, ","))
}

// sterilePage is a bag filled before the steam, or the control of a run.
type sterilePage struct {
	frame
	Bag     store.SterileBag
	Age     string
	Entries []store.StockEntry
	Batches []store.Batch
	Form    form
	Whats   []choice
}

// RunName is what the run is called in a sentence.
func (p sterilePage) RunName() string { return store.RunName(p.Bag.Run) }

func (s *Server) drawSterile(c echo.Context, status int, code grow.Code, form form) error {
	ctx := c.Request().Context()
	bag, log, err := s.store.Sterile(ctx, code)
	if err != nil {
		return err
	}
	title := "Sterile bag"
	if bag.Control {
		title = "Control bag"
	}
	f, _, err := s.frame(c, title)
	if err != nil {
		return err
	}
	page, err := s.store.Batches(ctx, store.BatchFilter{Limit: 10})
	if err != nil {
		return err
	}
	p := sterilePage{frame: f, Bag: bag, Entries: log, Batches: page.Batches, Form: form, Whats: words(grow.Whats()), Age: grow.Age(bag.Day, bag.FilledOn)}
	return s.show(c, status, "sterile", p)
}

func (s *Server) postSterileLog(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	d, err := parseEntryForm(v, code, s.store.Zone(ctx))
	if err == nil {
		_, _, err = s.store.AddStockEntry(ctx, actorOf(c), d)
	}
	return backTo(c, "/B/"+string(code), v, err, func(status int, f form) error { return s.drawSterile(c, status, code, f) })
}
