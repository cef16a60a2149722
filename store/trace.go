package store

import (
	"context"
	"fmt"
	"slices"

	"bagmark/grow"
	"bagmark/grow/trace"
)

// Trace is the way back from one bag: what it shared with others, and which of
// those still live.
type Trace struct {
	Bag        Bag         `json:"bag"`
	Batch      Batch       `json:"batch"`
	BatchNow   BatchNow    `json:"batch_now"`
	Conditions []trace.Row `json:"conditions"`
	AtRisk     []AtRisk    `json:"at_risk"`
	// Control is the control bag of its run if something grows in it: that points
	// at the run before anything else.
	Control *ControlFound `json:"control"`

	Turns    []trace.SharedTurn `json:"turns"`    // how many more may turn, by what is shared
	Together *trace.Together    `json:"together"` // several conditions at once, null where there are not two to look at
}

// BatchNow is a batch's plain count as it stands today.
type BatchNow struct {
	Bags         int `json:"bags"`
	Contaminated int `json:"contaminated"`
	Alive        int `json:"alive"`
}

// AtRisk is a living bag that shares something with the bag traced.
type AtRisk struct {
	Bag    grow.Code      `json:"bag"`
	Batch  grow.BatchCode `json:"batch"`
	Number int            `json:"number"`
	State  grow.State     `json:"state"`
	Shares []string       `json:"shares"`
	Risk   *trace.Bounds  `json:"risk"`
	Place  *string        `json:"place"`
	Steps  int            `json:"-"` // its places from the bag traced at the bench, negative before it, 0 where it was not made near it
}

// Trace compares the conditions of the bag's whole farm and lists the living
// bags that share with it what matters.
func (s *Store) Trace(ctx context.Context, code grow.Code) (out Trace, err error) {
	if out.Bag, err = s.Bag(ctx, code); err != nil {
		return out, err
	}
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, err
	}
	r, err := s.recordsNow(ctx, farm)
	if err != nil {
		return out, err
	}
	out.Batch = out.Bag.Batch
	subject := slices.IndexFunc(r.bags, func(g bagRecord) bool { return g.bag.Code == string(out.Bag.Code) })
	if subject < 0 { // made since the records were read
		return out, grow.Errorf(grow.Busy, "the farm is being counted; try again in a moment")
	}
	out.BatchNow = r.batchNow(r.bags[subject].batch)
	if err := s.reading(ctx, func(t *tx) (err error) { out.Control, err = t.badControl(farm, r.bags[subject].batch); return err }); err != nil {
		return out, err
	}
	bags, columns := r.traceBags(r.bags), r.columnsFor(farm, r.bags[subject])
	out.Conditions = r.rowsFor(farm, columns)
	departs := departuresOf(out.Bag)
	trace.ForBag(out.Conditions, func(x trace.Suspect) bool { return departs[x] })
	herd := trace.Farm{Bags: bags, Columns: columns, Places: r.standing(), Bench: r.benches(), Estimator: r.estimator()}
	kin := herd.Kin(subject, trace.Suspects(out.Conditions))
	out.Turns, out.AtRisk = append([]trace.SharedTurn{}, kin.Turns()...), []AtRisk{}
	out.Together = r.together(columns, out.Conditions, departs, r.bags[subject])
	for _, risk := range kin.AtRisk() {
		g := r.bags[risk.Bag]
		out.AtRisk = append(out.AtRisk, AtRisk{Bag: grow.Code(g.bag.Code), Batch: grow.BatchCode(g.bag.Batch), Number: g.bag.Number,
			State: g.state, Shares: risk.Shares, Risk: risk.Risk.Bounds(), Steps: risk.Steps, Place: textOr(g.place)})
	}
	return out, nil
}

// together looks at once at what the bag departs in and what the records point to, over its species.
func (r *records) together(columns []trace.Column, rows []trace.Row, departs map[trace.Suspect]bool, subject bagRecord) *trace.Together {
	var asked []trace.Suspect
	for _, row := range rows {
		if x := (trace.Suspect{Key: row.Key, Value: row.Value}); departs[x] || row.Verdict == trace.PointsTo {
			asked = append(asked, x)
		}
	}
	return remember(r, fmt.Sprintf("together %s %q", subject.species, asked), func() *trace.Together {
		t, ok := trace.LookTogether(r.traceBags(r.bags), columns, asked, string(subject.species))
		if !ok {
			return nil
		}
		return &t
	})
}

func departuresOf(b Bag) map[trace.Suspect]bool {
	out := map[trace.Suspect]bool{}
	for _, c := range b.Conditions {
		if c.Departure {
			out[trace.Suspect{Key: c.Key, Value: *c.Value}] = true
		}
	}
	return out
}

func (r *records) batchNow(batch int64) (n BatchNow) {
	for _, g := range r.bags {
		if g.batch != batch {
			continue
		}
		n.Bags++
		if _, bad := g.bag.Contaminated.Day(); bad {
			n.Contaminated++
		}
		if g.bag.Alive() {
			n.Alive++
		}
	}
	return n
}

// columnsFor are all conditions of the farm, the subject's jar if somebody
// scanned it and, of the fields of batches, those that the subject's batch was given: only its own value is asked about.
func (r *records) columnsFor(f *Farm, subject bagRecord) []trace.Column {
	var out []trace.Column
	for _, key := range f.Conditions.Keys() {
		out = append(out, r.column(f, key, r.bags))
	}
	if jar := r.exposure(subject, grow.SpawnJarKey).Value; jar != "" {
		c := r.column(f, grow.SpawnJarKey, r.bags)
		c.Only = jar
		out = append(out, c)
	}
	for _, key := range batchFieldKeys {
		value := r.batches[subject.batch].fields[key]
		if value == "" {
			continue
		}
		c := r.column(f, key, r.bags)
		c.Only = value
		out = append(out, c)
	}
	return out
}

func (r *records) standing() []string {
	out := make([]string, len(r.bags))
	for i, g := range r.bags {
		out[i] = g.place
	}
	return out
}
