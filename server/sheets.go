package server

import (
	"cmp"
	"context"
	"encoding/json"
	"maps"
	"math"
	"slices"

	"bagmark/grow"
	"bagmark/labels"
	"bagmark/store"
)

// What a farm prints on that has not said otherwise: labels high enough for pen boxes.
const (
	usualSheet       = "a4-3x7-63.5x38.1"
	usualLetterSheet = "letter-2x7-101.6x33.9"
)

// stock is a sheet that the farm can print on, and how its printer strays.
type stock struct {
	labels.Sheet
	Own        bool              `json:"own"` // described by the farm itself
	Correction labels.Correction `json:"correction"`
}

// allStock lists the known sheets, then the farm's own. A sheet of the farm's
// own stands in for a known one of the same name.
func allStock(ctx context.Context, st *store.Store) ([]stock, error) {
	own, err := st.OwnSheets(ctx)
	if err != nil {
		return nil, err
	}
	corrections, err := st.Corrections(ctx)
	if err != nil {
		return nil, err
	}
	var out []stock
	for _, s := range labels.Sheets() {
		if _, replaced := own[s.Name]; !replaced {
			out = append(out, stock{Sheet: s})
		}
	}
	for _, name := range slices.Sorted(maps.Keys(own)) {
		s := stock{Own: true}
		if err := json.Unmarshal(own[name], &s.Sheet); err != nil {
			return nil, &grow.Error{Kind: grow.Internal, Message: "the farm's own sheet " + name + " cannot be read", Cause: err}
		}
		s.Name = name
		out = append(out, s)
	}
	for i, s := range out {
		if raw, ok := corrections[s.Name]; ok {
			if err := json.Unmarshal(raw, &out[i].Correction); err != nil {
				return nil, &grow.Error{Kind: grow.Internal, Message: "the correction of the sheet " + s.Name + " cannot be read", Cause: err}
			}
		}
	}
	return out, nil
}

// stockOf finds a sheet by its name; "" is the farm's usual one.
func stockOf(ctx context.Context, st *store.Store, farm *store.Farm, name string) (labels.Sheet, labels.Correction, error) {
	if name == "" {
		name = sheetOrUsual(farm)
	}
	all, err := allStock(ctx, st)
	if err != nil {
		return labels.Sheet{}, labels.Correction{}, err
	}
	i := slices.IndexFunc(all, func(s stock) bool { return s.Name == name })
	if i < 0 {
		var p grow.Problems
		p.Add("sheet", "%q is not a sheet this farm knows; the list of sheets names them", name)
		return labels.Sheet{}, labels.Correction{}, p.Err("these labels cannot be printed")
	}
	return all[i].Sheet, all[i].Correction, nil
}

func sheetOrUsual(farm *store.Farm) string {
	return cmp.Or(farm.DefaultSheet, usualOn(farm.Paper))
}

// usualOn is the usual sheet of a paper.
func usualOn(p grow.Paper) string {
	if p == grow.Letter {
		return usualLetterSheet
	}
	return usualSheet
}

// paperOf is the paper that a page of the sheet is, "" for a roll or another.
func (s stock) paperOf() grow.Paper {
	for p, size := range map[grow.Paper][2]float64{grow.A4: {210, 297}, grow.Letter: {215.9, 279.4}} { // ISO 216; ANSI/ASME Y14.1
		if !s.Roll && math.Abs(s.PageW-size[0]) < 0.5 && math.Abs(s.PageH-size[1]) < 0.5 {
			return p
		}
	}
	return ""
}

// offered are the sheets with those first that the farm's printer holds.
func offered(all []stock, paper grow.Paper) []stock {
	slices.SortStableFunc(all, func(a, b stock) int {
		return cmp.Compare(later(a, paper), later(b, paper))
	})
	return all
}

// later puts sheets of the other paper behind all else.
func later(s stock, paper grow.Paper) int {
	if of := s.paperOf(); paper == grow.Letter && of != grow.Letter {
		return map[grow.Paper]int{"": 1, grow.A4: 2}[of]
	}
	return 0
}
