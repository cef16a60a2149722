package store

import (
	"cmp"
	"database/sql"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/grow/climate"
)

// airHour is one hour of a place's readings: means, and the extremes that pages
// draw. What was not measured is not a number.
type airHour struct {
	hour              int64
	temp, low, high   float64
	rh, co2, co2Worst float64
}

// placeAir is what a place's own instruments said.
type placeAir struct {
	track climate.Track // of temperature, with the lines between typed readings
	hours []airHour
}

// hourColumns are the columns of an hour in one text, a week of hours a row: for
// two years of hours one row each would take longer than adding up the readings.
const hourColumns = `SELECT group_concat(hour || ' ' || temps || ' ' || temp_sum || ' ' || coalesce(temp_min, '-') || ' ' || coalesce(temp_max, '-') || ' ' || rhs || ' ' || rh_sum
	|| ' ' || co2s || ' ' || co2_sum || ' ' || coalesce(co2_max, '-') || ' ' || logged, ';') FROM reading_hours WHERE place_id = ? AND hour >= ? GROUP BY hour / 168`

// readAir reads the hourly sums of a place from an hour on.
func (t *tx) readAir(place, from int64) (placeAir, error) {
	var out placeAir
	typed := map[int64]bool{}
	err := t.each(hourColumns, []any{place, from}, func(rows *sql.Rows) error {
		var week string
		if err := rows.Scan(&week); err != nil {
			return err
		}
		for line := range strings.SplitSeq(week, ";") {
			h, byHand, err := parseAirHour(line)
			if err != nil {
				return err
			}
			out.hours = append(out.hours, h)
			typed[h.hour] = byHand
		}
		return nil
	})
	slices.SortFunc(out.hours, func(a, b airHour) int { return cmp.Compare(a.hour, b.hour) })
	for _, h := range out.hours {
		if !math.IsNaN(h.temp) {
			out.track = append(out.track, climate.Hour{Start: h.hour, C: h.temp})
		}
	}
	out.track = out.track.WithLines(func(hour int64) bool { return typed[hour] })
	return out, err
}

// parseAirHour reads one hour of hourColumns; byHand says that all its readings
// were typed.
func parseAirHour(line string) (h airHour, byHand bool, err error) {
	var n [11]int64
	var there [11]bool
	i := 0
	for word := range strings.SplitSeq(line, " ") {
		if word != "-" && i < len(n) {
			if n[i], err = strconv.ParseInt(word, 10, 64); err != nil {
				return h, false, err
			}
			there[i] = true
		}
		i++
	}
	value := func(i int) float64 {
		if !there[i] {
			return math.NaN()
		}
		return float64(n[i]) / grow.ReadingScale
	}
	h = airHour{hour: n[0], temp: mean(n[2], n[1]), low: value(3), high: value(4), rh: mean(n[6], n[5]), co2: mean(n[8], n[7]), co2Worst: value(9)}
	return h, n[10] == 0, nil
}

// mean is a sum of readings over their number.
func mean(sum, n int64) float64 { return float64(sum) / float64(n) / grow.ReadingScale }

// AirDay is one day of a place's air, in the farm's zone. What was not measured is
// not a number; Hours is how many hours of temperature are known.
type AirDay struct {
	On              grow.Date
	Temp, Low, High float64
	RH              float64
	CO2, CO2Worst   float64
	Hours           int
}

// airDays are the days from one hour up to another on which anything was
// measured.
func airDays(hours []airHour, from, to int64, zone *time.Location) (out []AirDay) {
	var sums [3]sum
	day := AirDay{On: math.MinInt32}
	flush := func() {
		if day.On > math.MinInt32 {
			day.Temp, day.RH, day.CO2, day.Hours = sums[0].mean(), sums[1].mean(), sums[2].mean(), sums[0].n
			out = append(out, day)
		}
		sums = [3]sum{}
	}
	for _, h := range hours {
		if h.hour < from || h.hour >= to {
			continue
		}
		if on := grow.DateOf(time.Unix(h.hour*3600, 0), zone); on != day.On {
			flush()
			day = AirDay{On: on, Low: math.NaN(), High: math.NaN(), CO2Worst: math.NaN()}
		}
		sums[0].add(h.temp)
		sums[1].add(h.rh)
		sums[2].add(h.co2)
		day.Low, day.High, day.CO2Worst = lower(day.Low, h.low), higher(day.High, h.high), higher(day.CO2Worst, h.co2Worst)
	}
	flush()
	return out
}

// sum adds up what is a number.
type sum struct {
	of float64
	n  int
}

func (s *sum) add(v float64) {
	if !math.IsNaN(v) {
		s.of, s.n = s.of+v, s.n+1
	}
}

func (s sum) mean() float64 {
	if s.n == 0 {
		return math.NaN()
	}
	return s.of / float64(s.n)
}

// lower and higher pass over what is not a number.
func lower(a, b float64) float64 {
	if math.IsNaN(a) || b < a {
		return b
	}
	return a
}

func higher(a, b float64) float64 {
	if math.IsNaN(a) || b > a {
		return b
	}
	return a
}

// latest is the newest reading of a place, each value the newest that was
// measured.
func (t *tx) latest(place int64, f *Farm) (grow.AirReading, error) {
	var out grow.AirReading
	for column, into := range map[string]**float64{"temp": &out.TempC, "rh": &out.RHPct, "co2": &out.CO2ppm} {
		err := t.each(`SELECT at, `+column+` FROM readings WHERE place_id = ? AND at > ? AND `+column+` IS NOT NULL ORDER BY at DESC LIMIT 1`, []any{place, micros(t.now) - 24*hourMicros}, func(rows *sql.Rows) error {
			var at int64
			var v *int64
			err := rows.Scan(&at, &v)
			*into = grow.Unscaled(v)
			if seen := instant(at, f.Zone); seen.After(out.At) {
				out.At = seen
			}
			return err
		})
		if err != nil {
			return out, err
		}
	}
	return out, nil
}
