package store

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"bagmark/grow"
)

// Imported is what a spreadsheet became.
type Imported struct {
	Batches    []Batch
	Bags       int
	Entries    int
	Conditions []grow.Condition // that the farm did not have before
}

// importHour is the hour of the day at which a dated cell counts as seen.
const importHour = 12

// ReadImport reads a spreadsheet without taking anything in, to show what it
// would become.
func (s *Store) ReadImport(ctx context.Context, data []byte) (sheet grow.Spreadsheet, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return sheet, err
	}
	err = s.reading(ctx, func(t *tx) error {
		sheet, err = t.readSheet(farm, data)
		return err
	})
	return sheet, err
}

// Import takes in bags kept in a spreadsheet: the whole file or nothing of it.
// A batch that was taken in before is refused.
func (s *Store) Import(ctx context.Context, by Actor, data []byte) (out Imported, err error) {
	err = s.writing(ctx, func(t *tx) error {
		farm, err := t.loadFarm()
		if err != nil {
			return err
		}
		t.farmChanged()
		sheet, err := t.readSheet(farm, data)
		if err != nil {
			return err
		}
		out.Conditions = sheet.New
		grown, err := t.withConditions(farm, sheet.New)
		if err != nil {
			return err
		}
		return t.importBatches(grown, by, sheet.Batches, &out)
	})
	if err != nil {
		return Imported{}, err
	}
	return out, nil
}

func (t *tx) readSheet(f *Farm, data []byte) (grow.Spreadsheet, error) {
	sheet, err := grow.ReadSpreadsheet(data, grow.Reading{Species: f.Species, Conditions: f.Conditions, Today: grow.DateOf(t.now, f.Zone)})
	if err != nil {
		return sheet, err
	}
	var p grow.Problems
	for _, b := range sheet.Batches {
		var before int
		if err := t.one(`SELECT count(*) FROM batches WHERE imported_as = ?1 OR code = upper(?1)`, []any{b.Text}, &before); err != nil {
			return sheet, err
		}
		if before > 0 {
			p.Add(fmt.Sprintf("line %d", b.Line), "batch: %q is on this farm already; what changed since belongs into its log", b.Text)
		}
	}
	return sheet, p.Err("nothing was taken in")
}

// withConditions adds conditions of the farm's own and gives the farm with
// them.
func (t *tx) withConditions(f *Farm, fresh []grow.Condition) (*Farm, error) {
	grown := *f
	grown.Conditions = grow.Conditions{}
	for key, c := range f.Conditions {
		grown.Conditions[key] = c
	}
	for _, c := range fresh {
		if err := c.Validate(); err != nil {
			return nil, err
		}
		text, err := json.Marshal(c)
		if err != nil {
			return nil, err
		}
		if _, err := t.exec(`INSERT INTO conditions (key, data) VALUES (?, ?)`, c.Key, string(text)); err != nil {
			return nil, err
		}
		grown.Conditions[c.Key] = c
	}
	return &grown, t.ensureCards(fresh)
}

func (t *tx) importBatches(f *Farm, by Actor, sheet []grow.SheetBatch, out *Imported) error {
	var p grow.Problems
	for _, sb := range sheet {
		b, err := t.importBatch(f, by, sb)
		if err != nil {
			return err
		}
		out.Batches = append(out.Batches, b)
		for _, sg := range sb.Bags {
			code, err := t.importBag(f, b, sb, sg)
			if err != nil {
				return err
			}
			n, err := t.importLog(f, by, code, sg)
			if k := grow.KindOf(err); err != nil && k != grow.Internal && k != grow.Busy {
				p.Add(fmt.Sprintf("line %d", sg.Line), "%s", err)
				continue
			}
			if err != nil {
				return err
			}
			out.Bags, out.Entries = out.Bags+1, out.Entries+n
		}
	}
	return p.Err(fmt.Sprintf("nothing was taken in; rows that need mending: %d", len(p)))
}

// noonOr is noon of a date, or now if noon is still to come.
func (t *tx) noonOr(f *Farm, on grow.Date) time.Time {
	if noon := on.In(f.Zone, importHour); noon.Before(t.now) {
		return noon
	}
	return t.now
}

func (t *tx) importBatch(f *Farm, by Actor, sb grow.SheetBatch) (Batch, error) {
	d := grow.BatchDraft{BatchFields: sb.Fields, Bags: len(sb.Bags)}
	d.InoculatedAt = t.noonOr(f, sb.On)
	if place := commonPlace(sb.Bags); place != "" {
		d.Place = &place
	}
	var p grow.Problems
	d.BatchFields.Validate(&p, t.now, f.Knows, f.Conditions)
	if err := p.Err(fmt.Sprintf("nothing was taken in: batch %q, line %d", sb.Text, sb.Line)); err != nil {
		return Batch{}, err
	}
	sent, err := sentSum(d)
	if err != nil {
		return Batch{}, err
	}
	code, err := t.importCode(f, sb, d.BatchFields)
	if err != nil {
		return Batch{}, err
	}
	row, err := t.insertBatch(by, d, code, sent)
	if err != nil {
		return Batch{}, err
	}
	if _, err := t.exec(`UPDATE batches SET imported_as = ? WHERE id = ?`, sb.Text, row); err != nil {
		return Batch{}, err
	}
	return t.batch(f, `b.id = ?`, row)
}

// importCode is the spreadsheet's own name for the batch where that can be a
// code and is free, else a new one.
func (t *tx) importCode(f *Farm, sb grow.SheetBatch, fields grow.BatchFields) (grow.BatchCode, error) {
	code := grow.BatchCode(strings.ToUpper(sb.Text))
	if code.Legal() {
		var taken int
		if err := t.one(`SELECT count(*) FROM batches WHERE code = ?`, []any{string(code)}, &taken); err != nil || taken == 0 {
			return code, err
		}
	}
	return t.newBatchCode(f, fields)
}

// commonPlace is where all bags stand, "" if they stand in several places or
// nobody said of some.
func commonPlace(bags []grow.SheetBag) string {
	for _, g := range bags {
		if !strings.EqualFold(g.Place, bags[0].Place) {
			return ""
		}
	}
	return bags[0].Place
}

func (t *tx) importBag(f *Farm, b Batch, sb grow.SheetBatch, sg grow.SheetBag) (grow.Code, error) {
	code, err := t.newCode(grow.BagCode)
	if err != nil {
		return "", err
	}
	g := bagRow{number: sg.Number, code: code, madeMarked: &b.InoculatedAt}
	if b.Place == nil {
		g.madePlace = sg.Place
	}
	own := map[string]*string{}
	for key, v := range sg.Conditions {
		own[key] = &v
	}
	return code, t.insertBag(f, b, g, own)
}

// importLog makes the entries that the dated cells of a row stand for.
func (t *tx) importLog(f *Farm, by Actor, code grow.Code, sg grow.SheetBag) (int, error) {
	bad := false
	for _, seen := range sg.Seen {
		id, err := grow.NewID(t.store.random)
		if err != nil {
			return 0, err
		}
		at := t.noonOr(f, seen.On)
		d := grow.Draft{ID: id, Bag: code, At: &at}
		bad = bad || seen.Column == grow.ColumnContaminated
		d.Kind, d.Details = sheetEntry(seen.Column, sg.What, bad)
		if d, err = tidy(d, f.Conditions); err != nil {
			return 0, err
		}
		a := adding{tx: t, farm: f, by: by, draft: d}
		if err := a.add(); err != nil {
			return 0, fmt.Errorf("%s: %w", seen.Column, err)
		}
	}
	return len(sg.Seen), nil
}

// sheetEntry is what a dated column says.
func sheetEntry(column, what string, bad bool) (grow.EntryKind, grow.Details) {
	switch column {
	case grow.ColumnNotColonised:
		no := false
		return grow.KindColonised, grow.Details{Full: &no}
	case grow.ColumnColonised:
		all := 100.0
		return grow.KindColonised, grow.Details{Pct: &all}
	case grow.ColumnClean:
		return grow.KindLook, grow.Details{}
	case grow.ColumnContaminated:
		return grow.KindContaminated, grow.Details{What: what}
	case grow.ColumnCulled:
		if bad {
			return grow.KindCull, grow.Details{Why: "contaminated"}
		}
		return grow.KindCull, grow.Details{Why: "other"}
	}
	return grow.KindFinish, grow.Details{Why: "spent"}
}
