package server

import (
	"net/url"

	"bagmark/grow"
	"bagmark/store"
)

// writingField is one setting of how the farm writes.
type writingField struct {
	name, label string
	of          func(*grow.Units) *string
	choices     []choice
}

// writingFields are asked together, in this order.
var writingFields = []writingField{
	{"temperature", "Temperature", func(u *grow.Units) *string { return (*string)(&u.Temperature) }, []choice{{"c", "°C"}, {"f", "°F"}}},
	{"weight", "Weight", func(u *grow.Units) *string { return (*string)(&u.Weight) }, []choice{{"metric", "g and kg"}, {"imperial", "oz and lb"}}},
	{"paper", "Paper", func(u *grow.Units) *string { return (*string)(&u.Paper) }, []choice{{"a4", "A4"}, {"letter", "Letter"}}},
	{"clock", "Clock", func(u *grow.Units) *string { return (*string)(&u.Clock) }, []choice{{"24", "14:05"}, {"12", "2:05 pm"}}},
	{"week_starts", "Weeks start on", func(u *grow.Units) *string { return (*string)(&u.WeekStarts) }, []choice{{"monday", "Monday"}, {"sunday", "Sunday"}, {"saturday", "Saturday"}}},
}

// Writes are the fields of how the farm writes.
func (p settingsPage) Writes() (out []field) {
	for _, w := range writingFields {
		out = append(out, p.Form.Field(w.name, w.label).Of(w.choices))
	}
	return out
}

// writingFrom takes what the form says of writing; what it leaves out stays. Units
// follow where temperature and weight agree.
func writingFrom(v url.Values, to *store.Settings) {
	for _, w := range writingFields {
		if v.Has(w.name) {
			*w.of(&to.Writing) = v.Get(w.name)
		}
	}
	for _, system := range []string{"metric", "imperial"} {
		if u := grow.UnitsOf(system); u.Temperature == to.Temperature && u.Weight == to.Weight {
			to.Units = system
		}
	}
}
