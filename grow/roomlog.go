package grow

import (
	"slices"
	"time"
)

// RoomEvent is what was done in a room, or to its air.
type RoomEvent string

// The events. What a thermostat was set to is one too; its number is a
// temperature, none where it was switched off.
const (
	RoomCleaned    RoomEvent = "cleaned"
	RoomFilter     RoomEvent = "filter_changed"
	RoomScrubbed   RoomEvent = "air_scrubbed"
	RoomPressure   RoomEvent = "over_pressure"
	RoomNoPressure RoomEvent = "over_pressure_off"
	RoomDoor       RoomEvent = "door_left_open"
	RoomDust       RoomEvent = "dusty_work_outside"
	RoomSetPoint   RoomEvent = "set_point"
	RoomNote       RoomEvent = "note"
)

// RoomEvents are the events in the order in which pages offer them.
func RoomEvents() []RoomEvent {
	return []RoomEvent{RoomCleaned, RoomFilter, RoomScrubbed, RoomPressure, RoomNoPressure, RoomDoor, RoomDust, RoomSetPoint, RoomNote}
}

// Words is the event as a line of a log.
func (e RoomEvent) Words() string {
	switch e {
	case RoomCleaned:
		return "cleaned"
	case RoomFilter:
		return "filter changed"
	case RoomScrubbed:
		return "air scrubbed"
	case RoomPressure:
		return "over-pressure on"
	case RoomNoPressure:
		return "over-pressure off"
	case RoomDoor:
		return "door left open"
	case RoomDust:
		return "dusty work outside"
	case RoomSetPoint:
		return "thermostat set"
	}
	return "note"
}

// RoomLine is one line of a room's log.
type RoomLine struct {
	ID    ID        `json:"id"`
	Kind  RoomEvent `json:"kind"`
	At    time.Time `json:"at"`
	TempC *float64  `json:"temp_c,omitempty"`
	Note  string    `json:"note,omitempty"`
}

// What a thermostat can be set to, °C.
const ColdestSetPoint, WarmestSetPoint = 0, 45

// SetPointPossible tells whether a thermostat can be set to it.
func SetPointPossible(c float64) bool { return inside(c, ColdestSetPoint, WarmestSetPoint) }

// Validate names every field that is wrong.
func (l RoomLine) Validate(now time.Time) error {
	var p Problems
	if _, err := ParseID(string(l.ID)); err != nil {
		p.Add("id", "must be a UUID")
	}
	if !slices.Contains(RoomEvents(), l.Kind) {
		p.Add("kind", "must be one of %s", joinWords(RoomEvents()))
	}
	if l.At.Before(earliestReading) || l.At.After(now.Add(5*time.Minute)) {
		p.Add("at", "must be from the year 2000 to five minutes ahead")
	}
	if l.TempC != nil && l.Kind != RoomSetPoint {
		p.Add("temp_c", "belongs to set_point only")
	}
	if l.TempC != nil && !SetPointPossible(*l.TempC) {
		p.Add("temp_c", "must be 0 to 45 °C: is it in Fahrenheit?")
	}
	if l.Kind == RoomNote && l.Note == "" {
		p.Add("note", "is missing")
	}
	if l.Note != "" {
		checkText(&p, "note", l.Note, 1, 500)
	}
	return p.Err("this line cannot be kept as it is")
}
