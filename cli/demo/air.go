package demo

import (
	"math"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/store"
)

// The bag room's story: a sensor has written down two months of it. It is kept
// near 24 °C, which suits five of the six species; enoki, which likes it colder,
// stands there too and is nearly two over its band. The sensor was unplugged one night,
// and five weeks ago the filter was changed.

const (
	airDays  = 60
	airStep  = 30 * time.Minute
	bagRoom  = "bag room"
	unplugOn = 17 // days ago, in the evening
)

// air hands in what the sensor said, and what was done in the room.
func (f *farm) air(now time.Time) error {
	f.clock.moveTo(now)
	sensor := store.Actor{Person: "room sensor", Device: "room sensor", Role: store.Sensor}
	unplugged := f.at(unplugOn, 21, 0)
	var list []grow.AirReading
	for at := f.at(airDays, 0, 0); at.Before(now); at = at.Add(airStep) {
		if at.After(unplugged) && at.Before(unplugged.Add(11*time.Hour)) {
			continue
		}
		list = append(list, f.airAt(at))
	}
	for len(list) > 0 {
		n := min(len(list), store.MostReadings)
		if _, err := f.store.AddReadings(f.ctx, sensor, bagRoom, list[:n], nil, store.FromSensor); err != nil {
			return err
		}
		list = list[n:]
	}
	return f.roomLines()
}

// airAt is a room near 24 °C with a daily swing, opened at work.
func (f *farm) airAt(at time.Time) grow.AirReading {
	hour := float64(at.In(f.zone).Hour()) + float64(at.Minute())/60
	day := at.Sub(f.at(airDays, 0, 0)).Hours() / 24
	temp := math.Round(10*(23.9+0.4*math.Sin((hour-9)/24*2*math.Pi)+0.05*math.Sin(day/4))) / 10
	rh := math.Round(68 + 4*math.Sin(day/3))
	co2 := math.Round(1900 + 500*math.Sin((hour-16)/24*2*math.Pi) + 200*math.Sin(day/6))
	return grow.AirReading{At: at, TempC: &temp, RHPct: &rh, CO2ppm: &co2}
}

func (f *farm) roomLines() error {
	places, err := f.store.Places(f.ctx)
	if err != nil {
		return err
	}
	for _, p := range places {
		if err := f.takes(p); err != nil {
			return err
		}
		if p.Name != bagRoom {
			continue
		}
		volume := 48.0
		if _, _, err := f.store.PutPlaceFacts(f.ctx, maren, p.Code, func(facts *store.PlaceFacts) error { facts.VolumeM3 = &volume; return nil }); err != nil {
			return err
		}
		for _, l := range []grow.RoomLine{
			{Kind: grow.RoomFilter, At: f.at(35, 8, 30), Note: "the grey one, after eleven months"},
			{Kind: grow.RoomCleaned, At: f.at(20, 17, 0)},
			{Kind: grow.RoomDoor, At: f.at(6, 13, 10), Note: "about an hour, pallets came in"},
		} {
			l.ID = f.newID()
			if _, _, err := f.store.AddRoomLine(f.ctx, joss, p.Code, l); err != nil {
				return err
			}
		}
	}
	return nil
}

// takes says how many bags the bag room, and each tier of the fruiting room, take.
func (f *farm) takes(p store.Place) error {
	bags := 0
	switch {
	case p.Name == bagRoom:
		bags = 240
	case strings.HasPrefix(p.Name, "fruiting room"+grow.PlaceSeparator):
		bags = 40
	default:
		return nil
	}
	_, err := f.store.SetCapacity(f.ctx, maren, p.Code, &bags)
	return err
}
