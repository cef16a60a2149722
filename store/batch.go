package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"time"

	"bagmark/grow"
)

// Batch is a batch as it stands. What was not given is null.
type Batch struct {
	ID            *grow.ID             `json:"id"`
	Code          grow.BatchCode       `json:"code"`
	Species       grow.Slug            `json:"species"`
	SpeciesName   string               `json:"species_name"`
	Short         string               `json:"short"`
	Strain        *string              `json:"strain"`
	InoculatedAt  time.Time            `json:"inoculated_at"`
	Day           int                  `json:"day"`
	Bags          int                  `json:"bags"`
	LabDay        *string              `json:"lab_day"`
	BagWetG       *float64             `json:"bag_wet_g"`
	MoisturePct   *float64             `json:"moisture_pct"`
	SpawnLot      *string              `json:"spawn_lot"`
	SpawnRatePct  *float64             `json:"spawn_rate_pct"`
	SteriliserRun *string              `json:"steriliser_run"`
	SubstrateLot  *string              `json:"substrate_lot"`
	Recipe        *string              `json:"recipe"`
	Operator      *string              `json:"operator"`
	Place         *string              `json:"place"`
	Conditions    map[string]string    `json:"conditions"`
	BagConditions []grow.BagConditions `json:"bag_conditions"`
	LabelsLater   *grow.Date           `json:"labels_later"`
	Note          *string              `json:"note"`
	MadeAt        time.Time            `json:"made_at"`
	MadeBy        string               `json:"made_by"`

	row            int64
	labelChangedAt *time.Time
}

// Fields are what a correction may change.
func (b Batch) Fields() grow.BatchFields {
	conditions := map[string]*string{}
	for k, v := range b.Conditions {
		conditions[k] = &v
	}
	return grow.BatchFields{Species: b.Species, InoculatedAt: b.InoculatedAt, LabDay: b.LabDay, Strain: b.Strain, BagWetG: b.BagWetG,
		MoisturePct: b.MoisturePct, SpawnLot: b.SpawnLot, SpawnRatePct: b.SpawnRatePct, SteriliserRun: b.SteriliserRun, SubstrateLot: b.SubstrateLot, Recipe: b.Recipe,
		Operator: b.Operator, Place: b.Place, Conditions: conditions, LabelsLater: b.LabelsLater, Note: b.Note}
}

const batchColumns = `b.id, b.uuid, b.code, b.species, b.strain, b.inoculated_at, b.bags, b.lab_day, b.bag_wet_g, b.moisture_pct,
	(SELECT name FROM lots WHERE id = b.spawn_lot_id), b.spawn_rate_pct, (SELECT name FROM steriliser_runs WHERE id = b.run_id),
	(SELECT name FROM lots WHERE id = b.substrate_lot_id), b.recipe, b.operator, (SELECT name FROM places WHERE id = b.place_id), b.bag_conditions, b.labels_later, b.note, b.label_changed_at, b.made_at, b.made_by`

// batches reads the batches that a WHERE … ORDER BY … clause picks.
func (t *tx) batches(f *Farm, where string, args ...any) ([]Batch, error) {
	out := []Batch{}
	err := t.each(`SELECT `+batchColumns+` FROM batches b WHERE `+where, args, func(rows *sql.Rows) error {
		b, err := f.scanBatch(rows, t.now)
		out = append(out, b)
		return err
	})
	if err != nil {
		return nil, err
	}
	for i := range out {
		if out[i].Conditions, err = t.batchConditions(out[i].row); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// batch reads one batch; none is [grow.NotFound].
func (t *tx) batch(f *Farm, where string, args ...any) (Batch, error) {
	list, err := t.batches(f, where, args...)
	if err != nil {
		return Batch{}, err
	}
	if len(list) == 0 {
		return Batch{}, grow.Errorf(grow.NotFound, "there is no such batch")
	}
	return list[0], nil
}

func (t *tx) batchByCode(f *Farm, code grow.BatchCode) (Batch, error) {
	b, err := t.batch(f, `b.code = ?`, string(code))
	if grow.KindOf(err) == grow.NotFound && errors.As(err, new(*grow.Error)) {
		return b, grow.Errorf(grow.NotFound, "there is no batch %s", code)
	}
	return b, err
}

func (f *Farm) scanBatch(rows *sql.Rows, now time.Time) (Batch, error) {
	var b Batch
	var inoculated, made int64
	var changed *int64
	var own string
	err := rows.Scan(&b.row, &b.ID, &b.Code, &b.Species, &b.Strain, &inoculated, &b.Bags, &b.LabDay, &b.BagWetG, &b.MoisturePct,
		&b.SpawnLot, &b.SpawnRatePct, &b.SteriliserRun, &b.SubstrateLot, &b.Recipe, &b.Operator, &b.Place, &own, &b.LabelsLater, &b.Note, &changed, &made, &b.MadeBy)
	if err != nil {
		return b, err
	}
	b.InoculatedAt, b.MadeAt = instant(inoculated, f.Zone), instant(made, f.Zone)
	if changed != nil {
		at := time.UnixMicro(*changed)
		b.labelChangedAt = &at
	}
	b.Day = grow.Day(b.InoculatedAt, now, f.Zone)
	species, _ := f.SpeciesOf(b.Species, b.Strain)
	b.SpeciesName, b.Short = species.Name, species.Short
	return b, json.Unmarshal([]byte(own), &b.BagConditions)
}

func (t *tx) batchConditions(row int64) (map[string]string, error) {
	out := map[string]string{}
	err := t.each(`SELECT key, value FROM batch_conditions WHERE batch_id = ?`, []any{row}, func(rows *sql.Rows) error {
		var k, v string
		err := rows.Scan(&k, &v)
		out[k] = v
		return err
	})
	return out, err
}

// Change is one correction of a batch on record.
type Change struct {
	Field  string    `json:"field"`
	Old    string    `json:"old"`
	New    string    `json:"new"`
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	Device string    `json:"device"`
}

func (t *tx) changes(f *Farm, batch int64) ([]Change, error) {
	out := []Change{}
	err := t.each(`SELECT field, old, new, at, by_person, device FROM changes WHERE batch_id = ? ORDER BY id DESC`, []any{batch}, func(rows *sql.Rows) error {
		var c Change
		var at int64
		err := rows.Scan(&c.Field, &c.Old, &c.New, &at, &c.By, &c.Device)
		c.At = instant(at, f.Zone)
		out = append(out, c)
		return err
	})
	return out, err
}

// BatchBag is a bag as its batch's page shows it.
type BatchBag struct {
	Code         grow.Code           `json:"code"`
	Number       int                 `json:"number"`
	State        grow.State          `json:"state"`
	Day          int                 `json:"day"`
	ColonisedPct *float64            `json:"colonised_pct"`
	Contaminated *grow.Contamination `json:"contaminated"`
	Place        *string             `json:"place"`
	NeedsLabel   bool                `json:"needs_label"`
	MarkedAt     *time.Time          `json:"marked_at"`
	Watched      bool                `json:"watched"`
	Slow         bool                `json:"slow"`
	Overdue      bool                `json:"overdue"`
	Ready        bool                `json:"ready"`
	Departures   []string            `json:"departures"` // as printed
}

// BatchWhole is a batch with its bags, how many are in each state, and what
// was corrected.
type BatchWhole struct {
	Batch   Batch          `json:"batch"`
	Bags    []BatchBag     `json:"bags"`
	Counts  map[string]int `json:"counts"`
	Changes []Change       `json:"changes"`
}

// Batch gives a batch with its bags in number order.
func (s *Store) Batch(ctx context.Context, code grow.BatchCode) (w BatchWhole, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return w, err
	}
	err = s.reading(ctx, func(t *tx) error {
		if w.Batch, err = t.batchByCode(farm, code); err != nil {
			return err
		}
		if w.Changes, err = t.changes(farm, w.Batch.row); err != nil {
			return err
		}
		bags, err := t.bagRows(`g.batch_id = ? AND g.given_back_at IS NULL ORDER BY g.number`, w.Batch.row)
		if err != nil {
			return err
		}
		own, err := t.ownConditionsOfBatch(w.Batch.row)
		if err != nil {
			return err
		}
		w.Bags = make([]BatchBag, len(bags))
		p, err := t.prospect(farm, w.Batch, spansOf(w.Batch, bags, farm.Zone))
		if err != nil {
			return err
		}
		for i, g := range bags {
			w.Bags[i] = p.batchBag(g, own[g.id], t.now)
		}
		w.Counts = countStates(bags)
		return nil
	})
	return w, err
}

func (p *prospect) batchBag(g bagRow, own map[string]*string, now time.Time) BatchBag {
	f, b, out := p.farm, p.batch, p.of(g, now)
	why, _, _ := out.Due()
	v := BatchBag{Code: g.code, Number: g.number, State: g.status.State, Day: b.Day, ColonisedPct: g.status.ColonisedPct,
		Contaminated: inZone(g.status.Contaminated, f.Zone), Place: textOr(g.status.Place), NeedsLabel: g.status.NeedsLabel,
		MarkedAt: timeIn(g.status.MarkedAt, f.Zone), Watched: g.status.Watch != nil,
		Slow: out.forecast.Slow, Overdue: out.forecast.Overdue, Ready: why == grow.DueReady, Departures: []string{}}
	for _, c := range grow.BagConditionsNow(f.Conditions, b.Conditions, own, g.status) {
		if c.Printed != "" {
			v.Departures = append(v.Departures, c.Printed)
		}
	}
	return v
}

func countStates(bags []bagRow) map[string]int {
	counts := map[string]int{"contaminated": 0}
	for _, s := range grow.States {
		counts[string(s)] = 0
	}
	for _, g := range bags {
		counts[string(g.status.State)]++
		if g.status.Contaminated != nil {
			counts["contaminated"]++
		}
	}
	return counts
}

// textOr is a text, null if empty.
func textOr(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

func timeIn(t *time.Time, zone *time.Location) *time.Time {
	if t == nil {
		return nil
	}
	in := t.In(zone)
	return &in
}

func inZone(c *grow.Contamination, zone *time.Location) *grow.Contamination {
	if c == nil {
		return nil
	}
	in := *c
	in.At, in.ReceivedAt = c.At.In(zone), c.ReceivedAt.In(zone)
	return &in
}
