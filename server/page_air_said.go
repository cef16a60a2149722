package server

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// airState is what a device last kept of a room's air: its page says so once, and
// offers to take it back.
type airState struct {
	Page   grow.Code `json:"page"`
	Words  string    `json:"words"`
	Source int64     `json:"source,omitempty"` // of readings
	Line   grow.ID   `json:"line,omitempty"`   // of the log
	Back   int64     `json:"back,omitempty"`   // a take-back of a sensor's readings
}

// Undo is the field of the form that undoes it, "" where nothing is to be undone;
// Number its value.
func (a airState) Undo() string {
	switch {
	case a.Source != 0:
		return "source"
	case a.Line != "":
		return "line"
	case a.Back != 0:
		return "undo"
	}
	return ""
}

// Number is what Undo undoes.
func (a airState) Number() string {
	return cmp.Or(string(a.Line), strconv.FormatInt(a.Source+a.Back, 10)) // one of the two is 0
}

// airJump is what the page asks about a sensor's readings.
type airJump struct{ store.ReadingJump }

// More are those after the first.
func (j airJump) More() int { return j.Readings - 1 }

// FirstText and LastText are the ends of its time, to the microsecond.
func (j airJump) FirstText() string { return j.First.Format(time.RFC3339Nano) }

// LastText is the other end.
func (j airJump) LastText() string { return j.Last.Format(time.RFC3339Nano) }

// Over is the temperature that parts those that jumped up from what else the
// sensor sent meanwhile, "" for a jump down.
func (j airJump) Over() string {
	if j.C < j.BeforeC {
		return ""
	}
	return strconv.FormatFloat((j.C+j.BeforeC)/2, 'f', 3, 64)
}

// sayOfAir keeps what the next page of a room's air says.
func (s *Server) sayOfAir(c echo.Context, said airState) error {
	ctx, who := c.Request().Context(), actorOf(c)
	defer s.devices.take(who.DeviceID)()
	d, err := s.deviceState(ctx, who)
	if err != nil {
		return err
	}
	d.Air = said
	return s.keepDeviceState(ctx, who, d)
}

// saidOfAir is that, nothing unless the page follows the act.
func (s *Server) saidOfAir(c echo.Context, page grow.Code) (airState, error) {
	if c.QueryParam("did") == "" {
		return airState{}, nil
	}
	d, err := s.deviceState(c.Request().Context(), actorOf(c))
	if err != nil || d.Air.Page != page {
		return airState{}, err
	}
	return d.Air, nil
}

// keptReading says what became of a reading that was typed.
func keptReading(kept store.ReadingsKept, r grow.AirReading, u grow.Units, farm *store.Farm) airState {
	words := strings.Join(airWords(r, u), ", ") + " at " + u.Time(r.At.In(farm.Zone))
	if kept.Stored == 0 && kept.Filled == 0 {
		return airState{Words: "On record already: " + words + "."}
	}
	return airState{Words: "Kept: " + words + ".", Source: kept.Source}
}

// keptFile says what became of the rows of a logger's file.
func keptFile(kept store.ReadingsKept, rows int) airState {
	brought := kept.Stored + kept.Filled
	words := fmt.Sprintf("%d of %d kept", brought, rows)
	if kept.Filled > 0 {
		words += fmt.Sprintf(", %d of them beside a reading that lacked the value", kept.Filled)
	}
	if n := rows - brought; n > 0 {
		words += fmt.Sprintf(", %d had a reading already", n)
	}
	said := airState{Words: words + "."}
	if brought > 0 {
		said.Source = kept.Source
	}
	return said
}

// keptLine says what became of a line of the log.
func keptLine(e store.RoomEntry, u grow.Units, farm *store.Farm) airState {
	words := e.Words
	switch {
	case e.Kind == grow.RoomSetPoint && e.TempC == nil:
		words = "thermostat switched off"
	case e.TempC != nil:
		words += " to " + u.TempWords(*e.TempC)
	case e.Kind == grow.RoomNote:
		words = "a note"
	}
	return airState{Words: fmt.Sprintf("Kept: %s, %s.", words, u.DayTime(e.At.In(farm.Zone))), Line: e.ID}
}

// airWords are the values of a reading with their units.
func airWords(r grow.AirReading, u grow.Units) (out []string) {
	if r.TempC != nil {
		out = append(out, u.TempWords(*r.TempC))
	}
	if r.RHPct != nil {
		out = append(out, numberWords(*r.RHPct)+" %")
	}
	if r.CO2ppm != nil {
		out = append(out, numberWords(*r.CO2ppm)+" ppm")
	}
	return out
}
