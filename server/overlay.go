package server

import (
	"encoding/json"
	"maps"

	"bagmark/grow"
)

// overlay writes a correction onto a batch's fields as they stand: fields that
// the body leaves out stay, null takes a field back. Conditions are corrected
// one by one, and null or unknown takes one back.
func overlay(raw []byte, f *grow.BatchFields) error {
	before := f.Conditions
	f.Conditions = nil
	if err := json.Unmarshal(raw, f); err != nil {
		return &grow.Error{Kind: grow.Invalid, Message: "the body is not what this address takes", Cause: err}
	}
	var given map[string]json.RawMessage
	if err := json.Unmarshal(raw, &given); err != nil {
		return &grow.Error{Kind: grow.Invalid, Message: "the body must be an object", Cause: err}
	}
	changes := f.Conditions
	if f.Conditions = before; string(given["conditions"]) == "null" {
		f.Conditions = nil
	}
	if len(changes) > 0 {
		f.Conditions = maps.Clone(before)
		if f.Conditions == nil {
			f.Conditions = map[string]*string{}
		}
		maps.Copy(f.Conditions, changes)
	}
	return nil
}
