package store

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"bagmark/grow"
)

// ToFruiting is what is ready for fruiting and what waits for it, what spoils
// first first, beside the room there is.
type ToFruiting struct {
	Bags   int        `json:"bags"` // ready today
	Rows   []ReadyRow `json:"rows"`
	OnHold []HeldRow  `json:"on_hold"`
	Rooms  []Room     `json:"rooms"` // every place, by name
}

// ReadyRow are ready bags of one batch that stand in one place and keep alike:
// what one tap moves.
type ReadyRow struct {
	Batch       grow.BatchCode `json:"batch"`
	SpeciesName string         `json:"species_name"`
	Short       string         `json:"short"`
	Place       *string        `json:"place"`
	Keeps       string         `json:"keeps"`
	Words       string         `json:"words"`
	Since       grow.Date      `json:"since"` // the earliest of its bags
	Day         int            `json:"day"`
	Bags        []DueItem      `json:"bags"`

	keeps grow.Keeps
}

// HeldRow are bags of one batch whose way to fruiting was put off to one day for
// one reason.
type HeldRow struct {
	Batch       grow.BatchCode `json:"batch"`
	SpeciesName string         `json:"species_name"`
	Short       string         `json:"short"`
	Place       *string        `json:"place"`
	Until       grow.Date      `json:"until"`
	Because     string         `json:"because"`
	Bags        []HeldBag      `json:"bags"`
}

// HeldBag is one bag of it.
type HeldBag struct {
	Bag    grow.Code `json:"bag"`
	Number int       `json:"number"`
}

// ToFruiting lists what is ready and what is on hold.
func (s *Store) ToFruiting(ctx context.Context) (out ToFruiting, err error) {
	due, _, err := s.allDue(ctx)
	if err != nil {
		return out, err
	}
	out.Rows, out.OnHold = readyRows(due), []HeldRow{}
	for _, r := range out.Rows {
		out.Bags += len(r.Bags)
	}
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, err
	}
	err = s.reading(ctx, func(t *tx) error {
		if out.OnHold, err = t.heldRows(farm); err != nil {
			return err
		}
		out.Rooms, err = t.rooms()
		return err
	})
	return out, err
}

// readyRows gathers the bags to be moved: what keeps least first, then what has
// been ready for longest.
func readyRows(due []DueItem) []ReadyRow {
	rows := []ReadyRow{}
	for _, item := range due {
		if item.task != grow.TaskMove {
			continue
		}
		i := slices.IndexFunc(rows, func(r ReadyRow) bool {
			return r.Batch == item.Batch && r.keeps == item.keeps && textOf(r.Place) == textOf(item.Place)
		})
		if i < 0 {
			i = len(rows)
			rows = append(rows, ReadyRow{Batch: item.Batch, SpeciesName: item.SpeciesName, Short: item.Short, Place: item.Place, keeps: item.keeps,
				Keeps: item.keeps.String(), Words: item.keeps.Words(), Since: item.Since, Day: item.Day})
		}
		rows[i].Since = min(rows[i].Since, item.Since)
		rows[i].Bags = append(rows[i].Bags, item)
	}
	slices.SortStableFunc(rows, func(a, b ReadyRow) int {
		return cmp.Or(cmp.Compare(a.keeps, b.keeps), cmp.Compare(a.Since, b.Since), strings.Compare(textOf(a.Place), textOf(b.Place)), cmp.Compare(a.Batch, b.Batch))
	})
	for _, r := range rows {
		slices.SortFunc(r.Bags, func(a, b DueItem) int { return cmp.Compare(a.Number, b.Number) })
	}
	return rows
}

func textOf(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

// heldRows are the bags on hold, by the day they come back.
func (t *tx) heldRows(f *Farm) ([]HeldRow, error) {
	rows := []HeldRow{}
	held, err := t.bagRows(`g.state NOT IN ('finished', 'culled', 'fruiting') AND g.status ->> '$.again.for' = 'fruiting' ORDER BY g.batch_id, g.number`)
	if err != nil || len(held) == 0 {
		return rows, err
	}
	today, batches := grow.DateOf(t.now, f.Zone), map[int64]Batch{}
	for _, g := range held {
		if !(grow.Outlook{Status: g.status, Today: today, Zone: f.Zone}).OnHold() {
			continue
		}
		b, ok := batches[g.batch]
		if !ok {
			if b, err = t.batch(f, `b.id = ?`, g.batch); err != nil {
				return nil, err
			}
			batches[g.batch] = b
		}
		a := g.status.Again
		i := slices.IndexFunc(rows, func(r HeldRow) bool {
			return r.Batch == b.Code && r.Until == a.On && r.Because == a.Because && textOf(r.Place) == g.status.Place
		})
		if i < 0 {
			i = len(rows)
			rows = append(rows, HeldRow{Batch: b.Code, SpeciesName: b.SpeciesName, Short: b.Short, Place: textOr(g.status.Place), Until: a.On, Because: a.Because})
		}
		rows[i].Bags = append(rows[i].Bags, HeldBag{g.code, g.number})
	}
	slices.SortStableFunc(rows, func(a, b HeldRow) int { return cmp.Or(cmp.Compare(a.Until, b.Until), cmp.Compare(a.Batch, b.Batch)) })
	return rows, nil
}
