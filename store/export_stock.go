package store

import (
	"context"
	"io"
	"slices"
	"strconv"
	"strings"

	"bagmark/grow"
)

// lotCells are the columns of lots.csv.
var lotCells = []string{"code", "name", "kind", "id", "species", "strain", "made_on", "expires_on", "amount", "look", "recipe", "steriliser_run", "note", "state", "colonised_pct", "made_at", "made_by"}

// ExportLots writes every lot, the oldest first, each followed by its jars. The
// column made_from has the codes of lots and jars, made_from_names what they are called.
func (s *Store) ExportLots(ctx context.Context, w io.Writer) error {
	farm, err := s.Farm(ctx)
	if err != nil {
		return err
	}
	out := newCellWriter(w)
	err = s.reading(ctx, func(t *tx) error {
		if err := out.line(slices.Concat([]string{"lot", "jar"}, lotCells, []string{"made_from", "contaminated", "made_from_names"})); err != nil {
			return err
		}
		lots, err := t.lots(farm, `1 ORDER BY l.id`)
		if err != nil {
			return err
		}
		for _, l := range lots {
			if err := t.exportLot(out, farm, l); err != nil {
				return err
			}
		}
		return nil
	})
	return writeFailed(err, out)
}

func (t *tx) exportLot(out *cellWriter, f *Farm, l Lot) error {
	cells, err := cellsOf(l, lotCells)
	if err != nil {
		return err
	}
	var from, names []string
	for _, s := range l.MadeFrom {
		name := s.Name
		if s.Jar != nil {
			name = JarName(s.Name, *s.Jar)
		}
		from, names = append(from, string(s.Code)), append(names, name)
	}
	if err := out.line(slices.Concat([]string{l.Name, ""}, cells, []string{strings.Join(from, "; "), whatCell(l.Contaminated), strings.Join(names, "; ")})); err != nil {
		return err
	}
	jars, err := t.jars(f, l.row)
	for _, j := range jars {
		if err := out.line(jarCells(l, j)); err != nil {
			return err
		}
	}
	return err
}

// jarCells are a jar's own cells under the columns of its lot.
func jarCells(l Lot, j Jar) []string {
	cells := make([]string, len(lotCells))
	for i, column := range lotCells {
		switch column {
		case "code":
			cells[i] = string(j.Code)
		case "state":
			cells[i] = string(j.State)
		case "colonised_pct":
			cells[i] = numberCell(j.ColonisedPct)
		}
	}
	return slices.Concat([]string{l.Name, strconv.Itoa(j.Number)}, cells, []string{"", whatCell(j.Contaminated), ""})
}

func whatCell(c *grow.Contamination) string {
	if c == nil {
		return ""
	}
	return c.What
}

// ExportStockEntries writes every entry of every lot and jar, in the order in
// which the farm first heard of each.
func (s *Store) ExportStockEntries(ctx context.Context, w io.Writer) error {
	farm, err := s.Farm(ctx)
	if err != nil {
		return err
	}
	out := newCellWriter(w)
	err = s.reading(ctx, func(t *tx) error {
		if err := out.line(append([]string{"of", "code"}, entryFields...)); err != nil {
			return err
		}
		codes, err := t.texts(`SELECT code FROM stock_entries GROUP BY code ORDER BY min(seq)`)
		if err != nil {
			return err
		}
		for _, text := range codes {
			if err := t.exportStockLog(out, farm, grow.Code(text)); err != nil {
				return err
			}
		}
		return nil
	})
	return writeFailed(err, out)
}

func (t *tx) exportStockLog(out *cellWriter, f *Farm, code grow.Code) error {
	var name string
	err := t.one(`SELECT name FROM (`+unitNames+` UNION ALL SELECT s.code, 'sterile bag of ' || r.name FROM sterile_bags s JOIN steriliser_runs r ON r.id = s.run_id) WHERE code = ?`, []any{string(code)}, &name)
	if err != nil {
		return err
	}
	log, err := t.replayedStock(code)
	if err != nil {
		return err
	}
	for _, e := range log {
		cells, err := cellsOf(entryIn(e, f.Zone), entryFields)
		if err != nil {
			return err
		}
		if err := out.line(append([]string{name, string(code)}, cells...)); err != nil {
			return err
		}
	}
	return nil
}

// runCells are the columns of runs.csv.
var runCells = []string{"name", "code", "id", "method", "started_at", "vessel", "hold_c", "target_f0", "gauge_kpa", "recipe", "note", "load", "f0", "short", "made_at", "made_by"}

// seriesCells are those of each place that was measured.
var seriesCells = []string{"probe", "spot", "position", "readings", "missing", "assumed", "from", "to", "highest_c", "come_up_min", "held_min", "unbroken_min", "cooling_min", "voided_at"}

// ExportRuns writes every steriliser run, the oldest first: a line for each place
// that was measured, one alone for a run without readings.
func (s *Store) ExportRuns(ctx context.Context, w io.Writer) error {
	farm, err := s.Farm(ctx)
	if err != nil {
		return err
	}
	out := newCellWriter(w)
	err = s.reading(ctx, func(t *tx) error {
		if err := out.line(slices.Concat(runCells, seriesCells)); err != nil {
			return err
		}
		runs, err := t.runs(farm, `1 ORDER BY r.id`)
		if err != nil {
			return err
		}
		for _, r := range runs {
			if err := t.exportRun(out, farm, r); err != nil {
				return err
			}
		}
		return nil
	})
	return writeFailed(err, out)
}

func (t *tx) exportRun(out *cellWriter, f *Farm, r Run) error {
	cells, err := cellsOf(r, runCells)
	if err != nil {
		return err
	}
	series, err := t.series(f, r)
	if err != nil {
		return err
	}
	if len(series) == 0 {
		return out.line(append(cells, make([]string, len(seriesCells))...))
	}
	for _, s := range series {
		more, err := cellsOf(s, seriesCells)
		if err != nil {
			return err
		}
		if err := out.line(slices.Concat(cells, more)); err != nil {
			return err
		}
	}
	return nil
}

// sterileCells are the columns of sterile-bags.csv.
var sterileCells = []string{"code", "run", "recipe", "filled_on", "position", "control", "state", "culled_why", "batch", "number"}

// ExportSterile writes every bag filled before the steam, in the order made.
func (s *Store) ExportSterile(ctx context.Context, w io.Writer) error {
	farm, err := s.Farm(ctx)
	if err != nil {
		return err
	}
	out := newCellWriter(w)
	err = s.reading(ctx, func(t *tx) error {
		if err := out.line(append(slices.Clone(sterileCells), "contaminated")); err != nil {
			return err
		}
		bags, err := t.sterileBags(farm, `1 ORDER BY s.made_at, s.code`)
		if err != nil {
			return err
		}
		for _, b := range bags {
			cells, err := cellsOf(b, sterileCells)
			if err != nil {
				return err
			}
			if err := out.line(append(cells, whatCell(b.Contaminated))); err != nil {
				return err
			}
		}
		return nil
	})
	return writeFailed(err, out)
}
