package server

import (
	"fmt"
	"math"
	"net/http"

	"bagmark/grow"
	"bagmark/grow/climate"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// bagAirPage is what the air did to one bag over its spawn run.
type bagAirPage struct {
	frame
	Bag   store.Bag
	Words []string
	Room  string // how its forecast counts with the room
	Span  string
	Stays []stayLine
	Rests string // what the figures rest on
}

// stayLine is one stay in one place.
type stayLine struct {
	Place, Since, Words string
	Touching            bool
}

func (s *Server) showBagAir(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	b, err := s.store.Bag(c.Request().Context(), code)
	if err != nil {
		return err
	}
	f, farm, err := s.frame(c, fmt.Sprintf("Air of %s #%d", b.Batch.Code, b.Number))
	if err != nil {
		return err
	}
	p := bagAirPage{frame: f, Bag: b}
	if b.Air == nil {
		p.Words = []string{"Nothing is known of the air of any place yet.", "Type a reading on a room's page, give it a logger's file, or say what its thermostat is set to."}
		return s.show(c, http.StatusOK, "bag-air", p)
	}
	p.fill(*b.Air, farm)
	return s.show(c, http.StatusOK, "bag-air", p)
}

func (p *bagAirPage) fill(a store.BagAir, farm *store.Farm) {
	u := farm.Writing
	p.Words = climate.ExposureWords(a.Exposure, a.Band, u)
	if p.Bag.Forecast.Room != nil {
		p.Room = p.Bag.Forecast.Words[len(p.Bag.Forecast.Words)-1]
	}
	p.Span = fmt.Sprintf("From %s to %s, %s", u.DayTime(a.From), u.DayTime(a.Until), map[string]string{
		"growing": "still growing", "grown_over": "when it was seen grown over", "fruiting": "when it went to fruiting", "out": "when it went out"}[a.Ended])
	for _, s := range a.Stays {
		line := stayLine{Place: "no place given", Since: "from " + u.DayTime(s.From), Words: stayWords(s, u), Touching: s.Touching}
		if s.Place != nil {
			line.Place = *s.Place
		}
		p.Stays = append(p.Stays, line)
	}
	run := p.Bag.Species.SpawnRun
	p.Rests = fmt.Sprintf("Band of air %s to %s (%s), ceiling of the core %s (%s), growth from %s over a best of %s to %s (%s). A core is taken to be %s degrees warmer than the air, %s where bags touch (%s). Unknown hours count for nothing here.",
		u.Temp(run.TempC.Low), u.TempWords(run.TempC.High), run.TempC.Mark, u.TempWords(run.CeilingC.Value), run.CeilingC.Mark,
		u.Temp(a.Curve.MinC), u.Temp(a.Curve.OptC), u.TempWords(a.Curve.MaxC), a.Curve.Mark,
		u.TempDifference(climate.CoreAloneC), u.TempDifference(climate.CoreTouchingC), grow.CommonPractice)
}

// stayWords says how long a stay was and what the air was there.
func stayWords(s store.BagStay, u grow.Units) string {
	words := fmt.Sprintf("%.1f days", s.Until.Sub(s.From).Hours()/24)
	e := s.Exposure
	if math.IsNaN(e.Mean) {
		return words + ", nothing known"
	}
	words += ", mean " + u.TempWords(e.Mean)
	for _, part := range []struct {
		days float64
		is   string
	}{{e.Above, "over its band"}, {e.Below, "under"}, {e.Unknown, "unknown"}} {
		if part.days >= 0.05 {
			words += fmt.Sprintf(", %.1f %s", part.days, part.is)
		}
	}
	return words
}

// airLine is the air of a bag in one line, for its own page.
func airLine(b store.Bag) string {
	if b.Air == nil {
		return ""
	}
	return climate.ExposureShort(b.Air.Exposure)
}
