package store

import (
	"context"
	"encoding/json"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
)

// Export rules
//
// bags.csv starts with the columns that an import reads, so that a farm's bags
// can go into a spreadsheet and from there into another farm; what an import
// cannot take stands in further columns named more:…, which it skips.
// batches.csv and entries.csv hold the rest. A condition that was only guessed
// is not given out as known: it stands in more:guessed. A bag's spawn jar is given
// by its code, which lots.csv has, and by its name.

// importColumns are the columns of bags.csv that an import reads, before the
// conditions.
var importColumns = []string{"batch", "species", "inoculated_on", "bag", "strain", "spawn_lot", "steriliser_run", "recipe", "operator", "place",
	"not_colonised_on", "colonised_on", "clean_on", "contaminated_on", "what", "culled_on", "finished_on"}

// conditionColumn is the column of a condition.
func conditionColumn(key string) string { return "condition:" + key }

// moreColumns follow the conditions.
var moreColumns = []string{"more:code", "more:state", "more:day", "more:species_name", "more:inoculated_at", "more:colonised_pct", "more:where",
	"more:marked_at", "more:last_seen_at", "more:needs_label", "more:watch", "more:isolated_at", "more:fruiting_at", "more:grams", "more:flush",
	"more:ended_why", "more:guessed", "more:spawn_jar", "more:spawn_jar_name", "more:substrate_lot"}

// ExportBags writes every bag, one a row, the oldest batch first.
func (s *Store) ExportBags(ctx context.Context, w io.Writer) error {
	farm, err := s.Farm(ctx)
	if err != nil {
		return err
	}
	out := newCellWriter(w)
	err = s.reading(ctx, func(t *tx) error {
		if err := out.line(farm.bagColumns()); err != nil {
			return err
		}
		jars, err := t.unitsUsed()
		if err != nil {
			return err
		}
		return t.eachBatch(farm, func(b Batch) error {
			bags, err := t.bagRows(`g.batch_id = ? AND g.given_back_at IS NULL ORDER BY g.number`, b.row)
			if err != nil {
				return err
			}
			own, err := t.ownConditionsOfBatch(b.row)
			if err != nil {
				return err
			}
			for _, g := range bags {
				jar := textCell(g.status.SpawnJar())
				if err := out.line(append(farm.bagCells(b, g, own[g.id]), jar, jars[jar], textCell(b.SubstrateLot))); err != nil {
					return err
				}
			}
			return nil
		})
	})
	return writeFailed(err, out)
}

// writeFailed flushes what was written unless something went wrong before.
func writeFailed(err error, out *cellWriter) error {
	if err != nil {
		return err
	}
	return out.flush()
}

// eachBatch calls f for every batch, the oldest first.
func (t *tx) eachBatch(f *Farm, do func(Batch) error) error {
	list, err := t.batches(f, `1 ORDER BY b.inoculated_at, b.id`)
	if err != nil {
		return err
	}
	for _, b := range list {
		if err := do(b); err != nil {
			return err
		}
	}
	return nil
}

func (f *Farm) bagColumns() []string {
	out := slices.Clone(importColumns)
	for _, key := range f.Conditions.Keys() {
		out = append(out, conditionColumn(key))
	}
	return append(out, moreColumns...)
}

func (f *Farm) bagCells(b Batch, g bagRow, own map[string]*string) []string {
	s := g.status
	out := []string{string(b.Code), string(b.Species), dateCell(&b.InoculatedAt, f.Zone), strconv.Itoa(g.number), textCell(b.Strain), textCell(b.SpawnLot),
		textCell(b.SteriliserRun), textCell(b.Recipe), textCell(b.Operator), s.Place,
		dateCell(s.NotYetAt, f.Zone), dateCell(s.GrownOverAt, f.Zone), dateCell(cleanAt(s), f.Zone)}
	var what, where string
	var found, culled, finished *time.Time
	if c := s.Contaminated; c != nil {
		what, where, found = c.What, textCell(c.Where), &c.At
	}
	switch s.State {
	case grow.Culled:
		culled = s.EndedAt
	case grow.Finished:
		finished = s.EndedAt
	}
	out = append(out, dateCell(found, f.Zone), what, dateCell(culled, f.Zone), dateCell(finished, f.Zone))
	known, guessed := f.conditionCells(b, own, s)
	out = append(out, known...)
	watch := ""
	if s.Watch != nil {
		watch = s.Watch.Because
	}
	return append(out, string(g.code), string(s.State), strconv.Itoa(b.Day), b.SpeciesName, b.InoculatedAt.Format(time.RFC3339Nano), numberCell(s.ColonisedPct), where,
		timeCell(s.MarkedAt, f.Zone), timeCell(s.LastSeenAt, f.Zone), strconv.FormatBool(s.NeedsLabel), watch, timeCell(s.IsolatedAt, f.Zone), timeCell(s.FruitingAt, f.Zone),
		numberCell(&s.Grams), strconv.Itoa(s.Flush), s.EndedWhy, guessed)
}

// cleanAt is when a bag was last seen clean. That its label was stuck on is no
// look at it.
func cleanAt(s grow.Status) *time.Time {
	if s.MarkedAt != nil && s.LastCleanAt != nil && !s.InHandAfterMark && !s.LastCleanAt.After(*s.MarkedAt) {
		return nil
	}
	return s.LastCleanAt
}

// conditionCells are a bag's known conditions in the order of the columns, and
// those that were only guessed.
func (f *Farm) conditionCells(b Batch, own map[string]*string, s grow.Status) (cells []string, guessed string) {
	var guesses []string
	for _, c := range grow.BagConditionsNow(f.Conditions, b.Conditions, own, s) {
		if c.Value != nil && c.Basis == "guess" {
			guesses = append(guesses, c.Key+"="+*c.Value)
			c.Value = nil
		}
		cells = append(cells, textCell(c.Value))
	}
	return cells, strings.Join(guesses, "; ")
}

// batchFields are the columns of batches.csv that are fields of a batch.
var batchFields = []string{"code", "id", "species", "species_name", "strain", "inoculated_at", "bags", "lab_day", "bag_wet_g", "moisture_pct", "spawn_lot", "spawn_rate_pct",
	"steriliser_run", "substrate_lot", "recipe", "operator", "place", "labels_later", "note", "bag_conditions", "made_at", "made_by"}

// ExportBatches writes every batch, the oldest first, with what was corrected.
func (s *Store) ExportBatches(ctx context.Context, w io.Writer) error {
	farm, err := s.Farm(ctx)
	if err != nil {
		return err
	}
	keys := farm.Conditions.Keys()
	out := newCellWriter(w)
	err = s.reading(ctx, func(t *tx) error {
		head := slices.Clone(batchFields)
		head[0] = "batch"
		for _, k := range keys {
			head = append(head, conditionColumn(k))
		}
		if err := out.line(append(head, "changes")); err != nil {
			return err
		}
		return t.eachBatch(farm, func(b Batch) error {
			cells, err := cellsOf(b, batchFields)
			if err != nil {
				return err
			}
			for _, k := range keys {
				cells = append(cells, b.Conditions[k])
			}
			changes, err := t.changes(farm, b.row)
			if err != nil {
				return err
			}
			text, err := json.Marshal(changes)
			if err != nil {
				return err
			}
			return out.line(append(cells, string(text)))
		})
	})
	return writeFailed(err, out)
}

// entryFields are the columns of entries.csv between the bag's and the entry's
// fate.
var entryFields = []string{"id", "kind", "at", "received_at", "at_sent", "by", "device", "bench", "seen", "pct", "full", "bare", "what", "where", "extent_pct", "sign",
	"key", "value", "basis", "because", "of", "on", "for", "place", "why", "opening", "grams", "flush", "to", "photo", "text", "entry", "voided_by", "fits"}

// ExportEntries writes every entry of every bag's log: the oldest batch first,
// its bags by number, each log in its order. Voided entries and those that no
// longer fit are there and say so; counts is true for what sums should take. A condition whose value is not known says
// unknown.
func (s *Store) ExportEntries(ctx context.Context, w io.Writer) error {
	farm, err := s.Farm(ctx)
	if err != nil {
		return err
	}
	out := newCellWriter(w)
	err = s.reading(ctx, func(t *tx) error {
		if err := out.line(slices.Concat([]string{"batch", "number", "bag"}, entryFields, []string{"counts"})); err != nil {
			return err
		}
		return t.eachBatch(farm, func(b Batch) error {
			bags, err := t.bagRows(`g.batch_id = ? ORDER BY g.number`, b.row)
			if err != nil {
				return err
			}
			for _, g := range bags {
				if err := t.exportLog(out, farm, b, g); err != nil {
					return err
				}
			}
			return nil
		})
	})
	return writeFailed(err, out)
}

func (t *tx) exportLog(out *cellWriter, f *Farm, b Batch, g bagRow) error {
	log, _, err := t.replayedLog(g.id, f)
	if err != nil {
		return err
	}
	for _, e := range log {
		cells, err := cellsOf(entryIn(e, f.Zone), entryFields)
		if err != nil {
			return err
		}
		if at := slices.Index(entryFields, "value"); e.Kind == grow.KindCondition && cells[at] == "" {
			cells[at] = grow.Unknown
		}
		counts := e.VoidedBy == "" && e.Fits && e.Kind != grow.KindVoid && e.Basis != "guess"
		if err := out.line(slices.Concat([]string{string(b.Code), strconv.Itoa(g.number), string(g.code)}, cells, []string{strconv.FormatBool(counts)})); err != nil {
			return err
		}
	}
	return nil
}
