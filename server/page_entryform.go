package server

import (
	"math"
	"net/url"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
)

// parseEntryForm turns a form into the same draft that the API's JSON gives,
// so that both go through one door. Numbers take a comma as well as a point.
// zone is the farm's, for a time typed without an offset.
func parseEntryForm(v url.Values, bag grow.Code, zone *time.Location) (grow.Draft, error) {
	var p grow.Problems
	d := grow.Draft{Bag: bag, Kind: grow.EntryKind(v.Get("kind"))}
	id, err := grow.ParseID(v.Get("id"))
	if err != nil {
		p.Add("id", "is missing; open the bag's page again")
	}
	d.ID, d.At = id, timeField(v, "at", zone, &p)
	d.Details = grow.Details{
		Bench: v.Get("bench") == "true",
		Seen:  v.Get("seen"), Bare: v["bare"], What: v.Get("what"), Where: v.Get("where"), Sign: v.Get("sign"),
		Key: v.Get("key"), Basis: v.Get("basis"), Because: typed(v, "because"), Of: grow.Code(v.Get("of")),
		For: v.Get("for"), Place: typed(v, "place"), Why: v.Get("why"), Opening: v.Get("opening"), To: typed(v, "to"),
		Photo: v.Get("photo"), Text: typed(v, "text"), Entry: grow.ID(strings.ToLower(v.Get("entry"))),
	}
	d.Pct, d.ExtentPct, d.Grams = numberField(v, "pct", &p), numberField(v, "extent_pct", &p), numberField(v, "grams", &p)
	if v.Has("ounces") {
		d.Grams = typedGrams(grow.UnitsOf("imperial"), grow.Kitchen, v, "ounces", &p)
	}
	d.Flush = wholeField(v, "flush", &p)
	if v.Get("full") == "false" && d.Pct == nil {
		full := false
		d.Full = &full
	}
	if v.Has("value") {
		d.Value = grow.KnownValue(v.Get("value"))
	}
	if key, value, ok := strings.Cut(v.Get("set"), "="); ok { // a list of conditions with their values
		d.Key, d.Value = key, grow.KnownValue(value)
	}
	d.On = dateField(v, "on", &p)
	return d, p.Err("this cannot be logged as it is")
}

// typed is a text without the spaces around it.
func typed(v url.Values, name string) string { return strings.TrimSpace(v.Get(name)) }

// text is a typed text, nil if there is none.
func text(v url.Values, name string) *string {
	if s := typed(v, name); s != "" {
		return &s
	}
	return nil
}

func numberField(v url.Values, name string, p *grow.Problems) *float64 {
	s := strings.Replace(typed(v, name), ",", ".", 1)
	if s == "" {
		return nil
	}
	n, err := strconv.ParseFloat(s, 64)
	if err != nil || n != n || n > 1e12 || n < -1e12 {
		p.Add(name, "must be a number")
		return nil
	}
	return &n
}

// wholeField is a number of things: a part of one is refused, not cut off.
func wholeField(v url.Values, name string, p *grow.Problems) *int {
	n := numberField(v, name, p)
	if n == nil {
		return nil
	}
	if *n != math.Trunc(*n) || math.Abs(*n) > math.MaxInt32 {
		p.Add(name, "must be a whole number")
		return nil
	}
	return new(int(*n))
}

func dateField(v url.Values, name string, p *grow.Problems) *grow.Date {
	s := typed(v, name)
	if s == "" {
		return nil
	}
	d, err := grow.ParseDate(s)
	if err != nil {
		p.Add(name, "must be a date like 2026-03-14")
		return nil
	}
	return &d
}

// timeField reads what a date and time input sends, in the farm's zone.
func timeField(v url.Values, name string, zone *time.Location, p *grow.Problems) *time.Time {
	s := typed(v, name)
	if s == "" {
		return nil
	}
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02 15:04", "2006-01-02 3:04 pm"} {
		if t, err := time.ParseInLocation(layout, s, zone); err == nil {
			return &t
		}
	}
	p.Add(name, "must be a date and time like 2026-03-14 15:04")
	return nil
}
