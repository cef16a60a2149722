package server

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// calendarPage gives whoever looks at it an address for a calendar program.
type calendarPage struct {
	frame
	Address string // shown once
	Since   *time.Time
	Person  bool // a program has no calendar
}

func (s *Server) showCalendar(c echo.Context) error { return s.drawCalendar(c, "") }

func (s *Server) drawCalendar(c echo.Context, address string) error {
	f, _, err := s.frame(c, "Calendar")
	if err != nil {
		return err
	}
	p := calendarPage{frame: f, Address: address, Person: actorOf(c).PersonID != 0}
	if p.Since, err = s.store.CalendarSince(c.Request().Context(), actorOf(c)); err != nil {
		return err
	}
	return s.show(c, http.StatusOK, "calendar", p)
}

// postCalendar makes an address, in place of the one before.
func (s *Server) postCalendar(c echo.Context) error {
	secret, err := s.store.NewCalendar(c.Request().Context(), actorOf(c))
	if err != nil {
		return err
	}
	s.note(c, "calendar address made")
	return s.drawCalendar(c, c.Scheme()+"://"+c.Request().Host+"/calendar/"+secret+".ics")
}

func (s *Server) postEndCalendar(c echo.Context) error {
	if err := s.store.EndCalendar(c.Request().Context(), actorOf(c)); err != nil {
		return err
	}
	s.note(c, "calendar address ended")
	return c.Redirect(http.StatusSeeOther, "/calendar")
}

// getCalendar is what a calendar program fetches. The address is all it shows
// to be let in.
func (s *Server) getCalendar(c echo.Context) error {
	ctx := c.Request().Context()
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	file, err := param(c, "file")
	if err != nil {
		return err
	}
	days, err := s.store.Calendar(ctx, strings.TrimSuffix(file, ".ics"))
	if err != nil {
		return err
	}
	var events []icalEvent
	for _, e := range days.Events {
		events = append(events, newICalEvent(e, c.Scheme()+"://"+c.Request().Host))
	}
	name := farm.Name
	if name == "" {
		name = "bagmark"
	}
	return c.Blob(http.StatusOK, "text/calendar; charset=utf-8", ical(name, days.AsOf, events))
}

// newICalEvent puts an event into words.
func newICalEvent(e store.CalendarEvent, site string) icalEvent {
	b := e.Batch
	bags := plural(e.Bags, "bag", "bags")
	out := icalEvent{From: e.From, To: e.To, URL: site + "/batches/" + string(b.Code),
		UID: fmt.Sprintf("%s-%s-%s@bagmark", e.Kind, b.Code, strconv.FormatInt(b.MadeAt.UnixMicro(), 36))}
	what := b.SpeciesName + onlyIf(b.Strain != nil, ", "+deref(b.Strain))
	switch e.Kind {
	case store.CalendarFirstLook:
		out.Summary = fmt.Sprintf("Hunt: %s, %s", b.Code, bags)
		out.Details = fmt.Sprintf("First look at %s (%s): turn each, look for bare patches and mould.", bags, what)
	case store.CalendarReady:
		out.Summary = fmt.Sprintf("Ready: %s, %s", b.Code, bags)
		out.Details = fmt.Sprintf("%s (%s) likely get ready in these days.", bags, what)
	default:
		out.Summary = fmt.Sprintf("Late: %s, %s", b.Code, bags)
		out.Details = fmt.Sprintf("If %s (%s) are not grown over by now, they are late for their kind: look where they are bare.", bags, what)
	}
	return out
}
