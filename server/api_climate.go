package server

import (
	"math"
	"net/http"
	"time"

	"bagmark/grow"
	"bagmark/grow/climate"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// roomClimate is the air of a place as programs get it: °C and grams whatever the
// farm's pages are written in.
type roomClimate struct {
	Place      store.Place      `json:"place"`
	From       time.Time        `json:"from"`
	Until      time.Time        `json:"until"`
	DaysKnown  float64          `json:"days_known"`
	Newest     *grow.AirReading `json:"newest"`
	MeasuredIn *string          `json:"measured_in"`
	LastDayC   *float64         `json:"last_day_c"`
	Days       []climateDay     `json:"days"`
	Gaps       []climateGap     `json:"gaps"`
	Stands     []climateStand   `json:"stands"`
	Fruiting   int              `json:"fruiting"`
	SetPoints  *setPoints       `json:"set_points"`
	TwoRooms   *twoRooms        `json:"two_rooms"`
	Words      []string         `json:"words"`
}

type climateDay struct {
	On       grow.Date `json:"on"`
	MeanC    *float64  `json:"mean_c"`
	LowestC  *float64  `json:"lowest_c"`
	HighestC *float64  `json:"highest_c"`
	RHPct    *float64  `json:"rh_pct"`
	CO2ppm   *float64  `json:"co2_ppm"`
	CO2Most  *float64  `json:"co2_most_ppm"`
	Hours    int       `json:"hours"`
}

type climateGap struct {
	From  time.Time `json:"from"`
	Until time.Time `json:"until"`
}

type climateStand struct {
	Species  grow.Slug     `json:"species"`
	Strain   *string       `json:"strain"`
	Bags     int           `json:"bags"`
	WetG     float64       `json:"wet_g"`
	Touching bool          `json:"touching"`
	CoreOver float64       `json:"core_over_air_c"`
	BandC    [3]float64    `json:"band_c"`
	CeilingC *float64      `json:"ceiling_c"`
	Curve    grow.Cardinal `json:"curve"`
	Exposure store.AirDays `json:"exposure"`
}

type setPoints struct {
	InBandC      float64 `json:"in_band_c"`
	OutC         float64 `json:"out_c"`
	FewestDaysC  float64 `json:"fewest_days_c"`
	RelativeDays float64 `json:"relative_days"`
	FairestC     float64 `json:"fairest_c"`
	LeastGrowth  float64 `json:"least_growth"`
}

type twoRooms struct {
	CoolC   float64  `json:"cool_c"`
	Cool    []string `json:"cool"`
	WarmC   float64  `json:"warm_c"`
	Warm    []string `json:"warm"`
	OneOutC *float64 `json:"one_out_c"`
	TwoOutC float64  `json:"two_out_c"`
}

// getClimate gives the air of a place: what its page shows.
func (s *Server) getClimate(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	q, query := queryOf(c), store.ClimateQuery{Place: code, Days: usualAirDays}
	if n := q.number("days", 1, 3660); n > 0 {
		query.Days = n
	}
	if err := q.err(); err != nil {
		return err
	}
	r, err := s.store.Climate(c.Request().Context(), query)
	if err != nil {
		return err
	}
	out := climateOf(r)
	out.Place.Payload = s.payloadNow(c, grow.PlaceCode, r.Room.Code)
	return answer(c, http.StatusOK, out)
}

func climateOf(r store.RoomClimate) roomClimate {
	guests, u := r.Guests(), grow.Units{}
	out := roomClimate{Place: r.Room.Place, From: r.From, Until: r.To, DaysKnown: r.Known, LastDayC: numberOrNull(r.LastDay), Fruiting: r.Fruiting,
		Days: []climateDay{}, Gaps: []climateGap{}, Stands: []climateStand{}, Words: []string{climate.SuitWords(r.One, guests, u)}}
	if !r.Newest.At.IsZero() {
		out.Newest = &r.Newest
	}
	if r.MeasuredIn != "" {
		out.MeasuredIn = &r.MeasuredIn
	}
	for _, d := range r.Days {
		out.Days = append(out.Days, climateDay{d.On, numberOrNull(d.Temp), numberOrNull(d.Low), numberOrNull(d.High), numberOrNull(d.RH), numberOrNull(d.CO2), numberOrNull(d.CO2Worst), d.Hours})
	}
	for _, g := range r.Gaps {
		out.Gaps = append(out.Gaps, climateGap{g.From.In(r.From.Location()), g.To.In(r.From.Location())})
	}
	for _, s := range r.Stands {
		out.Stands = append(out.Stands, standOf(s))
	}
	if one := r.One; one.Possible {
		out.SetPoints = &setPoints{one.InBand.C, one.InBand.Cost, one.FewestDays.C, one.FewestDays.Cost, one.Fairest.C, one.Fairest.Cost}
	}
	if two := r.Two.InBand; two.Possible {
		out.TwoRooms = &twoRooms{two.CoolC, namesOf(guests, two.Cool), two.WarmC, namesOf(guests, two.Warm), numberOrNull(two.One), two.Two}
		out.Words = append(out.Words, climate.TwoRoomsWords(r.Two, guests, u))
	}
	return out
}

func standOf(s store.Standing) climateStand {
	b := s.Band.ForOffset(s.OffsetC)
	out := climateStand{Species: s.Species.Slug, Bags: s.Bags, WetG: s.KgWet * 1000, Touching: s.Touching, CoreOver: s.OffsetC,
		BandC: [3]float64{b.LowC, b.TargetC, b.HighC}, CeilingC: numberOrNull(b.CeilingC), Curve: s.Species.Growth, Exposure: store.DaysOf(s.Exposure)}
	if s.Species.Strain != "" {
		out.Strain = &s.Species.Strain
	}
	return out
}

func namesOf(guests []climate.Guest, picked []int) []string {
	out := []string{}
	for _, i := range picked {
		out = append(out, guests[i].Name)
	}
	return out
}

// numberOrNull is null for what was not measured.
func numberOrNull(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
