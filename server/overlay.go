package server

import (
	"encoding/json"
	"maps"
	"reflect"
	"strings"

	"bagmark/grow"
)

// overlay writes a correction onto a batch's fields as they stand: fields that
// the body leaves out stay, null takes a field back. Conditions are corrected
// one by one, and null or unknown takes one back.
func overlay(raw []byte, f *grow.BatchFields) error {
	var change grow.BatchFields
	var given map[string]json.RawMessage
	for _, into := range []any{&change, &given} {
		if err := json.Unmarshal(raw, into); err != nil {
			return &grow.Error{Kind: grow.Invalid, Message: "what was sent cannot be taken as it is", Cause: err}
		}
	}
	if change.Conditions != nil {
		merged := maps.Clone(f.Conditions)
		if merged == nil {
			merged = map[string]*string{}
		}
		maps.Copy(merged, change.Conditions)
		change.Conditions = merged
	}
	from, into := reflect.ValueOf(change), reflect.ValueOf(f).Elem()
	for i := range from.NumField() {
		name, _, _ := strings.Cut(from.Type().Field(i).Tag.Get("json"), ",")
		if _, ok := given[name]; ok {
			into.Field(i).Set(from.Field(i))
		}
	}
	return nil
}
