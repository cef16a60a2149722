package server

import (
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// A typed temperature outside these is asked about once: no bags stand there. One
// so far from the mean of the last day, in °C, is too (common practice).
const (
	oddlyCold = 0.0
	oddlyWarm = 40.0
	oddlyFar  = 15.0
)

// postTypedReading keeps what somebody read off an instrument.
func (s *Server) postTypedReading(c echo.Context) error {
	return s.postAir(c, func(code grow.Code, v url.Values, farm *store.Farm, p *grow.Problems) (said airState, err error) {
		u := farm.Writing
		r := grow.AirReading{At: s.store.Now().Truncate(time.Second), TempC: typedDegrees(u, v, "temp", p), RHPct: numberField(v, "rh", p), CO2ppm: numberField(v, "co2", p)}
		if at := timeField(v, "at", farm.Zone, p); at != nil {
			if r.At = *at; at.After(s.store.Now().Add(grow.AheadLimit)) {
				p.Add("at", "is in the future")
			}
		}
		if r.TempC != nil && v.Get("sure") == "" {
			odd, err := s.oddTemperature(c, code, *r.TempC)
			if err != nil {
				return said, err
			}
			if odd {
				p.Add("temp", "%s, sure? Tick below that it was so", u.TempWords(*r.TempC))
			}
		}
		checkTyped(r, s.store.Now(), u, p)
		if err := p.Err("this reading cannot be kept as it is"); err != nil {
			return said, err
		}
		kept, err := s.store.AddTyped(c.Request().Context(), actorOf(c), code, r)
		return keptReading(kept, r, u, farm), err
	})
}

// oddTemperature tells whether a temperature is asked about before it is kept.
func (s *Server) oddTemperature(c echo.Context, code grow.Code, temp float64) (bool, error) {
	if temp < oddlyCold || temp > oddlyWarm {
		return true, nil
	}
	air, err := s.store.Climate(c.Request().Context(), store.ClimateQuery{Place: code, Days: 1})
	return math.Abs(temp-air.LastDay) > oddlyFar, err // never, where nothing is known
}

// checkTyped names what cannot be kept at the form's own fields.
func checkTyped(r grow.AirReading, now time.Time, u grow.Units, p *grow.Problems) {
	field, words := r.Trouble(now, u)
	name := map[string]string{"at": "at", "temp_c": "temp", "rh_pct": "rh", "co2_ppm": "co2"}[field]
	switch {
	case words == "" || (*p)[name] != "":
	case name == "":
		p.Add("temp", "say a temperature, a humidity or carbon dioxide")
	default:
		p.Add(name, "%s", words)
	}
}

// postRoomForm writes a line into the room's log.
func (s *Server) postRoomForm(c echo.Context) error {
	return s.postAir(c, func(code grow.Code, v url.Values, farm *store.Farm, p *grow.Problems) (said airState, err error) {
		u := farm.Writing
		line := grow.RoomLine{ID: grow.ID(v.Get("id")), Kind: grow.RoomEvent(v.Get("kind")), Note: typed(v, "note"), TempC: typedDegrees(u, v, "set", p)}
		if at := timeField(v, "at", farm.Zone, p); at != nil {
			line.At = *at
		}
		if line.Kind == grow.RoomSetPoint && line.TempC == nil && v.Get("off") == "" {
			p.Add("set", "is missing: what was it set to?")
		}
		if line.Kind != grow.RoomSetPoint {
			line.TempC = nil
		}
		if line.TempC != nil && !grow.SetPointPossible(*line.TempC) {
			p.Add("set", "must be %s to %s %s", u.TempTyped(grow.ColdestSetPoint), u.TempTyped(grow.WarmestSetPoint), u.DegreeSign())
		}
		if err := p.Err("this line cannot be kept as it is"); err != nil {
			return said, err
		}
		e, _, err := s.store.AddRoomLine(c.Request().Context(), actorOf(c), code, line)
		return keptLine(e, u, farm), err
	})
}

// postAirTakeBack takes back a line of the log, or readings that came together.
func (s *Server) postAirTakeBack(c echo.Context) error {
	return s.postAir(c, func(code grow.Code, v url.Values, farm *store.Farm, p *grow.Problems) (airState, error) {
		ctx := c.Request().Context()
		switch {
		case v.Has("sensor"):
			return s.takeBackSpan(c, code, v, farm, p)
		case v.Has("undo"):
			n, err := s.store.UndoTakeBack(ctx, actorOf(c), code, rowNumber(v, "undo"))
			return airState{Words: fmt.Sprintf("Kept again: %s.", plural(n, "reading", "readings"))}, err
		}
		if v.Get("source") != "" {
			n, err := s.store.TakeBackReadings(ctx, actorOf(c), code, rowNumber(v, "source"))
			return airState{Words: fmt.Sprintf("Taken back: %s.", plural(int(n), "reading", "readings"))}, err
		}
		e, err := s.store.TakeBackRoomLine(ctx, actorOf(c), code, grow.ID(lowerID(v.Get("line"))))
		return airState{Words: "Taken back: " + e.Words + "."}, err
	})
}

// rowNumber is a number that a page gave, 0 where it is none: there is no such row.
func rowNumber(v url.Values, name string) int64 {
	n, err := strconv.ParseInt(v.Get(name), 10, 64)
	if err != nil {
		return 0
	}
	return n
}

// takeBackSpan takes back what a sensor sent over some time, or above a limit.
func (s *Server) takeBackSpan(c echo.Context, code grow.Code, v url.Values, farm *store.Farm, p *grow.Problems) (said airState, err error) {
	span := store.ReadingSpan{OverC: typedDegrees(farm.Writing, v, "over", p)}
	if v.Get("over_c") != "" {
		span.OverC = numberField(v, "over_c", p)
	}
	if from := timeField(v, "from", farm.Zone, p); from != nil {
		span.From = *from
	}
	if to := timeField(v, "to", farm.Zone, p); to != nil {
		span.To = *to
	}
	if v.Get("span") == "hour" {
		span = store.ReadingSpan{From: s.store.Now().Add(-time.Hour)}
	}
	if span == (store.ReadingSpan{}) {
		p.Add("from", "say from when, until when or over what")
	}
	if err := p.Err("nothing was taken back"); err != nil {
		return said, err
	}
	back, err := s.store.TakeBackSpan(c.Request().Context(), actorOf(c), code, rowNumber(v, "sensor"), span)
	return airState{Words: fmt.Sprintf("Taken back: %s.", plural(back.Readings, "reading", "readings")), Back: back.ID}, err
}

// askOfAir fills in what the page says of the last act and asks about a sensor.
func (s *Server) askOfAir(c echo.Context, code grow.Code, p *airPage) (err error) {
	ctx := c.Request().Context()
	if p.Said, err = s.saidOfAir(c, code); err != nil {
		return err
	}
	jumps, err := s.store.ReadingJumps(ctx, code)
	for _, j := range jumps {
		p.Jumps = append(p.Jumps, airJump{j})
	}
	if err != nil {
		return err
	}
	typed, err := s.store.TypedReadings(ctx, code)
	p.Typed = map[int64]string{}
	for source, r := range typed {
		p.Typed[source] = strings.Join(airWords(r, p.U), ", ")
	}
	return err
}

// postAirFacts says how large a room is and how its bags stand.
func (s *Server) postAirFacts(c echo.Context) error {
	return s.postAir(c, func(code grow.Code, v url.Values, _ *store.Farm, p *grow.Problems) (airState, error) {
		volume := numberField(v, "volume_m3", p)
		if err := p.Err("this place cannot be kept as it is"); err != nil {
			return airState{}, err
		}
		touching := map[string]*bool{"yes": new(true), "no": new(false)}[v.Get("touching")]
		_, _, err := s.store.PutPlaceFacts(c.Request().Context(), actorOf(c), code, func(f *store.PlaceFacts) error {
			f.Touching, f.VolumeM3 = touching, volume
			return nil
		})
		return airState{Words: "Kept: how large it is, how its bags stand."}, err
	})
}

// postAir does something about a place's air and leads back to its page, which
// says what was done, or shows the page with what was refused.
func (s *Server) postAir(c echo.Context, do func(grow.Code, url.Values, *store.Farm, *grow.Problems) (airState, error)) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return err
	}
	var p grow.Problems
	said, err := do(code, v, farm, &p)
	if err == nil {
		return s.leadToAir(c, code, said)
	}
	f, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	return s.drawAir(c, statusOf(grow.KindOf(err)), f)
}

func (s *Server) leadToAir(c echo.Context, code grow.Code, said airState) error {
	said.Page = code
	if err := s.sayOfAir(c, said); err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, grow.PlaceCode.Path(code)+"/air?did=said")
}
