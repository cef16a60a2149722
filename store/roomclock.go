package store

import (
	"math"

	"bagmark/grow"
	"bagmark/grow/climate"
	"bagmark/grow/forecast"
)

// Room clock rules
//
// A bag's forecast counts its days by the growth that the air of its places
// allowed, against the growth at which those days were learnt: for a published
// range, or the farm's own figures, that at the target of the band in a bag that
// stands alone; for a law learnt from the farm's batches the mean growth in the
// places of those of them most of whose days are known, which stand for the others;
// without any the target too (a first order: the rooms of those batches are then
// taken to have been right).
// Hours of which nothing is known go by as usual. What is said ahead is the mean of
// the last known days where the bag stands. Days of ripening are not counted so.

// roomClock is a clock and the paces it was made from.
type roomClock struct {
	*forecast.Clock
	paces climate.Paces
}

// roomClocks are the clocks of a batch's bags, shared by those that stood alike.
// Nil knows nothing of any room.
type roomClocks struct {
	usual   *roomClock
	own     map[int64]*roomClock
	against float64 // growth at which the law's days were learnt
	learnt  bool    // from the farm's own batches
}

func (c *roomClocks) of(bag int64) *roomClock {
	if c == nil {
		return nil
	}
	if own, ok := c.own[bag]; ok {
		return own
	}
	return c.usual
}

// clock is nil for a room of which nothing is known.
func (c *roomClock) clock() *forecast.Clock {
	if c == nil {
		return nil
	}
	return c.Clock
}

// counted tells whether anything is known of the rooms of a bag.
func (c *roomClock) counted() bool { return c != nil && (c.paces.Known > 0 || c.paces.Ahead.Known > 0) }

// roomClocks are nil where nothing is known of any place, and for a species whose
// curve says nothing at its own target.
func (t *tx) roomClocks(f *Farm, b Batch, species grow.Species, law learnt) (*roomClocks, error) {
	air, err := t.airKnown()
	if err != nil || !air {
		return nil, err
	}
	curve, _, err := t.growth(f, b.Species, b.Strain)
	if err != nil {
		return nil, err
	}
	out := &roomClocks{own: map[int64]*roomClock{}}
	if out.against, err = t.usualGrowth(f, law.from, curve); err != nil {
		return nil, err
	}
	if out.learnt = out.against > 0; !out.learnt {
		out.against = curve.Rate(species.SpawnRun.TempC.Typical + climate.CoreAloneC)
	}
	if out.against < climate.LeastUsual {
		return nil, nil
	}
	stays, err := t.stays(b)
	if err != nil {
		return nil, err
	}
	midnight := t.midnight(f)
	made := map[string]*roomClock{}
	of := func(list []aStay) (*roomClock, error) {
		key := staysKey(list)
		if c, ok := made[key]; ok {
			return c, nil
		}
		in, err := inAir(list, 0, midnight, func(place string) (placeKnown, error) { return t.knownAt(place, midnight) })
		if err != nil {
			return nil, err
		}
		c := &roomClock{paces: climate.PacesOf(in, curve, out.against)}
		c.Clock = forecast.NewClock(1.0/24, c.paces.Hours, c.paces.Ahead.Pace)
		made[key] = c
		return c, nil
	}
	if out.usual, err = of(stays.usual); err != nil {
		return nil, err
	}
	for bag, list := range stays.own {
		if out.own[bag], err = of(list); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// RoomPace is how a forecast reckons with the room. The pace ahead and its
// temperatures are null where nothing was known of late.
type RoomPace struct {
	Days      float64  `json:"days"` // since inoculation, up to the last midnight
	DaysKnown float64  `json:"days_known"`
	Pace      *float64 `json:"pace"` // from now on; 1 is as usual
	AirC      *float64 `json:"air_c"`
	CoreC     *float64 `json:"core_c"`
}

func (c *roomClock) pace() *RoomPace {
	a := c.paces.Ahead
	out := &RoomPace{Days: float64(len(c.paces.Hours)) / 24, DaysKnown: float64(c.paces.Known) / 24, AirC: numberOr(a.AirC), CoreC: numberOr(a.CoreC)}
	if a.Known > 0 {
		out.Pace = &a.Pace
	}
	return out
}

// numberOr is null for what is not a number.
func numberOr(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// words say how the room was counted.
func (c *roomClocks) words(of *roomClock, f *Farm, species grow.Species) string {
	against := "at " + f.Writing.TempWords(species.SpawnRun.TempC.Typical)
	if c.learnt {
		against = "in your batches so far"
	}
	return climate.PaceWords(of.paces, against, f.Writing)
}
