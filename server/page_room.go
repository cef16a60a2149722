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
	"bagmark/grow/climate"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// airPage is the air of one room, rack or shelf: what it suits, what it was, what
// was done there.
type airPage struct {
	frame
	store.RoomClimate
	Days      int // asked about; 0 for all
	Form      form
	Said      airState
	Jumps     []airJump        // asked about
	Typed     map[int64]string // the values of what was typed, by its source
	Verdict   []string         // the sentences on top
	Curves    string           // what growth alone would want
	Second    string           // what a second room would change
	Readings  []reading
	Quick     []string // temperatures for one tap
	Chart     *chart
	CO2Chart  *chart
	Lines     []speciesAir
	Rest      []speciesAir
	GapWords  []string
	More      int // gaps not listed
	Breath    []string
	Level     climate.Air
	Changes   []store.RoomChange
	Sources   []store.ReadingSource
	Species   []choice
	Periods   []choice
	EventKeys []choice
}

// reading is one value of the newest readings.
type reading struct{ Name, Value string }

// speciesAir is one species against the air.
type speciesAir struct {
	Name, Count, Band, Above, Below, Past, Unknown, Now string
	Marks                                               string
}

const usualAirDays = 30

func (s *Server) showAir(c echo.Context) error {
	v := url.Values{"plan": {c.QueryParam("plan")}, "plan_bags": {c.QueryParam("plan_bags")}}
	if err := setNewID(v, "id"); err != nil {
		return err
	}
	return s.drawAir(c, http.StatusOK, newForm(v))
}

func (s *Server) drawAir(c echo.Context, status int, form form) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	f, farm, err := s.frame(c, "Air")
	if err != nil {
		return err
	}
	q, query := queryOf(c), store.ClimateQuery{Place: code, Days: usualAirDays}
	if q.text("days") == "all" {
		query.Days = 0
	} else if n := q.number("days", 1, 3660); n > 0 {
		query.Days = n
	}
	if slug, bags := q.text("plan"), q.number("plan_bags", 1, 100000); slug != "" && bags > 0 {
		query.Planned = []store.PlannedBags{{Species: grow.Slug(slug), Bags: bags}}
	}
	if err := q.err(); err != nil {
		var typed bool
		if form, typed = form.refused(err); !typed {
			return err
		}
		status = http.StatusBadRequest
	}
	ctx := c.Request().Context()
	p := airPage{frame: f, Days: query.Days, Form: form}
	if p.RoomClimate, err = s.store.Climate(ctx, query); err != nil {
		return err
	}
	if p.Changes, err = s.store.RoomChanges(ctx, code); err != nil {
		return err
	}
	if p.Sources, err = s.store.ReadingSources(ctx, code, 8); err != nil {
		return err
	}
	if err := s.askOfAir(c, code, &p); err != nil {
		return err
	}
	p.Title = "Air: " + p.Room.Name
	p.fill(farm)
	return s.show(c, status, "air", p)
}

// fill puts into words what the page shows.
func (p *airPage) fill(farm *store.Farm) {
	p.Species = append([]choice{{"", "nothing"}}, speciesChoices(farm)...)
	p.Periods = []choice{{"7", "7 days"}, {"30", "30 days"}, {"90", "90 days"}, {"365", "a year"}, {"all", "all"}}
	for _, e := range grow.RoomEvents() {
		if e != grow.RoomSetPoint && e != grow.RoomNote {
			p.EventKeys = append(p.EventKeys, choice{string(e), capital(e.Words())})
		}
	}
	guests := p.Guests()
	p.Verdict, p.Curves, p.Second = p.verdict(guests), climate.CurveWords(p.One, guests, p.U), climate.TwoRoomsWords(p.Two, guests, p.U)
	p.newest()
	for _, s := range p.Stands {
		p.Lines = append(p.Lines, p.line(s))
	}
	for _, s := range p.Others {
		p.Rest = append(p.Rest, p.line(s))
	}
	p.gaps(farm.Zone)
	p.breathe()
	p.Chart = p.tempChart(farm)
	p.CO2Chart = p.co2Chart()
}

// verdict are the sentences on top: what suits whom, how it is now, what a change is
// worth.
func (p *airPage) verdict(guests []climate.Guest) (out []string) {
	out = append(out, climate.SuitWords(p.One, guests, p.U))
	if len(guests) == 0 || math.IsNaN(p.LastDay) {
		return out
	}
	out = append(out, fmt.Sprintf("Over the last day it was %s %s: %s.%s", p.U.Temp(p.LastDay), p.U.DegreeSign(), climate.OutWords(climate.At(guests, p.LastDay), p.U), p.thermostat()))
	if w := climate.WorthWords(p.One, guests, p.LastDay, p.U); w != "" {
		out = append(out, w)
	}
	return out
}

// thermostat says what it was last set to, nothing where nobody did.
func (p *airPage) thermostat() string {
	for _, e := range p.Log { // newest first
		if e.Kind == grow.RoomSetPoint && e.TakenBackAt == nil && e.TempC != nil {
			return fmt.Sprintf(" The thermostat is set to %s since %s.", p.U.Temp(*e.TempC), dayWords(e.At))
		}
	}
	return ""
}

// Spared says who was out of band over the days shown, and would not have been at
// the set-point that suits.
func (p airPage) Spared() string {
	if !p.One.Possible {
		return ""
	}
	var parts []string
	for _, s := range p.Stands {
		if days := s.Exposure.Out(); s.Bags > 0 && days >= 1 && s.Band.ForOffset(s.OffsetC).Off(p.One.InBand.C) == 0 {
			parts = append(parts, fmt.Sprintf("%s %.1f days (%s)", s.Species.Name, days, plural(s.Bags, "bag", "bags")))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return fmt.Sprintf("Of the %.1f days known below the air was out of band for %s; a steady %s would have spared them that.", p.Known, strings.Join(parts, ", "), p.U.Temp(p.One.InBand.C))
}

// newest lists the newest values, and the temperatures offered for one tap.
func (p *airPage) newest() {
	if v := p.Newest.TempC; v != nil {
		p.Readings = append(p.Readings, reading{"temperature", p.U.TempWords(*v)})
	}
	if v := p.Newest.RHPct; v != nil {
		p.Readings = append(p.Readings, reading{"humidity", numberWords(math.Round(*v)) + " %"})
	}
	if v := p.Newest.CO2ppm; v != nil {
		p.Readings = append(p.Readings, reading{"carbon dioxide", numberWords(math.Round(*v)) + " ppm"})
		p.Level = climate.AirAt(*v)
	}
	around := p.LastDay
	if math.IsNaN(around) && p.One.Possible {
		around = p.One.InBand.C
	}
	if math.IsNaN(around) {
		around = 22
	}
	middle, step := around, 0.5
	if p.U.Temperature == grow.Fahrenheit {
		middle, step = p.U.Degrees(around), 1
	}
	for i := -3; i <= 3; i++ {
		p.Quick = append(p.Quick, strconv.FormatFloat(math.Round(middle/step)*step+float64(i)*step, 'f', 1, 64))
	}
}

func (p *airPage) line(s store.Standing) speciesAir {
	run, e := s.Species.SpawnRun, s.Exposure
	band := s.Band.ForOffset(s.OffsetC)
	name := capital(s.Species.Name)
	if s.Species.Strain != "" {
		name += ", " + s.Species.Strain
	}
	l := speciesAir{Name: name, Count: plural(s.Bags, "bag", "bags"),
		Band:  fmt.Sprintf("%s to %s", p.U.Temp(band.LowC), p.U.Temp(band.HighC)),
		Above: daysWords(e.Above), Below: daysWords(e.Below), Past: daysWords(e.PastCeiling), Unknown: daysWords(e.Unknown),
		Marks: fmt.Sprintf("band %s, ceiling %s", run.TempC.Mark, run.CeilingC.Mark)}
	if strings.HasPrefix(string(s.Species.Growth.Mark), "fitted") {
		l.Marks += ", growth curve " + string(s.Species.Growth.Mark)
	}
	if s.Planned > 0 {
		l.Count += fmt.Sprintf(", %d planned", s.Planned)
	}
	if s.Touching {
		l.Count += ", touching"
	}
	return l
}

// daysWords writes a number of days with a decimal, and nothing at all as none.
func daysWords(d float64) string {
	if d < 0.02 {
		return "none"
	}
	return strconv.FormatFloat(d, 'f', 1, 64)
}

const gapsShown = 6

// gaps lists the longest times of which nothing is known.
func (p *airPage) gaps(zone *time.Location) {
	list := slices.Clone(p.RoomClimate.Gaps)
	slices.SortFunc(list, func(a, b climate.Gap) int { return int(b.Length().Minutes()) - int(a.Length().Minutes()) })
	p.More = max(0, len(list)-gapsShown)
	for _, g := range list[:min(len(list), gapsShown)] {
		p.GapWords = append(p.GapWords, fmt.Sprintf("%s to %s, %s", p.U.DayTime(g.From.In(zone)), p.U.DayTime(g.To.In(zone)), hoursWords(g.Length())))
	}
}

func hoursWords(d time.Duration) string {
	if d >= 48*time.Hour {
		return fmt.Sprintf("%.1f days", d.Hours()/24)
	}
	return plural(int(math.Round(d.Hours())), "hour", "hours")
}

// usualBagKg stands in for bags whose weight nobody gave (common practice).
const usualBagKg = 2.5

// kilograms is a mass of bags, whole where it is large anyhow.
func kilograms(kg float64, u grow.Units) string {
	if u.Weight == grow.ImperialWeight {
		return fmt.Sprintf("%.0f lb", 1000*kg/grow.GramsPerPound)
	}
	return fmt.Sprintf("%.0f kg", kg)
}

// breathe estimates the carbon dioxide of what stands here.
func (p *airPage) breathe() {
	var kg float64
	for _, s := range p.Stands {
		if s.KgWet > 0 {
			kg += s.KgWet
		} else {
			kg += usualBagKg * float64(s.Bags)
		}
	}
	if kg == 0 || p.Facts.VolumeM3 == nil {
		return
	}
	low, high := climate.Breathe(kg, climate.HeatLowWPerKg, *p.Facts.VolumeM3, climate.CO2WarnPPM), climate.Breathe(kg, climate.HeatHighWPerKg, *p.Facts.VolumeM3, climate.CO2WarnPPM)
	p.Breath = []string{
		fmt.Sprintf("About %s of growing bags in %s m³ breathe out %s to %s %s of carbon dioxide an hour.", kilograms(kg, p.U), numberWords(*p.Facts.VolumeM3), p.U.Small(low.GramsPerHour), p.U.Small(high.GramsPerHour), p.U.Unit(grow.Kitchen)),
		fmt.Sprintf("Shut, this room would rise %.0f to %.0f ppm an hour: from outside air past 5,000 ppm, the usual limit of a working day, in %.1f to %.1f hours, past 15,000, where people must leave, in %.0f to %.0f.", low.RisePPMPerHour, high.RisePPMPerHour, high.HoursToWarn, low.HoursToWarn, high.HoursToLeave, low.HoursToLeave),
		fmt.Sprintf("%.0f to %.0f m³ of fresh air an hour hold it at 5,000 ppm; %.0f to %.0f at 1,000.", low.FreshM3PerHour, high.FreshM3PerHour, climate.FreshAir(low.LitresPerHour, 1000), climate.FreshAir(high.LitresPerHour, 1000)),
	}
}
