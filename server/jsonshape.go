package server

import (
	"bytes"
	"encoding/json"
	"reflect"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
)

// checkShape compares a JSON value with the type that it is to become, and
// notes every place where they differ under its path, like
// bag_conditions[0].bags. Names must be written exactly. Null is taken anywhere
// but for the whole, and means not given; a name that stands twice counts as it
// stands last.
func checkShape(raw []byte, into any, p *grow.Problems) {
	s := jsonShape{p}
	if raw = bytes.TrimSpace(raw); string(raw) == "null" {
		s.add("", "must be an object")
		return
	}
	s.check(raw, reflect.TypeOf(into).Elem(), "")
}

type jsonShape struct{ problems *grow.Problems }

// What one answer tells of, and what one list may hold, whatever it is of: far
// more than anybody means to send, far less than what fills the memory.
const (
	mostTold   = 200
	mostListed = 10_000
)

// full tells whether enough is wrong already.
func (s jsonShape) full() bool { return len(*s.problems) >= mostTold }

var (
	timeType        = reflect.TypeFor[time.Time]()
	unmarshalerType = reflect.TypeFor[json.Unmarshaler]()
)

func (s jsonShape) check(raw json.RawMessage, t reflect.Type, path string) {
	own := reflect.PointerTo(t).Implements(unmarshalerType)
	if bytes.Equal(raw, []byte("null")) && !own {
		return
	}
	switch {
	case t.Kind() == reflect.Pointer:
		s.check(raw, t.Elem(), path)
	case t == timeType:
		s.checkTime(raw, path)
	case t == reflect.TypeFor[json.RawMessage]():
	case own:
		s.checkBy(raw, t, path)
	case t.Kind() == reflect.Struct:
		s.checkObject(raw, fieldsOf(t), path)
	case t.Kind() == reflect.Map:
		s.checkMap(raw, t.Elem(), path)
	case t.Kind() == reflect.Slice || t.Kind() == reflect.Array:
		s.checkList(raw, t, path)
	default:
		s.checkPlain(raw, t.Kind(), path)
	}
}

// checkTime takes RFC 3339. The offset may push a time of the years 0 or 9999
// out of what JSON can write again.
func (s jsonShape) checkTime(raw json.RawMessage, path string) {
	var at time.Time
	if err := json.Unmarshal(raw, &at); err != nil || at.UTC().Year() < 1 || at.UTC().Year() > 9999 {
		s.add(path, "must be a time with its offset, like 2026-03-14T15:00:00+00:00")
	}
}

// checkBy lets a type with a reading of its own judge; its words are taken
// where they were written for people.
func (s jsonShape) checkBy(raw json.RawMessage, t reflect.Type, path string) {
	err := json.Unmarshal(raw, reflect.New(t).Interface())
	if err == nil {
		return
	}
	words := "is not of the right kind"
	if e := asError(err); e.Kind == grow.Invalid {
		words = e.Message
	}
	s.add(path, words)
}

func (s jsonShape) add(path, words string) {
	if path == "" {
		path = "body"
	}
	s.problems.Add(path, "%s", words)
}

func (s jsonShape) checkObject(raw json.RawMessage, fields map[string]reflect.Type, path string) {
	s.eachMember(raw, path, func(name, at string, value json.RawMessage) {
		if t, ok := fields[name]; ok {
			s.check(value, t, at)
			return
		}
		s.add(at, "is not a field that can stand here")
	})
}

func (s jsonShape) checkMap(raw json.RawMessage, t reflect.Type, path string) {
	s.eachMember(raw, path, func(_, at string, value json.RawMessage) { s.check(value, t, at) })
}

func (s jsonShape) eachMember(raw json.RawMessage, path string, do func(name, at string, value json.RawMessage)) {
	d := json.NewDecoder(bytes.NewReader(raw))
	if token, err := d.Token(); err != nil || token != json.Delim('{') {
		s.add(path, "must be an object")
		return
	}
	for d.More() && !s.full() {
		token, err := d.Token()
		name, ok := token.(string)
		var value json.RawMessage
		if err != nil || !ok || d.Decode(&value) != nil {
			s.add(path, "must be an object")
			return
		}
		at := name
		if path != "" {
			at = path + "." + name
		}
		do(name, at, value)
	}
}

func (s jsonShape) checkList(raw json.RawMessage, t reflect.Type, path string) {
	d := json.NewDecoder(bytes.NewReader(raw))
	if token, err := d.Token(); err != nil || token != json.Delim('[') {
		s.add(path, "must be a list")
		return
	}
	n := 0
	for ; d.More() && !s.full(); n++ {
		var value json.RawMessage
		if n == mostListed || d.Decode(&value) != nil {
			s.add(path, "may hold at most "+strconv.Itoa(mostListed))
			return
		}
		s.check(value, t.Elem(), path+"["+strconv.Itoa(n)+"]")
	}
	if t.Kind() == reflect.Array && n != t.Len() {
		s.add(path, "must be a list of "+strconv.Itoa(t.Len()))
	}
}

// checkPlain judges texts, numbers and truth values.
func (s jsonShape) checkPlain(raw json.RawMessage, kind reflect.Kind, path string) {
	switch kind {
	case reflect.String:
		if raw[0] != '"' {
			s.add(path, "must be text")
		}
	case reflect.Bool:
		if string(raw) != "true" && string(raw) != "false" {
			s.add(path, "must be true or false")
		}
	case reflect.Float64:
		if !isNumber(raw) {
			s.add(path, "must be a number")
		} else if _, err := strconv.ParseFloat(string(raw), 64); err != nil {
			s.add(path, "is too large a number")
		}
	case reflect.Int, reflect.Int64:
		if _, err := strconv.ParseInt(string(raw), 10, 64); err != nil {
			s.add(path, "must be a whole number")
		}
	}
}

func isNumber(raw json.RawMessage) bool { return raw[0] == '-' || raw[0] >= '0' && raw[0] <= '9' }

// fieldsOf are the fields of a struct by their names in JSON, those of embedded
// structs among them.
func fieldsOf(t reflect.Type) map[string]reflect.Type {
	out := map[string]reflect.Type{}
	for _, f := range reflect.VisibleFields(t) {
		tag, ok := f.Tag.Lookup("json")
		name, _, _ := strings.Cut(tag, ",")
		if ok && name != "-" && f.IsExported() {
			out[name] = f.Type
		}
	}
	return out
}
