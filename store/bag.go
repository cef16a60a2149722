package store

import (
	"context"
	"slices"
	"time"

	"bagmark/grow"
)

// Bag is a bag as it stands, with its log.
type Bag struct {
	Code         grow.Code           `json:"code"`
	Number       int                 `json:"number"`
	Payload      string              `json:"payload"`
	Batch        Batch               `json:"batch"`
	State        grow.State          `json:"state"`
	Day          int                 `json:"day"`
	ColonisedPct *float64            `json:"colonised_pct"`
	Contaminated *grow.Contamination `json:"contaminated"`
	Watch        *grow.Watch         `json:"watch"`
	Again        *grow.Again         `json:"again"`
	Place        *string             `json:"place"`
	MarkedAt     *time.Time          `json:"marked_at"`
	LastSeenAt   *time.Time          `json:"last_seen_at"`
	NeedsLabel   bool                `json:"needs_label"`
	Conditions   []grow.BagCondition `json:"conditions"`
	Forecast     Forecast            `json:"forecast"`
	Grams        float64             `json:"grams"`
	Flush        int                 `json:"flush"`
	SpawnJar     *SpawnUnit          `json:"spawn_jar"` // the jar or lot its spawn came from, where that was scanned
	Air          *BagAir             `json:"exposure"`  // null where nothing is known of any place
	Entries      []grow.Entry        `json:"entries"`   // newest first

	Status  grow.Status  `json:"-"`
	Species grow.Species `json:"-"` // with the farm's and the strain's own figures
	Due     *DueItem     `json:"-"`
	// ReplacedCode tells that the bag was asked for by a label that it carried
	// before.
	ReplacedCode bool `json:"-"`
}

// Bag gives the bag that a code stands for, by the label it carries or one it
// carried before.
func (s *Store) Bag(ctx context.Context, code grow.Code) (b Bag, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return b, err
	}
	err = s.reading(ctx, func(t *tx) error {
		id, err := t.bagID(code)
		if err != nil {
			return err
		}
		b, err = t.bag(farm, id)
		b.ReplacedCode = b.Code != code
		return err
	})
	return b, err
}

// bag reads a whole bag.
func (t *tx) bag(f *Farm, id int64) (Bag, error) {
	rows, err := t.bagRows(`g.id = ?`, id)
	if err != nil {
		return Bag{}, err
	}
	log, err := t.log(rows[0])
	if err != nil {
		return Bag{}, err
	}
	batch, err := t.batch(f, `b.id = ?`, rows[0].batch)
	if err != nil {
		return Bag{}, err
	}
	own, err := t.ownConditionsOf(id)
	if err != nil {
		return Bag{}, err
	}
	grow.Replay(rows[0].start(batch, own), log, f.Conditions) // marks what is voided and what fits
	return t.viewBag(f, batch, rows[0], own, log)
}

// viewBag puts a bag's page together from what is known of it. The log must be
// in order and replayed.
func (t *tx) viewBag(f *Farm, batch Batch, g bagRow, own map[string]*string, log []grow.Entry) (Bag, error) {
	sisters, err := t.sisterSpans(batch, f.Zone)
	if err != nil {
		return Bag{}, err
	}
	p, err := t.prospect(f, batch, sisters)
	if err != nil {
		return Bag{}, err
	}
	out := p.of(g, t.now)
	s := g.status
	b := Bag{Code: g.code, Number: g.number, Batch: batch, State: s.State, Day: batch.Day, ColonisedPct: s.ColonisedPct,
		Contaminated: inZone(s.Contaminated, f.Zone), Watch: watchIn(s.Watch, f.Zone), Again: againIn(s.Again, f.Zone), Place: textOr(s.Place),
		MarkedAt: timeIn(s.MarkedAt, f.Zone), LastSeenAt: timeIn(s.LastSeenAt, f.Zone), NeedsLabel: s.NeedsLabel,
		Conditions: grow.BagConditionsNow(f.Conditions, batch.Conditions, own, s), Forecast: out.forecast, Grams: s.Grams, Flush: s.Flush,
		Entries: newestFirst(log, f.Zone), Status: s}
	b.Species = p.species
	if b.SpawnJar, err = t.spawnUnit(s.SpawnJar()); err != nil {
		return b, err
	}
	if b.Air, err = t.bagAir(f, batch, g, log); err != nil {
		return b, err
	}
	if item, ok := out.item(batch, g); ok {
		b.Due = &item
	}
	return b, nil
}

func watchIn(w *grow.Watch, zone *time.Location) *grow.Watch {
	if w == nil {
		return nil
	}
	return &grow.Watch{Because: w.Because, Of: w.Of, Since: w.Since.In(zone)}
}

func againIn(a *grow.Again, zone *time.Location) *grow.Again {
	if a == nil {
		return nil
	}
	in := *a
	in.At = a.At.In(zone)
	return &in
}

func newestFirst(log []grow.Entry, zone *time.Location) []grow.Entry {
	out := make([]grow.Entry, len(log))
	for i, e := range log {
		out[len(log)-1-i] = entryIn(e, zone)
	}
	return out
}

func entryIn(e grow.Entry, zone *time.Location) grow.Entry {
	e.At, e.ReceivedAt, e.AtSent = e.At.In(zone), e.ReceivedAt.In(zone), timeIn(e.AtSent, zone)
	e.Bare = slices.Clone(e.Bare)
	return e
}
