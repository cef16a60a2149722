package store

import (
	"context"
	"encoding/json"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"bagmark/grow"
)

// Farm is the farm's settings, its conditions and its species: what almost
// every page needs. Treat it as read-only.
type Farm struct {
	Settings
	Zone       *time.Location
	Conditions grow.Conditions
	Species    []grow.Species  // as the farm has them
	Own        []grow.Override // the farm's own figures, of species and of strains
}

// mostBuyerLines is how many characters of its own a farm has on a buyer's label.
const mostBuyerLines = 120

// Writing is how the farm writes temperatures, weights, times and weeks.
type Writing = grow.Units

// Settings are what an owner may change.
type Settings struct {
	Name         string      `json:"name"`
	TimeZone     string      `json:"time_zone"`
	Public       string      `json:"public"` // "" until set
	Margin       float64     `json:"margin"`
	FirstLookDay int         `json:"first_look_day"`
	Units        string      `json:"units"` // metric or imperial: the usual temperature and weight of Writing
	Writing                  // as the farm's pages and papers have it
	DefaultSheet string      `json:"default_sheet"`
	Grown        []grow.Slug `json:"grown"`       // species grown here; empty: not said
	BuyerLines   string      `json:"buyer_lines"` // the farm's own on a buyer's label
	// F0Target and F0TargetSteam are what a steriliser run under pressure, and one
	// of open steam, is held against, in minutes at 121.1 °C; 0 for nothing.
	F0Target      float64 `json:"f0_target"`
	F0TargetSteam float64 `json:"f0_target_steam"`
	AltitudeM     float64 `json:"altitude_m"` // above the sea
	LoadBags      int     `json:"load_bags"`  // bags in one steriliser load; 0: not said
	// Listened is the address last listened on, SetUp whether the farm has been
	// set up. Neither is a setting.
	Listened string `json:"-"`
	SetUp    bool   `json:"-"`
}

type cachedFarm struct {
	sync.Mutex
	farm *Farm
}

// Farm gives the farm as it is now. It is kept in memory until a setting
// changes.
func (s *Store) Farm(ctx context.Context) (*Farm, error) {
	s.farm.Lock()
	defer s.farm.Unlock()
	if s.farm.farm != nil {
		return s.farm.farm, nil
	}
	var f *Farm
	err := s.reading(ctx, func(t *tx) (err error) { f, err = t.loadFarm(); return err })
	if err == nil {
		s.farm.farm = f
	}
	return f, err
}

// current tells whether f is the farm as it is now, so that what rests on it may
// be kept in memory.
func (s *Store) current(f *Farm) bool {
	s.farm.Lock()
	defer s.farm.Unlock()
	return s.farm.farm == f
}

// forgetFarm makes the next Farm read it anew; run it after a change has been
// committed.
func (s *Store) forgetFarm() {
	s.farm.Lock()
	s.farm.farm = nil
	s.farm.Unlock()
	s.counts.forget()
	s.laws.changed(0)
	s.tracks.changedFrom(0)
}

// farmChanged makes the next Farm read it anew once this is committed.
func (t *tx) farmChanged() {
	t.changesFarm = true
	t.after = append(t.after, t.store.forgetFarm)
}

// changing is writing with the farm as it is then: nobody changes a condition
// or a species between the decision and what is kept of it.
func (s *Store) changing(ctx context.Context, f func(*tx, *Farm) error) error {
	return s.writing(ctx, func(t *tx) error {
		farm, err := s.Farm(ctx)
		if err != nil {
			return err
		}
		return f(t, farm)
	})
}

// Zone is the time zone of the farm; UTC if that cannot be read.
func (s *Store) Zone(ctx context.Context) *time.Location {
	if f, err := s.Farm(ctx); err == nil {
		return f.Zone
	}
	return time.UTC
}

// Now is the store's clock.
func (s *Store) Now() time.Time { return s.now() }

func (t *tx) loadFarm() (*Farm, error) {
	f := &Farm{Conditions: grow.Conditions{}}
	var grown string
	var setUp *int64
	err := t.one(`SELECT name, time_zone, public, listened, margin, first_look_day, units, temperature, weight, paper, clock, week_starts,
		default_sheet, grown, buyer_lines, f0_target, f0_target_steam, altitude_m, load_bags, set_up_at FROM farm WHERE id = 1`, nil,
		&f.Name, &f.TimeZone, &f.Public, &f.Listened, &f.Margin, &f.FirstLookDay, &f.Units, &f.Temperature, &f.Weight, &f.Paper, &f.Clock, &f.WeekStarts,
		&f.DefaultSheet, &grown, &f.BuyerLines, &f.F0Target, &f.F0TargetSteam, &f.AltitudeM, &f.LoadBags, &setUp)
	if err != nil {
		return nil, err
	}
	f.SetUp = setUp != nil
	if err := json.Unmarshal([]byte(grown), &f.Grown); err != nil {
		return nil, err
	}
	if f.Zone, err = time.LoadLocation(f.TimeZone); err != nil {
		return nil, &grow.Error{Kind: grow.Internal, Message: "the farm's time zone " + f.TimeZone + " is not known to this program", Cause: err}
	}
	if err := t.loadConditions(f); err != nil {
		return nil, err
	}
	return f, t.loadSpecies(f)
}

// PutSettings changes the settings: change writes onto them as they stand.
// Every faulty field is named. Runs are judged anew by another target.
func (s *Store) PutSettings(ctx context.Context, by Actor, change func(*Settings) error) error {
	return s.writing(ctx, func(t *tx) error {
		farm, err := t.loadFarm()
		if err != nil {
			return err
		}
		settings := farm.Settings
		if err := change(&settings); err != nil {
			return err
		}
		if err := settings.validate(farm.Knows); err != nil {
			return err
		}
		t.farmChanged()
		if err := t.putSettings(settings); err != nil {
			return err
		}
		if settings.F0Target == farm.F0Target && settings.F0TargetSteam == farm.F0TargetSteam && settings.AltitudeM == farm.AltitudeM {
			return nil
		}
		if farm, err = t.loadFarm(); err != nil {
			return err
		}
		return t.judgeRuns(farm, by)
	})
}

func (t *tx) putSettings(change Settings) error {
	grown, err := json.Marshal(append([]grow.Slug{}, change.Grown...))
	if err != nil {
		return err
	}
	_, err = t.exec(`UPDATE farm SET name = ?, time_zone = ?, public = ?, margin = ?, first_look_day = ?, units = ?, temperature = ?, weight = ?, paper = ?, clock = ?, week_starts = ?,
		default_sheet = ?, grown = ?, buyer_lines = ?, f0_target = ?, f0_target_steam = ?, altitude_m = ?, load_bags = ?`,
		change.Name, change.TimeZone, change.Public, change.Margin, change.FirstLookDay, change.Units, string(change.Temperature), string(change.Weight), string(change.Paper), string(change.Clock), string(change.WeekStarts),
		change.DefaultSheet, string(grown), change.BuyerLines, change.F0Target, change.F0TargetSteam, change.AltitudeM, change.LoadBags)
	return err
}

// validate also writes the address in its one spelling, and what is not said of
// how the farm writes as is usual with its units.
func (s *Settings) validate(known func(grow.Slug) bool) error {
	var p grow.Problems
	if utf8.RuneCountInString(s.Name) > 60 {
		p.Add("name", "may have at most 60 characters")
	}
	if _, err := time.LoadLocation(s.TimeZone); err != nil || s.TimeZone == "" || s.TimeZone == "Local" {
		p.Add("time_zone", "must be the name of a time zone like Europe/Lisbon")
	}
	if s.Public != "" {
		a, err := grow.ParseAddress(s.Public)
		if err != nil {
			p.Add("public", "%s", err)
		}
		s.Public = string(a)
	}
	if !(s.Margin > 0 && s.Margin < 1) {
		p.Add("margin", "must be more than 0 and less than 1: 0.05 is 5 bags in 100")
	}
	if s.FirstLookDay < 1 || s.FirstLookDay > 365 {
		p.Add("first_look_day", "must be 1 to 365")
	}
	if s.Units != "metric" && s.Units != "imperial" {
		p.Add("units", "must be metric or imperial")
	}
	s.Writing = s.Writing.Or(grow.UnitsOf(s.Units))
	s.Writing.Check(&p)
	if utf8.RuneCountInString(s.BuyerLines) > mostBuyerLines {
		p.Add("buyer_lines", "may have at most %d characters", mostBuyerLines)
	}
	for field, v := range map[string]float64{"f0_target": s.F0Target, "f0_target_steam": s.F0TargetSteam} {
		if !(v >= 0 && v <= 1000) {
			p.Add(field, "must be 0 to 1000 minutes at 121.1 °C; 0 is no target")
		}
	}
	if !(s.AltitudeM >= -450 && s.AltitudeM <= 6000) {
		p.Add("altitude_m", "must be -450 to 6000 metres")
	}
	if s.LoadBags < 0 || s.LoadBags > grow.MostBags {
		p.Add("load_bags", "must be 0 to %d; 0 is not said", grow.MostBags)
	}
	for _, slug := range s.Grown {
		if !known(slug) {
			p.Add("grown", "%q is not a species this farm knows", slug)
		}
	}
	return p.Err("these settings cannot be kept as they are")
}

// SetListened keeps the address that the server listens on, for labels of a
// farm that has not set a public address.
func (s *Store) SetListened(ctx context.Context, address string) error {
	return s.writing(ctx, func(t *tx) error {
		_, err := t.exec(`UPDATE farm SET listened = ? WHERE listened <> ?1`, address)
		t.farmChanged()
		return err
	})
}

// SetPublic stores the farm's public address.
func (s *Store) SetPublic(ctx context.Context, address grow.Address) error {
	return s.writing(ctx, func(t *tx) error {
		_, err := t.exec(`UPDATE farm SET public = ?`, string(address))
		t.farmChanged()
		return err
	})
}

// nameKey is a name without regard to case or runs of spaces.
func nameKey(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), " ")) }
