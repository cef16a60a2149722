package store

import (
	"cmp"
	"database/sql"
	"errors"
	"slices"
	"strings"

	"bagmark/grow"
)

// LoadFrom says how the farm knows what one steriliser load takes.
type LoadFrom string

// Where the figure is from.
const (
	LoadAsked   LoadFrom = "asked"    // given with the question
	LoadSetting LoadFrom = "settings" // kept by the farm
	LoadPlan    LoadFrom = "load plan"
	LoadRuns    LoadFrom = "runs" // the most that one of the last runs held
)

// AheadLoad is how many bags one steriliser load takes.
type AheadLoad struct {
	Bags *int     `json:"bags"` // null where nobody said and no run tells
	From LoadFrom `json:"from,omitempty"`
	Run  string   `json:"run,omitempty"` // that tells
}

// lastRuns is how many runs are looked at for what a load takes.
const lastRuns = 10

// loadSize is what the farm keeps, else what the last load plan adds up to, else
// the most bags that one of the last runs was for.
func (t *tx) loadSize(f *Farm) (out AheadLoad, err error) {
	if f.LoadBags > 0 {
		return AheadLoad{Bags: &f.LoadBags, From: LoadSetting}, nil
	}
	var bags int
	err = t.one(`SELECT r.name, (SELECT sum(value ->> '$.bags') FROM json_each(iif(json_type(r.load) = 'array', r.load, '[]')) WHERE type = 'object') AS n FROM steriliser_runs r WHERE n > 0
		ORDER BY coalesce(r.started_at, r.made_at) DESC, r.id DESC LIMIT 1`, nil, &out.Run, &bags)
	if err == nil {
		out.Bags, out.From = &bags, LoadPlan
		return out, nil
	}
	if !errors.Is(err, sql.ErrNoRows) {
		return out, err
	}
	err = t.one(`SELECT name, n FROM (SELECT r.name AS name, (SELECT sum(bags) FROM batches WHERE run_id = r.id) AS n FROM steriliser_runs r WHERE n > 0
		ORDER BY coalesce(r.started_at, r.made_at) DESC, r.id DESC LIMIT ?) ORDER BY n DESC, name LIMIT 1`, []any{lastRuns}, &out.Run, &bags)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return AheadLoad{}, nil
	case err == nil:
		out.Bags, out.From = &bags, LoadRuns
	}
	return out, err
}

// aheadPlaces tells what rooms and loads take, and how many sterile bags wait.
func (t *tx) aheadPlaces(f *Farm, base *aheadBase, out *WeekAhead) (err error) {
	if out.Load, err = t.loadSize(f); err != nil {
		return err
	}
	left, err := t.sterileLeft(f)
	if err != nil {
		return err
	}
	for _, l := range left {
		out.Sterile += l.Left
	}
	places, err := t.rooms()
	if err != nil {
		return err
	}
	out.Racks, out.Fruiting = base.roomsBy(places)
	return nil
}

// roomsBy shares the rooms in which bags stand between growing and fruiting, by
// what most bags in them do. A farm with one room for both has no fruiting room.
func (a *aheadBase) roomsBy(places []Room) (racks, fruiting AheadRoom) {
	racks.Rooms, fruiting.Rooms = []string{}, []string{}
	known := [2]bool{true, true}
	sums := [2]int{}
	for _, name := range sortedKeys(a.rooms) {
		use, to, i := a.rooms[name], &racks, 0
		if use.fruiting > use.growing {
			to, i = &fruiting, 1
		}
		to.Rooms, to.Bags = append(to.Rooms, name), to.Bags+use.growing+use.fruiting
		takes, ok := takesOf(places, name)
		known[i], sums[i] = known[i] && ok, sums[i]+takes
	}
	for i, r := range []*AheadRoom{&racks, &fruiting} {
		if known[i] && len(r.Rooms) > 0 {
			r.Capacity = &sums[i]
		}
	}
	return racks, fruiting
}

func sortedKeys(rooms map[string]*roomUse) (out []string) {
	for name := range rooms {
		out = append(out, name)
	}
	slices.SortFunc(out, func(a, b string) int {
		return cmp.Or(cmp.Compare(strings.ToLower(a), strings.ToLower(b)), cmp.Compare(a, b))
	})
	return out
}

// takesOf is how many bags a place takes: what is said of itself, else the sum of
// its parts where all of them say.
func takesOf(places []Room, name string) (sum int, ok bool) {
	for _, p := range places {
		if p.Name == name && p.CapacityBags != nil {
			return *p.CapacityBags, true
		}
	}
	for _, p := range places {
		rest, inside := strings.CutPrefix(p.Name, name+grow.PlaceSeparator)
		if !inside || strings.Contains(rest, grow.PlaceSeparator) {
			continue
		}
		n, said := takesOf(places, p.Name)
		if !said {
			return 0, false
		}
		sum, ok = sum+n, true
	}
	return sum, ok
}
