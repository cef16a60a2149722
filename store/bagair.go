package store

import (
	"math"
	"time"

	"bagmark/grow"
	"bagmark/grow/climate"
)

// BagAir is the air that one bag had over its spawn run: up to the day it was seen
// grown over, went to fruiting or out, else to the last whole hour.
type BagAir struct {
	From  time.Time `json:"from"`
	Until time.Time `json:"until"`
	Ended string    `json:"ended"` // growing, grown_over, fruiting or out
	AirDays
	Curve grow.Cardinal `json:"curve"`
	Stays []BagStay     `json:"stays"`

	Exposure climate.Exposure `json:"-"`
	Band     climate.Band     `json:"-"`
}

// AirDays are what air did against a band, in days; what is not known is in none of
// them but DaysUnknown.
type AirDays struct {
	DaysMeasured    float64  `json:"days_measured"`
	DaysBetween     float64  `json:"days_between"`   // on the line between two readings typed by hand
	DaysSetPoint    float64  `json:"days_set_point"` // by what the thermostat was set to
	DaysUnknown     float64  `json:"days_unknown"`
	DaysAbove       float64  `json:"days_above"` // its band
	DaysBelow       float64  `json:"days_below"`
	DaysPastCeiling float64  `json:"days_past_ceiling"` // in the core
	DegreeDays      float64  `json:"degree_days"`       // out of its band, either way
	MeanC           *float64 `json:"mean_c"`            // of the air
	LowestC         *float64 `json:"lowest_c"`
	HighestC        *float64 `json:"highest_c"`
	Growth          *float64 `json:"growth"` // mean share of the best, over what is known
}

// DaysOf are the days of an exposure.
func DaysOf(e climate.Exposure) AirDays {
	return AirDays{e.Measured, e.Between, e.SetPoint, e.Unknown, e.Above, e.Below, e.PastCeiling, e.DegreeDays,
		numberOr(e.Mean), numberOr(e.Lowest), numberOr(e.Highest), numberOr(e.Rate)}
}

// BagStay is a bag's time in one place, of its spawn run.
type BagStay struct {
	Place    *string   `json:"place"` // null where nobody said
	From     time.Time `json:"from"`
	Until    time.Time `json:"until"`
	Touching bool      `json:"touching"`

	Exposure climate.Exposure `json:"-"`
}

// How a bag's spawn run ended.
const (
	runGrowing   = "growing"
	runGrownOver = "grown_over"
	runFruiting  = "fruiting"
	runOut       = "out"
)

// bagAir is nil where nothing is known of the air of any place.
func (t *tx) bagAir(f *Farm, b Batch, g bagRow, log []grow.Entry) (*BagAir, error) {
	air, err := t.airKnown()
	if err != nil || !air {
		return nil, err
	}
	species, _ := f.SpeciesOf(b.Species, b.Strain)
	curve, fit, err := t.growth(f, b.Species, b.Strain)
	if err != nil {
		return nil, err
	}
	out := &BagAir{From: b.InoculatedAt, Curve: species.Growth, Band: bandOf(species), Stays: []BagStay{}}
	if fit != nil {
		out.Curve = fit.Cardinal()
	}
	var all []climate.Stay
	out.Until, out.Ended = runEnd(g.status, t.now)
	out.Until = out.Until.In(f.Zone)
	for _, s := range staysOf(g.start(b, nil).Place, b.InoculatedAt, log) {
		if s.until.IsZero() || s.until.After(out.Until) {
			s.until = out.Until
		}
		if s.until.Before(s.from) || s.until.Equal(s.from) && len(out.Stays) > 0 {
			continue
		}
		in, touching, err := t.airUntilNow(f, s)
		if err != nil {
			return nil, err
		}
		all = append(all, in...)
		out.Stays = append(out.Stays, BagStay{textOr(s.place), s.from.In(f.Zone), s.until.In(f.Zone), touching, climate.Expose(in, out.Band, curve)})
	}
	out.Exposure = climate.Expose(all, out.Band, curve)
	out.AirDays = DaysOf(out.Exposure)
	return out, nil
}

// airUntilNow is one stay with its air: what was known at midnight, and the hours
// since.
func (t *tx) airUntilNow(f *Farm, s aStay) (in []climate.Stay, touching bool, err error) {
	midnight, stay := t.midnight(f), []aStay{s}
	in, err = inAir(stay, 0, midnight, func(place string) (placeKnown, error) { return t.knownAt(place, midnight) })
	if err != nil {
		return nil, false, err
	}
	today, err := inAir(stay, midnight, climate.HourOf(t.now), func(place string) (placeKnown, error) {
		return t.placeKnown(place, func(id int64) (placeAir, error) { return t.readAir(id, midnight) })
	})
	in = append(in, today...)
	return in, len(in) > 0 && in[0].OffsetC == climate.CoreTouchingC, err
}

// runEnd is when a bag's spawn run ended, and by what.
func runEnd(s grow.Status, now time.Time) (end time.Time, by string) {
	end, by = now, runGrowing
	for _, e := range []struct {
		at *time.Time
		by string
	}{{s.EndedAt, runOut}, {s.FruitingAt, runFruiting}, {s.GrownOverAt, runGrownOver}} {
		if e.at != nil && e.at.Before(end) {
			end, by = *e.at, e.by
		}
	}
	return end, by
}

// staysOf are a bag's stays by its own log, which must be in order and replayed.
func staysOf(place string, made time.Time, log []grow.Entry) []aStay {
	stays := []aStay{{place: place, from: made}}
	for _, e := range log {
		if (e.Kind == grow.KindMove || e.Kind == grow.KindFruiting) && e.Fits && e.VoidedBy == "" {
			stays = moved(stays, e.At, e.Place, e.Kind)
		}
	}
	return stays
}

// bandOf is the band of air that a species wants, for bags that stand alone.
func bandOf(s grow.Species) climate.Band {
	run := s.SpawnRun
	b := climate.Band{LowC: run.TempC.Low, TargetC: run.TempC.Typical, HighC: run.TempC.High, CeilingC: run.CeilingC.Value}
	if b.CeilingC == 0 {
		b.CeilingC = math.Inf(1)
	}
	return b
}
