package server

import (
	"context"
	"encoding/json"
	"maps"
	"slices"

	"bagmark/grow"
	"bagmark/labels"
	"bagmark/store"
)

// usualSheet is what a farm prints on that has not said otherwise.
const usualSheet = "a4-3x7-63.5x38.1"

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
	if farm.DefaultSheet != "" {
		return farm.DefaultSheet
	}
	return usualSheet
}
