package store

import (
	"context"
	"slices"

	"bagmark/grow"
)

// Today is what there is to do today, a sentence a task.
type Today struct {
	Date      grow.Date
	Sentences []TodaySentence
	Unmarked  []UnmarkedBatch
	Silent    []SilentJar // jars whose bags do not start
	Sterile   []SterileLeft
	Controls  []ControlFound // in which something grows
	InCare    int            // bags in the farm's care
	Empty     bool           // the farm has no batch yet
}

// TodaySentence is one task and its bags, by place.
type TodaySentence struct {
	Task  grow.Task
	Words string
	About string
	Bags  []DueItem
}

// UnmarkedBatch is a batch that nags: some of its bags have had no label
// scanned on them.
type UnmarkedBatch struct {
	Batch    grow.BatchCode
	Species  string
	Unmarked int
	Bags     int
}

// Today gives the day's tasks.
func (s *Store) Today(ctx context.Context) (Today, error) {
	items, asOf, err := s.allDue(ctx)
	if err != nil {
		return Today{}, err
	}
	out := Today{Date: grow.DateOf(asOf, asOf.Location())}
	for _, task := range grow.Tasks {
		var bags []DueItem
		for _, i := range items {
			if i.task == task {
				bags = append(bags, i)
			}
		}
		if len(bags) > 0 {
			out.Sentences = append(out.Sentences, TodaySentence{Task: task, Words: task.Sentence(companies(bags)), About: task.About(), Bags: bags})
		}
	}
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, err
	}
	err = s.reading(ctx, func(t *tx) error {
		var batches int
		if err := t.one(`SELECT count(*) FROM batches`, nil, &batches); err != nil {
			return err
		}
		out.Empty = batches == 0
		if out.Silent, err = t.silentJars(farm, ""); err != nil {
			return err
		}
		if out.Sterile, err = t.sterileLeft(farm); err != nil {
			return err
		}
		if out.Controls, err = t.badControls(farm); err != nil {
			return err
		}
		return t.one(`SELECT count(*) FROM bags WHERE state NOT IN ('finished', 'culled')`, nil, &out.InCare)
	})
	if err != nil {
		return out, err
	}
	out.Unmarked, err = s.unmarked(ctx, items)
	return out, err
}

// companies groups bags by species, the largest company first.
func companies(bags []DueItem) []grow.Company {
	var out []grow.Company
	at := map[string]int{}
	for _, b := range bags {
		place := ""
		if b.Place != nil {
			place = *b.Place
		}
		k, ok := at[b.SpeciesName]
		if !ok {
			at[b.SpeciesName] = len(out)
			out = append(out, grow.Company{Bags: 1, Species: b.SpeciesName, Place: place, Day: b.Day})
			continue
		}
		c := &out[k]
		c.Bags++
		if c.Place != place {
			c.Place = ""
		}
		if c.Day != b.Day {
			c.Day = -1
		}
	}
	slices.SortStableFunc(out, func(a, b grow.Company) int { return b.Bags - a.Bags })
	return out
}

// unmarked are the batches of the unmarked bags among those due.
func (s *Store) unmarked(ctx context.Context, items []DueItem) ([]UnmarkedBatch, error) {
	var out []UnmarkedBatch
	at := map[grow.BatchCode]int{}
	for _, i := range items {
		if !i.nags {
			continue
		}
		k, ok := at[i.Batch]
		if !ok {
			k, at[i.Batch] = len(out), len(out)
			out = append(out, UnmarkedBatch{Batch: i.Batch, Species: i.SpeciesName})
		}
		out[k].Unmarked++
	}
	err := s.reading(ctx, func(t *tx) error {
		for i := range out {
			if err := t.one(`SELECT bags FROM batches WHERE code = ?`, []any{string(out[i].Batch)}, &out[i].Bags); err != nil {
				return err
			}
		}
		return nil
	})
	return out, err
}
