package server

import (
	"context"
	"fmt"
	"mime"
	"net/http"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/grow/climate"
	"bagmark/grow/logfile"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// getRuns lists steriliser runs, newest first.
func (s *Server) getRuns(c echo.Context) error {
	q := queryOf(c)
	after, limit := q.text("after"), q.limit()
	if err := q.err(); err != nil {
		return err
	}
	page, err := s.store.Runs(c.Request().Context(), after, limit)
	if err != nil {
		return err
	}
	for i := range page.Runs {
		page.Runs[i].Payload = s.payloadNow(c, grow.LotCode, page.Runs[i].Code)
	}
	return answer(c, http.StatusOK, page)
}

// postRun puts a run on record.
func (s *Server) postRun(c echo.Context) error {
	var draft grow.RunDraft
	if err := readJSON(c, &draft); err != nil {
		return err
	}
	w, created, err := s.store.CreateRun(c.Request().Context(), actorOf(c), draft)
	if err != nil {
		return err
	}
	return s.answerRun(c, createdOr(created), w)
}

func (s *Server) answerRun(c echo.Context, status int, w store.RunWhole) error {
	w.Run.Payload = s.payloadNow(c, grow.LotCode, w.Run.Code)
	for i := range w.Lots {
		w.Lots[i].Payload = s.payloadNow(c, grow.LotCode, w.Lots[i].Code)
	}
	s.addSterilePayloads(c, w.Sterile)
	return answer(c, status, w)
}

func (s *Server) addSterilePayloads(c echo.Context, bags []store.SterileBag) {
	for i := range bags {
		bags[i].Payload = s.payloadNow(c, grow.BlankCode, bags[i].Code)
	}
}

// getRun gives a run with its readings and what they say.
func (s *Server) getRun(c echo.Context) error {
	text, err := param(c, "code")
	if err != nil {
		return err
	}
	w, err := s.store.Run(c.Request().Context(), text)
	if err != nil {
		return err
	}
	return s.answerRun(c, http.StatusOK, w)
}

// patchRun corrects a run: what the body leaves out stays, null takes back.
func (s *Server) patchRun(c echo.Context) error {
	text, err := param(c, "code")
	if err != nil {
		return err
	}
	raw, err := jsonBodyOf(c)
	if err != nil {
		return err
	}
	if err := decodeJSON(raw, new(grow.RunFields)); err != nil {
		return err
	}
	w, err := s.store.PatchRun(c.Request().Context(), actorOf(c), text, func(f *grow.RunFields) error { return overlayFields(raw, f) })
	if err != nil {
		return err
	}
	return s.answerRun(c, http.StatusOK, w)
}

// runReading is one typed reading.
type runReading struct {
	At    time.Time `json:"at"`
	TempC *float64  `json:"temp_c"`
}

// runReadings are readings of one place as JSON.
type runReadings struct {
	Probe    string       `json:"probe"`
	Spot     string       `json:"spot"`
	Position *string      `json:"position"`
	Readings []runReading `json:"readings"`
}

// postRunReadings keeps readings of a run: as JSON of one place, or a logger's
// file, each of whose columns is a place.
func (s *Server) postRunReadings(c echo.Context) error {
	text, err := param(c, "code")
	if err != nil {
		return err
	}
	var drafts []store.SeriesDraft
	if media, _, _ := mime.ParseMediaType(c.Request().Header.Get(echo.HeaderContentType)); media == "text/csv" {
		drafts, err = s.loggerDrafts(c, text)
	} else {
		drafts, err = typedReadings(c)
	}
	if err != nil {
		return err
	}
	w, created, err := s.store.AddRunReadings(c.Request().Context(), actorOf(c), text, drafts)
	if err != nil {
		return err
	}
	return s.answerRun(c, createdOr(created), w)
}

func typedReadings(c echo.Context) ([]store.SeriesDraft, error) {
	var body runReadings
	if err := readJSON(c, &body); err != nil {
		return nil, err
	}
	d := store.SeriesDraft{Probe: body.Probe, Spot: body.Spot, Position: body.Position}
	if d.Probe == "" {
		d.Probe = "typed"
	}
	if d.Spot == "" {
		d.Spot = spotOf(d.Probe, "")
	}
	var p grow.Problems
	for i, r := range body.Readings {
		if r.TempC == nil {
			p.Add(fmt.Sprintf("readings[%d].temp_c", i), "is missing")
			break
		}
		d.Points = append(d.Points, climate.Point{At: r.At, C: *r.TempC})
	}
	return []store.SeriesDraft{d}, p.Err("these readings cannot be kept as they are")
}

// loggerDrafts reads a logger's file from the body.
func (s *Server) loggerDrafts(c echo.Context, run string) ([]store.SeriesDraft, error) {
	data, err := bodyBytes(c)
	if err != nil {
		return nil, err
	}
	q := queryOf(c)
	file := loggerFile{data: data, spot: q.text("spot"), position: q.text("position"), unit: q.text("unit"), anyway: q.text("anyway") == "true"}
	return s.readLogger(c, run, file)
}

// loggerFile is a logger's file and what the person says of it.
type loggerFile struct {
	data           []byte
	spot, position string // of all columns, unless a head names the chamber
	unit           string // F where columns that name none are °F
	anyway         bool   // taken although its readings are of other days than the run
}

// mostApart is how far a file's first reading may be from the start of its run
// before somebody is asked: a logger's clock may be wrong by days.
const mostApart = 7 * 24 * time.Hour

// ofTheRun refuses readings of other days than their run, unless they are to be
// taken all the same.
func (f loggerFile) ofTheRun(run store.Run, drafts []store.SeriesDraft, zone *time.Location) error {
	if f.anyway || run.StartedAt == nil {
		return nil
	}
	for _, d := range drafts {
		if len(d.Points) == 0 {
			continue
		}
		if first := d.Points[0].At; first.Sub(*run.StartedAt).Abs() > mostApart {
			p := grow.Problems{}
			p.Add("file", "its readings are of %s, the run began %s: take it all the same?", first.In(zone).Format("2 Jan 2006"), run.StartedAt.In(zone).Format("2 Jan 2006"))
			return p.Err("these seem to be the readings of another run")
		}
	}
	return nil
}

// chamberHeads are parts of heads that name the chamber.
var chamberHeads = []string{"chamber", "kammer", "drain", "air", "ambient", "jacket"}

func (s *Server) readLogger(c echo.Context, run string, file loggerFile) ([]store.SeriesDraft, error) {
	ctx := c.Request().Context()
	w, err := s.store.Run(ctx, run)
	if err != nil {
		return nil, err
	}
	log, err := readRunLog(file.data, s.logFormat(ctx, w.Run, file.unit))
	if err != nil {
		p := grow.Problems{"file": err.Error()}
		return nil, p.Err("this file cannot be read as a logger's")
	}
	var out []store.SeriesDraft
	for i, probe := range log.Probes {
		d := store.SeriesDraft{Probe: probe.Name, Spot: spotOf(probe.Name, file.spot), Points: pointsOf(probe), Missing: probe.Missing + len(log.Skipped), Assumed: orNil(log.Assumed)}
		if strings.TrimSpace(d.Probe) == "" {
			d.Probe = "probe " + strconv.Itoa(i+1)
		}
		if r := []rune(d.Probe); len(r) > 60 {
			d.Probe = string(r[:60])
		}
		if file.position != "" && d.Spot == "core" {
			d.Position = &file.position
		}
		out = append(out, d)
	}
	return out, file.ofTheRun(w.Run, out, s.store.Zone(ctx))
}

// logFormat is what a logger's file of a run may leave open. A run of which nobody
// said when it began was on the day when it was put on record.
func (s *Server) logFormat(ctx context.Context, run store.Run, unit string) logfile.Format {
	how := logfile.Format{Zone: s.store.Zone(ctx), Fahrenheit: strings.EqualFold(unit, "F")}
	if run.StartedAt != nil {
		how.Start = *run.StartedAt
		return how
	}
	y, m, d := run.MadeAt.In(how.Zone).Date()
	how.Start = time.Date(y, m, d, 0, 0, 0, 0, how.Zone)
	return how
}

func readRunLog(data []byte, how logfile.Format) (logfile.Log, error) {
	sheet, err := logfile.Read(data)
	if err != nil {
		return logfile.Log{}, err
	}
	return sheet.Probes(how)
}

// orNil is a text, nil for none.
func orNil(text string) *string {
	if text == "" {
		return nil
	}
	return &text
}

func pointsOf(p logfile.Probe) []climate.Point {
	out := make([]climate.Point, len(p.Points))
	for i, x := range p.Points {
		out[i] = climate.Point(x)
	}
	return out
}

// spotOf is where a column's probe sat: in the chamber if its head says so, else
// as the person said. Nothing said is the chamber: a core must be claimed.
func spotOf(head, said string) string {
	low := strings.ToLower(head)
	for _, part := range chamberHeads {
		if strings.Contains(low, part) {
			return "chamber"
		}
	}
	for _, part := range []string{"core", "kern", "load", "product"} {
		if strings.Contains(low, part) {
			return "core"
		}
	}
	if said != "" {
		return said
	}
	return "chamber"
}

// postVoidSeries takes readings back; they stay on record.
func (s *Server) postVoidSeries(c echo.Context) error {
	text, err := param(c, "code")
	if err != nil {
		return err
	}
	series, err := strconv.ParseInt(c.Param("series"), 10, 64)
	if err != nil {
		return grow.Errorf(grow.NotFound, "there are no such readings")
	}
	w, err := s.store.VoidSeries(c.Request().Context(), actorOf(c), text, series)
	if err != nil {
		return err
	}
	return s.answerRun(c, http.StatusOK, w)
}

// postSterile makes sterile bags, or the control, of a run.
func (s *Server) postSterile(c echo.Context) error {
	text, err := param(c, "code")
	if err != nil {
		return err
	}
	draft := store.SterileDraft{Count: 1}
	if err := readJSON(c, &draft); err != nil {
		return err
	}
	bags, created, err := s.store.CreateSterile(c.Request().Context(), actorOf(c), text, draft)
	if err != nil {
		return err
	}
	s.addSterilePayloads(c, bags)
	return answer(c, createdOr(created), map[string][]store.SterileBag{"bags": bags})
}

// getSterileLeft lists what waits to be inoculated.
func (s *Server) getSterileLeft(c echo.Context) error {
	left, err := s.store.SterileLeft(c.Request().Context())
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string][]store.SterileLeft{"runs": left})
}

// getSterile gives one sterile bag.
func (s *Server) getSterile(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	return s.answerSterile(c, http.StatusOK, code, nil)
}

func (s *Server) answerSterile(c echo.Context, status int, code grow.Code, entry *store.StockEntry) error {
	bag, log, err := s.store.Sterile(c.Request().Context(), code)
	if err != nil {
		return err
	}
	bag.Payload = s.payloadNow(c, grow.BlankCode, bag.Code)
	return answer(c, status, struct {
		Bag     store.SterileBag   `json:"bag"`
		Entries []store.StockEntry `json:"entries"`
		Entry   *store.StockEntry  `json:"entry,omitempty"`
	}{bag, append([]store.StockEntry{}, log...), entry})
}

// postSterileEntry adds one entry to the log of a sterile bag.
func (s *Server) postSterileEntry(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	var draft grow.Draft
	if err := readJSON(c, &draft); err != nil {
		return err
	}
	if err := putBag(&draft, code); err != nil {
		return err
	}
	ctx := c.Request().Context()
	if _, _, err := s.store.Sterile(ctx, code); err != nil {
		return err
	}
	entry, created, err := s.store.AddStockEntry(ctx, actorOf(c), draft)
	if err != nil {
		return err
	}
	return s.answerSterile(c, createdOr(created), code, &entry)
}
