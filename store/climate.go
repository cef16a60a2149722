package store

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"time"

	"bagmark/grow"
	"bagmark/grow/climate"
)

// Climate rules
//
// A place's air is what its own instruments said, then those of what it stands
// in, then what a thermostat was set to; an hour known from none of them is
// unknown and counts for nothing. Bags growing over are held to the band of their
// species or strain for a bag that stands alone; where the place says that bags
// touch, the band moves down by what their cores are warmer. Bags in fruiting are
// not held to it.

// ClimateQuery asks for the air of a place over some days, and for set-points that
// also suit what is planned.
type ClimateQuery struct {
	Place   grow.Code
	Days    int // back from now; 0 for all
	Planned []PlannedBags
}

// PlannedBags are bags not yet made.
type PlannedBags struct {
	Species grow.Slug
	Bags    int
}

// Standing are bags of one species or strain that stand alike in a place.
type Standing struct {
	Species  grow.Species
	Touching bool
	Bags     int // not yet in fruiting
	Planned  int
	KgWet    float64 // of Bags, as far as their weight is known
	OffsetC  float64 // core above the air
	Band     climate.Band
	// Exposure is the place's air over the time asked about, against its band.
	Exposure climate.Exposure
}

// RoomClimate is the air of a place and what it suits.
type RoomClimate struct {
	Room     Room
	Parts    []Room // racks and shelves, by name
	Facts    PlaceFacts
	From, To time.Time
	// Newest is the newest of each value of the last day; MeasuredIn the place whose
	// instruments say so, "" where there are none.
	Newest     grow.AirReading
	MeasuredIn string
	LastDay    float64 // mean temperature of the last 24 hours, not a number if unknown
	Days       []AirDay
	Gaps       []climate.Gap // of temperature, at least an hour
	Known      float64       // days, of those asked about
	Stands     []Standing    // what stands here or is planned, the most bags first
	Others     []Standing    // the farm's other species, none standing
	Fruiting   int           // bags in fruiting that stand here
	One        climate.SetPoints
	Two        climate.Splits
	Log        []RoomEntry
}

// Guests are what the set-points are made for, in the order of Stands.
func (r RoomClimate) Guests() []climate.Guest { return guests(r.Stands) }

func guests(stands []Standing) []climate.Guest {
	out := make([]climate.Guest, 0, len(stands))
	for _, s := range stands {
		if g, ok := s.guest(); ok {
			out = append(out, g)
		}
	}
	return out
}

// guest is false for figures that make no curve.
func (s Standing) guest() (climate.Guest, bool) {
	c, err := climate.NewCurve(s.Species.Growth)
	if err != nil {
		return climate.Guest{}, false
	}
	name := s.Species.Name
	if s.Species.Strain != "" {
		name += " " + s.Species.Strain
	}
	return climate.Guest{Name: name, Weight: float64(s.Bags + s.Planned), Band: s.Band.ForOffset(s.OffsetC), Growth: c, OffsetC: s.OffsetC}, true
}

// Climate is the air of a place.
func (s *Store) Climate(ctx context.Context, q ClimateQuery) (out RoomClimate, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, err
	}
	if err := q.validate(farm); err != nil {
		return out, err
	}
	err = s.reading(ctx, func(t *tx) error {
		out, err = t.climate(farm, q)
		return err
	})
	if err != nil {
		return out, err
	}
	out.One, out.Two = climate.Suit(out.Guests()), climate.Share(out.Guests())
	return out, nil
}

func (q ClimateQuery) validate(f *Farm) error {
	var p grow.Problems
	if q.Days < 0 || q.Days > 3660 {
		p.Add("days", "must be 1 to 3660")
	}
	for _, planned := range q.Planned {
		if !f.Knows(planned.Species) {
			p.Add("plan", "%q is not a species this farm knows", planned.Species)
		}
		if planned.Bags < 1 || planned.Bags > 100000 {
			p.Add("plan_bags", "must be 1 to 100000")
		}
	}
	return p.Err("this cannot be asked like this")
}

func (t *tx) climate(f *Farm, q ClimateQuery) (out RoomClimate, err error) {
	r, err := t.byCode(codedPlaces, q.Place)
	if err != nil {
		return out, notThere(err)
	}
	if out.Room.Place, err = t.place(r); err != nil {
		return out, err
	}
	for _, step := range []func(*Farm, *RoomClimate, ClimateQuery) error{t.climateParts, t.climateAir, t.climateStands} {
		if err := step(f, &out, q); err != nil {
			return out, err
		}
	}
	out.Log, err = t.roomLines(f, `place_id = ?`, r.id)
	return out, err
}

// climateParts counts the bags and finds racks and shelves.
func (t *tx) climateParts(_ *Farm, out *RoomClimate, _ ClimateQuery) error {
	rooms, err := t.rooms()
	if err != nil {
		return err
	}
	for _, r := range rooms {
		switch {
		case r.Name == out.Room.Name:
			out.Room = r
		case grow.PlaceInside(r.Name, out.Room.Name):
			out.Parts = append(out.Parts, r)
		}
	}
	out.Facts, err = t.factsAround(out.Room.Name)
	return err
}

// factsAround are what was said of a place, or of what it stands in.
func (t *tx) factsAround(name string) (out PlaceFacts, err error) {
	err = t.around(name, func(place int64) error {
		f, err := t.placeFacts(place)
		if out.Touching == nil {
			out.Touching = f.Touching
		}
		if out.VolumeM3 == nil {
			out.VolumeM3 = f.VolumeM3
		}
		return err
	})
	return out, err
}

// climateAir fills in what the instruments said.
func (t *tx) climateAir(f *Farm, out *RoomClimate, q ClimateQuery) error {
	track, err := t.track(out.Room.Name)
	if err != nil {
		return err
	}
	air, err := t.airAround(f, out)
	if err != nil {
		return err
	}
	to := climate.HourOf(t.now) + 1
	from := to
	if len(track) > 0 {
		from = min(from, track[0].Start)
	}
	if len(air.hours) > 0 {
		from = min(from, air.hours[0].hour)
	}
	if q.Days > 0 {
		from = max(from, to-24*int64(q.Days))
	}
	out.From, out.To = time.Unix(from*3600, 0).In(f.Zone), t.now.In(f.Zone)
	out.Days = airDays(air.hours, from, to, f.Zone)
	out.Gaps = slices.DeleteFunc(track.Unknown(from, to-1), func(g climate.Gap) bool { return g.Length() < time.Hour })
	out.Known = float64(len(track.Between(from, to))) / 24
	var day sum
	for _, h := range track.Between(to-25, to) {
		day.add(h.C)
	}
	out.LastDay = day.mean()
	return nil
}

// airAround is what the nearest instruments said: those of the place, or of what
// it stands in.
func (t *tx) airAround(f *Farm, out *RoomClimate) (air placeAir, err error) {
	err = t.around(out.Room.Name, func(place int64) error {
		if out.MeasuredIn != "" {
			return nil
		}
		own, err := t.measured(place)
		if err != nil || len(own.hours) == 0 {
			return err
		}
		air = own
		if out.Newest, err = t.latest(place, f); err != nil {
			return err
		}
		return t.one(`SELECT name FROM places WHERE id = ?`, []any{place}, &out.MeasuredIn)
	})
	return air, err
}

// climateStands finds what stands in the place and holds its air to the bands.
func (t *tx) climateStands(f *Farm, out *RoomClimate, q ClimateQuery) error {
	stands, err := t.standing(f, out)
	if err != nil {
		return err
	}
	touching := out.Facts.Touching != nil && *out.Facts.Touching
	for _, planned := range q.Planned {
		s := find(&stands, planned.Species, "", touching)
		s.Planned += planned.Bags
	}
	present := len(stands)
	for _, species := range f.Species {
		if (len(f.Grown) == 0 || slices.Contains(f.Grown, species.Slug)) && !slices.ContainsFunc(stands[:present], func(s Standing) bool { return s.Species.Slug == species.Slug }) {
			find(&stands, species.Slug, "", touching)
		}
	}
	track, err := t.track(out.Room.Name)
	if err != nil {
		return err
	}
	from, to := climate.HourOf(out.From), climate.HourOf(t.now)
	for i := range stands {
		if err := t.hold(f, &stands[i], track, from, to); err != nil {
			return err
		}
	}
	out.Stands, out.Others = stands[:present], stands[present:]
	slices.SortStableFunc(out.Stands, func(a, b Standing) int {
		return cmp.Or(cmp.Compare(b.Bags+b.Planned, a.Bags+a.Planned), cmp.Compare(a.Species.Name, b.Species.Name))
	})
	return nil
}

// find gives the line of bags that stand alike, adding it if there is none.
func find(stands *[]Standing, slug grow.Slug, strain string, touching bool) *Standing {
	for i, s := range *stands {
		if s.Species.Slug == slug && s.Species.Strain == strain && s.Touching == touching {
			return &(*stands)[i]
		}
	}
	*stands = append(*stands, Standing{Species: grow.Species{Slug: slug, Strain: strain}, Touching: touching})
	return &(*stands)[len(*stands)-1]
}

// hold looks a line's species up and holds the air to its band.
func (t *tx) hold(f *Farm, s *Standing, track climate.Track, from, to int64) error {
	strain := s.Species.Strain
	s.Species, _ = f.SpeciesOf(s.Species.Slug, &strain)
	s.Species.Strain = strain // also one without figures of its own, but with a curve
	s.OffsetC = climate.CoreAloneC
	if s.Touching {
		s.OffsetC = climate.CoreTouchingC
	}
	s.Band = bandOf(s.Species)
	curve, fit, err := t.growth(f, s.Species.Slug, textOr(strain))
	if err != nil {
		return err
	}
	if fit != nil {
		s.Species.Growth = fit.Cardinal()
	}
	s.Exposure = climate.Expose([]climate.Stay{{From: from, To: to, Track: track, OffsetC: s.OffsetC}}, s.Band, curve)
	return nil
}

// standingRow are bags of one strain at one place.
type standingRow struct {
	species       grow.Slug
	strain, place string
	fruiting      bool
	bags          int
	grams         float64
}

// standsApart is the strain under which bags are counted: one with figures or a
// curve of its own, else "" for the species.
func (t *tx) standsApart(f *Farm, r standingRow) (string, error) {
	if r.strain == "" {
		return "", nil
	}
	species, _ := f.SpeciesOf(r.species, &r.strain)
	if species.Strain != "" {
		return species.Strain, nil
	}
	_, fit, err := t.growth(f, r.species, &r.strain)
	if err != nil || fit == nil {
		return "", err
	}
	return r.strain, nil
}

// standing counts the bags in the farm's care that stand in a place or any part
// of it, by species or strain (see standsApart), and by how they stand.
func (t *tx) standing(f *Farm, out *RoomClimate) (stands []Standing, err error) {
	rows, err := t.standingRows(out.Room.Name)
	if err != nil {
		return nil, err
	}
	touching := map[string]bool{}
	for _, r := range rows {
		if r.fruiting {
			out.Fruiting += r.bags
			continue
		}
		if _, known := touching[r.place]; !known {
			facts, err := t.factsAround(r.place)
			if err != nil {
				return nil, err
			}
			touching[r.place] = facts.Touching != nil && *facts.Touching
		}
		strain, err := t.standsApart(f, r)
		if err != nil {
			return nil, err
		}
		s := find(&stands, r.species, strain, touching[r.place])
		s.Bags, s.KgWet = s.Bags+r.bags, s.KgWet+r.grams/1000
	}
	return stands, nil
}

func (t *tx) standingRows(room string) (out []standingRow, err error) {
	err = t.each(`SELECT b.species, coalesce(b.strain, ''), coalesce(g.status ->> '$.place', ''), g.state = 'fruiting', count(*), coalesce(sum(b.bag_wet_g), 0)
		FROM bags g JOIN batches b ON b.id = g.batch_id WHERE g.state NOT IN ('finished', 'culled') GROUP BY 1, 2, 3, 4 ORDER BY 1, 2, 3`, nil, func(rows *sql.Rows) error {
		var r standingRow
		err := rows.Scan(&r.species, &r.strain, &r.place, &r.fruiting, &r.bags, &r.grams)
		if grow.PlaceWithin(r.place, room) {
			out = append(out, r)
		}
		return err
	})
	return out, err
}
