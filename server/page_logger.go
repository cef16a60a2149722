package server

import (
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/grow/climate"
	"bagmark/grow/logfile"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// loggerPage takes a logger's file: first it shows what it would become and how
// its columns were understood, then, confirmed, it is kept.
type loggerPage struct {
	frame
	Place   store.Place
	Form    form
	Preview *loggerPreview
	Done    string
}

// loggerPreview is what a file would become.
type loggerPreview struct {
	Content, Name  string
	Columns        []choice // with none
	Times          []choice
	Orders, Clocks []choice
	Map            logfile.RoomMap
	Remembered     bool
	Summary        []string
	Rows           []previewRow
	Problems       []logfile.Problem
	LeftOut        int
	MoreProblems   int
	heading        string
	sheet          *logfile.Sheet
	list           []grow.AirReading
	against        store.LoggerRows
}

// previewRow is a reading as it would be kept.
type previewRow struct{ At, Temp, RH, CO2 string }

const (
	previewRows     = 3
	previewProblems = 8
	mostFormField   = 4 << 10
)

func (s *Server) showLogger(c echo.Context) error {
	return s.drawLogger(c, http.StatusOK, form{}, nil)
}

func (s *Server) drawLogger(c echo.Context, status int, f form, preview *loggerPreview) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	w, err := s.store.Place(c.Request().Context(), code)
	if err != nil {
		return err
	}
	fr, _, err := s.frame(c, "A logger’s file: "+w.Place.Name)
	if err != nil {
		return err
	}
	return s.show(c, status, "logger", loggerPage{frame: fr, Place: w.Place.Place, Form: f, Preview: preview})
}

// postLogger shows what a file would become, or keeps it once that was confirmed.
func (s *Server) postLogger(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	data, v, err := loggerForm(c.Request())
	var preview *loggerPreview
	if err == nil {
		preview, err = s.loggerPreview(c, code, data, v)
	}
	if err == nil && v.Get("act") == "keep" {
		var kept store.ReadingsKept
		if kept, err = s.store.AddLoggerFile(ctx, actorOf(c), code, preview.Name, preview.list, preview.heading, preview.Map); err == nil {
			return s.leadToAir(c, code, keptFile(kept, len(preview.list)))
		}
	}
	if err != nil {
		f, ok := newForm(v).refused(err)
		if !ok {
			return err
		}
		return s.drawLogger(c, statusOf(grow.KindOf(err)), f, preview)
	}
	return s.drawLogger(c, http.StatusOK, newForm(v), preview)
}

// loggerPreview reads a file as the form says, or as one like it was read before,
// or as it looks.
func (s *Server) loggerPreview(c echo.Context, code grow.Code, data []byte, v url.Values) (*loggerPreview, error) {
	ctx := c.Request().Context()
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return nil, err
	}
	sheet, err := logfile.ReadDated(data)
	if err != nil {
		return nil, err
	}
	p := &loggerPreview{Name: v.Get("name"), heading: sheet.Key(), sheet: sheet}
	if p.Content, err = packSheet(data); err != nil {
		return nil, err
	}
	if p.Map, p.Remembered, err = s.store.LoggerMap(ctx, p.heading); err != nil {
		return nil, err
	}
	if !p.Remembered {
		p.Map = sheet.GuessRoom()
	}
	var problems grow.Problems
	if v.Has("time") {
		p.Map = mapOf(v)
	}
	shift := loggerShift(v, farm, s.store.Now(), &problems)
	p.offer()
	if err := problems.Err("this file cannot be read like this"); err != nil {
		return p, err
	}
	if p.list, p.Problems, err = sheet.Room(p.Map, farm.Zone, shift, s.store.Now()); err != nil {
		return p, err
	}
	if p.against, err = s.store.LoggerAgainst(ctx, code, p.list); err != nil {
		return p, err
	}
	p.tell(farm)
	return p, nil
}

func mapOf(v url.Values) logfile.RoomMap {
	return logfile.RoomMap{Time: v.Get("time"), Clock: v.Get("clock"), Temp: v.Get("temp"), RH: v.Get("rh"), CO2: v.Get("co2"),
		Fahrenheit: v.Get("unit") == "f", Order: logfile.Order(v.Get("order")), Zone: logfile.Clock(v.Get("zone"))}
}

// loggerShift is what a logger's clock was slow by: it showed a time when it was
// really now.
func loggerShift(v url.Values, farm *store.Farm, now time.Time, p *grow.Problems) time.Duration {
	shown := timeField(v, "shows", farm.Zone, p)
	if shown == nil {
		return 0
	}
	return now.Sub(*shown).Round(time.Minute)
}

// offer lists what may be chosen.
func (p *loggerPreview) offer() {
	p.Columns = []choice{{"", "none"}}
	for _, name := range p.sheet.Heads() {
		p.Columns, p.Times = append(p.Columns, choice{name, name}), append(p.Times, choice{name, name})
	}
	p.Orders = []choice{{string(logfile.YearFirst), "year, month, day"}, {string(logfile.DayFirst), "day, month, year"}, {string(logfile.MonthFirst), "month, day, year"}}
	p.Clocks = []choice{{string(logfile.ClockFarm), "as the clock on the wall"}, {string(logfile.ClockWinter), "winter time all year"}, {string(logfile.ClockUTC), "UTC"}}
	if _, fixed := p.Map.Zone.Offset(); fixed {
		p.Clocks = append(p.Clocks, choice{string(p.Map.Zone), strings.ToUpper(string(p.Map.Zone))})
	}
}

// tell says what the file would become.
func (p *loggerPreview) tell(farm *store.Farm) {
	u := farm.Writing
	if n := len(p.list); n > 0 {
		p.Summary = append(p.Summary, fmt.Sprintf("%s, from %s to %s.", plural(n, "reading", "readings"), u.DayTime(p.list[0].At.In(farm.Zone)), u.DayTime(p.list[n-1].At.In(farm.Zone))))
	}
	var points []climate.Point
	for _, r := range p.list {
		if r.TempC != nil {
			points = append(points, climate.Point{At: r.At, C: *r.TempC})
		}
	}
	low, high := extremes(points)
	if len(points) > 0 {
		p.Summary = append(p.Summary, fmt.Sprintf("Temperature from %s to %s.", u.Temp(low), u.TempWords(high)))
	}
	if gaps := climate.Silences(points); len(gaps) > 0 {
		p.Summary = append(p.Summary, fmt.Sprintf("%s without readings; the longest is %s from %s. They stay gaps.", plural(len(gaps), "time", "times"), hoursWords(gaps[0].Length()), u.DayTime(gaps[0].From.In(farm.Zone))))
	}
	if words := againstWords(p.against, len(p.list)); words != "" {
		p.Summary = append(p.Summary, words)
	}
	if _, fixed := p.Map.Zone.Offset(); fixed || p.Map.Zone == logfile.ClockUTC {
		p.Summary = append(p.Summary, fmt.Sprintf("Its clock is read as %s.", strings.ToUpper(string(p.Map.Zone))))
	}
	if p.Map.Unsure {
		p.Summary = append(p.Summary, "No date in it tells day from month: look at the rows below.")
	}
	for _, r := range p.list[:min(len(p.list), previewRows)] {
		row := previewRow{At: u.DayTime(r.At.In(farm.Zone))}
		if r.TempC != nil {
			row.Temp = u.TempWords(*r.TempC)
		}
		if r.RHPct != nil {
			row.RH = numberWords(*r.RHPct) + " %"
		}
		if r.CO2ppm != nil {
			row.CO2 = numberWords(*r.CO2ppm) + " ppm"
		}
		p.Rows = append(p.Rows, row)
	}
	p.LeftOut, p.MoreProblems = len(p.Problems), max(0, len(p.Problems)-previewProblems)
	p.Problems = p.Problems[:min(len(p.Problems), previewProblems)]
}

// againstWords says once what becomes of rows whose instants have a reading.
func againstWords(r store.LoggerRows, rows int) string {
	var parts []string
	if r.Clashing > 0 {
		parts = append(parts, fmt.Sprintf("%d of %d rows stand at instants that have a reading already; they are left as they are.", r.Clashing, rows))
	}
	if r.Known > 0 {
		parts = append(parts, fmt.Sprintf("%d of %d are on record already.", r.Known, rows))
	}
	if r.Filling > 0 {
		parts = append(parts, fmt.Sprintf("%s to a reading that lacks it.", plural(r.Filling, "row brings a value", "rows bring a value")))
	}
	switch {
	case rows == 0 || r.Brings() > 0:
	case r.Known == rows:
		return "All are on record already: nothing to keep."
	default:
		parts = append(parts, "Nothing to keep.")
	}
	return strings.Join(parts, " ")
}

// Brings tells whether there is anything to keep.
func (p loggerPreview) Brings() bool { return p.against.Brings() > 0 }

func extremes(points []climate.Point) (low, high float64) {
	for i, p := range points {
		if i == 0 || p.C < low {
			low = p.C
		}
		if i == 0 || p.C > high {
			high = p.C
		}
	}
	return low, high
}

// Field is a choice of the mapping's form with what is chosen now.
func (p loggerPage) Field(name, label, value string, choices []choice) field {
	f := p.Form.Field(name, label).Of(choices)
	f.Value = value
	return f
}

// Unit is the file's unit of temperature.
func (p loggerPreview) Unit() string { return map[bool]string{true: "f", false: "c"}[p.Map.Fahrenheit] }

// Units are the units a file may have.
func (p loggerPreview) Units() []choice { return []choice{{"c", "°C"}, {"f", "°F"}} }

// loggerForm reads the file and the fields of the form around it.
func loggerForm(r *http.Request) (data []byte, v url.Values, err error) {
	v = url.Values{}
	media, parameters, err := mime.ParseMediaType(r.Header.Get(echo.HeaderContentType))
	if err != nil || media != echo.MIMEMultipartForm {
		return nil, v, grow.Errorf(grow.Invalid, "choose a file")
	}
	parts := multipart.NewReader(r.Body, parameters["boundary"])
	for {
		part, err := parts.NextPart()
		var large *http.MaxBytesError
		switch {
		case errors.As(err, &large):
			return nil, v, err
		case errors.Is(err, io.EOF) && data != nil:
			return data, v, nil
		case errors.Is(err, io.EOF):
			return nil, v, grow.Errorf(grow.Invalid, "choose a file")
		case err != nil:
			return nil, v, &grow.Error{Kind: grow.Invalid, Message: "the form broke off; send it again", Cause: err}
		}
		switch name := part.FormName(); name {
		case "file":
			v.Set("name", part.FileName())
			data, err = readSheet(part)
		case "content":
			data, err = unpackSheet(part)
		default:
			var text []byte
			text, err = io.ReadAll(io.LimitReader(part, mostFormField))
			v.Set(name, string(text))
		}
		if err != nil {
			return nil, v, err
		}
	}
}
