package grow

import (
	"regexp"
	"slices"
	"strings"
)

// Level says whether a condition is usually one bag's own or its whole batch's.
type Level string

// The two levels.
const (
	BagLevel   Level = "bag"
	BatchLevel Level = "batch"
)

// Condition is a process flag: what a bag went through at making, such as the
// flow hood being on. Departures from the normal value are printed on the
// label; normal values stay silent; unknown is unknown, never silently normal.
type Condition struct {
	Key    string   `json:"key"`
	Label  string   `json:"label"`
	Level  Level    `json:"level"`
	Values []string `json:"values"`
	// Normal is nil when no value is the ordinary one: then nothing prints and
	// each value is compared with the rest.
	Normal *string `json:"normal"`
	// Short is printed (at most 14 characters) when a bag departs; Shorts by
	// value stands before it.
	Short  string            `json:"short"`
	Shorts map[string]string `json:"shorts"`
	// Pen is the word of the pen box on the label, "" for none.
	Pen string `json:"pen"`
	// Explains says, in common practice, which fault this would explain.
	Explains string `json:"explains"`
}

// Unknown is the word for a value nobody recorded. Not given, null and unknown
// are one.
const Unknown = "unknown"

var (
	conditionKey   = regexp.MustCompile(`^[a-z][a-z0-9_]{0,39}$`)
	conditionValue = regexp.MustCompile(`^[a-z0-9][a-z0-9_]{0,39}$`)
	// reservedKeys are the fields of a batch and the sharers of a trace.
	reservedKeys = []string{"species", "strain", "recipe", "operator", "spawn_lot", "substrate_lot", "steriliser_run", "place", "batch", "code", "id", "bags",
		"lab_day", "inoculated_at", "inoculated_on", "bag_wet_g", "moisture_pct", "spawn_rate_pct", "note", "labels_later", "conditions", "bag_conditions", "blanks", "made_near", SpawnJarKey}
)

// Validate names every field that is wrong.
func (c Condition) Validate() error {
	var p Problems
	if !conditionKey.MatchString(c.Key) {
		p.Add("key", "must be lower-case letters, digits and _, starting with a letter, at most 40")
	}
	if slices.Contains(reservedKeys, c.Key) {
		p.Add("key", "%s is a field of the batch already", c.Key)
	}
	checkText(&p, "label", c.Label, 1, 60)
	if c.Level != BagLevel && c.Level != BatchLevel {
		p.Add("level", "must be bag or batch")
	}
	c.validateValues(&p)
	checkText(&p, "short", c.Short, 0, 14)
	for v, s := range c.Shorts {
		if !slices.Contains(c.Values, v) {
			p.Add("shorts."+v, "is not one of the values")
		}
		checkText(&p, "shorts."+v, s, 0, 14)
	}
	checkText(&p, "pen", c.Pen, 0, 8)
	checkText(&p, "explains", c.Explains, 0, 200)
	return p.Err("this condition cannot be kept as it is")
}

func (c Condition) validateValues(p *Problems) {
	if len(c.Values) < 1 || len(c.Values) > 20 {
		p.Add("values", "needs 1 to 20 values")
	}
	for i, v := range c.Values {
		if !conditionValue.MatchString(v) || v == Unknown {
			p.Add("values", "%q: a value is lower-case letters, digits and _, and not the word unknown", v)
		}
		if slices.Contains(c.Values[:i], v) {
			p.Add("values", "%q stands twice", v)
		}
	}
	if c.Normal != nil && !slices.Contains(c.Values, *c.Normal) {
		p.Add("normal", "must be one of the values, or null")
	}
}

// Departs tells whether a value is a departure: known, and not the normal one
// of a condition that has one.
func (c Condition) Departs(value *string) bool {
	return value != nil && c.Normal != nil && *value != *c.Normal
}

// Printed is what a label says of a value, "" when it says nothing.
func (c Condition) Printed(value *string) string {
	if !c.Departs(value) {
		return ""
	}
	if s := c.Shorts[*value]; s != "" {
		return s
	}
	if c.Short != "" {
		return c.Short
	}
	return shorten(strings.ToUpper(strings.ReplaceAll(c.Label+" "+*value, "_", " ")), 14)
}

// Value reads a value of this condition: nil for unknown, an error that lists
// the values for one that is not there.
func (c Condition) Value(text *string) (*string, error) {
	if text == nil || *text == Unknown || *text == "" {
		return nil, nil
	}
	if !slices.Contains(c.Values, *text) {
		return nil, Errorf(Invalid, "must be one of %s, or unknown", strings.Join(c.Values, ", "))
	}
	return text, nil
}

func shorten(s string, most int) string {
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	return strings.TrimSpace(string(r[:most]))
}

// Conditions is the set a farm keeps, by key.
type Conditions map[string]Condition

// Keys are the keys in the order in which conditions are shown: the built-in
// ones in their own order, then the farm's by name.
func (cs Conditions) Keys() []string {
	var keys []string
	for _, c := range startingConditions {
		if _, ok := cs[c.Key]; ok {
			keys = append(keys, c.Key)
		}
	}
	own := len(keys)
	for k := range cs {
		if !slices.Contains(keys[:own], k) {
			keys = append(keys, k)
		}
	}
	slices.Sort(keys[own:])
	return keys
}

// Parse reads a set of values, noting each problem under field.KEY. Unknown
// values are left out.
func (cs Conditions) Parse(values map[string]*string, field string, p *Problems) map[string]string {
	out := map[string]string{}
	for k, v := range values {
		c, ok := cs[k]
		if !ok {
			p.Add(field+"."+k, "is not a condition of this farm; add it on the settings page first")
			continue
		}
		value, err := c.Value(v)
		if err != nil {
			p.Add(field+"."+k, "%s", err)
			continue
		}
		if value != nil {
			out[k] = *value
		}
	}
	return out
}

// StartingConditions is the set a new farm begins with (common practice). The
// caller owns the copy.
func StartingConditions() []Condition {
	out := make([]Condition, len(startingConditions))
	for i, c := range startingConditions {
		c.Values = slices.Clone(c.Values)
		shorts := make(map[string]string, len(c.Shorts))
		for k, v := range c.Shorts {
			shorts[k] = v
		}
		c.Shorts = shorts
		out[i] = c
	}
	return out
}
