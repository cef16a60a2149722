package store

import (
	"time"

	"bagmark/grow"
	"bagmark/grow/trace"
	"bagmark/grow/yield"
)

// bagRecord is what the statistics need to know of one bag.
type bagRecord struct {
	id         int64
	batch      int64
	species    grow.Slug
	inoculated grow.Date
	bag        trace.Bag
	place      string    // where it stands, or stood last
	fruited    bool      // went to fruiting
	fruitedIn  string    // "" for one that never fruited
	crop       yield.Bag // what it gave
	steps      steps     // the days of its way to it
	bench      time.Time // scanned live as it left the bench, zero if not
	life       life
	state      grow.State
	own        map[string]*string // its own conditions at making
	set        map[string]grow.Setting
	late       map[string]bool // changed after it was found contaminated
}

// batchRecord is what the statistics need to know of one batch.
type batchRecord struct {
	conditions map[string]string
	fields     map[string]string // those of batchFieldKeys that were given
}

// records are all bags of the farm, in the order in which they were made.
type records struct {
	bags    []bagRecord
	batches map[int64]batchRecord
	at      time.Time
	places  map[int64]int     // of the bags in the list, by row
	units   map[string]string // names of the jars and lots that bags took their spawn from, by code
	memo    memo
}

// batchFieldKeys are the fields of a batch that are compared like conditions.
var batchFieldKeys = []string{"strain", "spawn_lot", "substrate_lot", "steriliser_run", "recipe", "operator"}

// loadRecords reads all bags of the farm.
func (t *tx) loadRecords(f *Farm) (*records, error) {
	r := &records{batches: map[int64]batchRecord{}, at: t.now, places: map[int64]int{}}
	batches, err := t.batches(f, `1 ORDER BY b.id`)
	if err != nil {
		return nil, err
	}
	byRow, written := map[int64]Batch{}, spellings{}
	for _, b := range batches {
		byRow[b.row] = b
		for key, name := range fieldsCompared(b) {
			written.add(key, name)
		}
	}
	for _, b := range batches {
		fields := fieldsCompared(b)
		for key, name := range fields {
			fields[key] = written.of(key, name)
		}
		r.batches[b.row] = batchRecord{conditions: b.Conditions, fields: fields}
	}
	if r.units, err = t.unitsUsed(); err != nil {
		return nil, err
	}
	own, err := t.allOwnConditions()
	if err != nil {
		return nil, err
	}
	horizons, bags := map[int64]int{}, 0
	for _, b := range batches {
		species, _ := f.SpeciesOf(b.Species, b.Strain)
		horizons[b.row] = int(species.SpawnRun.Days.High)
		bags += b.Bags
	}
	r.bags = make([]bagRecord, 0, bags)
	err = t.eachBagRows(`g.given_back_at IS NULL ORDER BY g.batch_id, g.number`, nil, func(rows []bagRow) error {
		for _, g := range rows {
			record := f.record(byRow[g.batch], g, horizons[g.batch], t.now)
			record.own = own[g.id]
			r.places[g.id] = len(r.bags)
			r.bags = append(r.bags, record)
		}
		return nil
	})
	return r, err
}

func fieldsCompared(b Batch) map[string]string {
	out := map[string]string{}
	for key, v := range map[string]*string{"strain": b.Strain, "spawn_lot": b.SpawnLot, "substrate_lot": b.SubstrateLot, "steriliser_run": b.SteriliserRun, "recipe": b.Recipe, "operator": b.Operator} {
		if v != nil {
			out[key] = *v
		}
	}
	return out
}

// spellings count how often each field's names are written in each way: by field,
// then by name without regard to case and spaces, then as written.
type spellings map[string]map[string]map[string]int

func (w spellings) add(key, name string) {
	if w[key] == nil {
		w[key] = map[string]map[string]int{}
	}
	if w[key][nameKey(name)] == nil {
		w[key][nameKey(name)] = map[string]int{}
	}
	w[key][nameKey(name)][name]++
}

// of is the way in which most batches write a name: "Blue" and "blue" are one
// strain, one recipe, one person.
func (w spellings) of(key, name string) string {
	best := name
	for other, n := range w[key][nameKey(name)] {
		if most := w[key][nameKey(name)][best]; n > most || n == most && other < best {
			best = other
		}
	}
	return best
}

// record draws from a bag's status what counts: days are whole days in the
// farm's zone.
func (f *Farm) record(b Batch, g bagRow, horizon int, now time.Time) bagRecord {
	s := g.status
	day := func(at *time.Time) trace.When {
		if at == nil {
			return trace.When{}
		}
		return trace.On(grow.Day(b.InoculatedAt, *at, f.Zone))
	}
	seen := s.LastSeenAt
	if s.EndedWhy == "lost" {
		seen = s.LastCleanAt
	}
	r := bagRecord{id: g.id, batch: b.row, species: b.Species, inoculated: grow.DateOf(b.InoculatedAt, f.Zone), place: s.Place, fruitedIn: s.FruitedIn, state: s.State, set: s.Set,
		bag: trace.Bag{Code: string(g.code), Batch: string(b.Code), Number: g.number, Species: string(b.Species), Horizon: horizon,
			Age: grow.Day(b.InoculatedAt, now, f.Zone), LastSeen: day(seen), Gone: day(s.EndedAt), GoneAs: s.EndedWhy}}
	if s.BenchAt != nil {
		r.bench = *s.BenchAt
	}
	r.life = f.lifeOf(b, s)
	r.crop, r.fruited = f.cropOf(b, s, now), s.FruitingAt != nil
	r.steps = f.stepsOf(b, s, r.crop.Fate)
	if s.Contaminated != nil {
		r.bag.Contaminated, r.set = day(&s.Contaminated.At), s.SetBefore
		r.late = map[string]bool{}
		for _, set := range []map[string]grow.Setting{s.Set, s.SetBefore} {
			for key, v := range set {
				r.late[key] = r.late[key] || s.HeardLate(v)
			}
		}
	}
	return r
}

// exposure is a bag's value of a condition as it stood before it was found
// contaminated; a guess is not counted.
func (r *records) exposure(g bagRecord, key string) trace.Exposure {
	e := trace.Exposure{Value: r.batches[g.batch].conditions[key], Late: g.late[key]}
	if v, ok := g.own[key]; ok {
		e.Value = ""
		if v != nil {
			e.Value = *v
		}
	}
	if set, ok := g.set[key]; ok {
		e.Value = ""
		if set.Value != nil && set.Basis != "guess" {
			e.Value = *set.Value
		}
	}
	if key == grow.SpawnJarKey {
		e.Value = r.units[e.Value]
	}
	return e
}

func (r *records) makeColumn(f *Farm, key string, bags []bagRecord) trace.Column {
	c := trace.Column{Key: key, Level: trace.BatchLevel, Values: make([]trace.Exposure, len(bags))}
	if key == grow.SpawnJarKey {
		c.Label, c.Level = "spawn from", trace.BagLevel
		for i, g := range bags {
			c.Values[i] = r.exposure(g, key)
		}
		return c
	}
	condition, isCondition := f.Conditions[key]
	if !isCondition {
		batch, value := int64(0), ""
		for i, g := range bags {
			if g.batch != batch {
				batch, value = g.batch, r.batches[g.batch].fields[key]
			}
			c.Values[i].Value = value
		}
		return c
	}
	c.Label, c.Level = condition.Label, trace.Level(condition.Level)
	if condition.Normal != nil {
		c.Normal = *condition.Normal
	}
	batch, usual := int64(0), trace.Exposure{}
	for i, g := range bags {
		if g.batch != batch { // bags stand by batch, and most have nothing of their own
			batch, usual = g.batch, trace.Exposure{Value: r.batches[g.batch].conditions[key]}
		}
		c.Values[i] = usual
		if len(g.own) > 0 || len(g.set) > 0 || len(g.late) > 0 {
			c.Values[i] = r.exposure(g, key)
		}
	}
	return c
}
