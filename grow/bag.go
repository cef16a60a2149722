package grow

import "time"

// BagCondition is one condition of a bag as it stands, and where it is from.
type BagCondition struct {
	Key       string  `json:"key"`
	Label     string  `json:"label"`
	Value     *string `json:"value"` // nil for unknown
	Normal    *string `json:"normal"`
	Departure bool    `json:"departure"`
	From      Level   `json:"from"` // the bag's own, or its batch's
	Basis     string  `json:"basis"`
	Printed   string  `json:"printed"` // what the label says, "" for nothing
	Late      bool    `json:"late"`    // see [Status.HeardLate]
}

// BagConditionsNow are all the farm's conditions as they stand for one bag:
// the log's word before the bag's own at making, before its batch's. own holds
// nil for a value known to be unknown.
func BagConditionsNow(conditions Conditions, batch map[string]string, own map[string]*string, s Status) []BagCondition {
	var out []BagCondition
	for _, key := range conditions.Keys() {
		c := conditions[key]
		b := BagCondition{Key: key, Label: c.Label, Normal: c.Normal, From: BatchLevel, Basis: "recorded"}
		if v, ok := batch[key]; ok {
			b.Value = &v
		}
		if v, ok := own[key]; ok {
			b.Value, b.From = v, BagLevel
		}
		if set, ok := s.Set[key]; ok {
			b.Value, b.From, b.Basis = set.Value, BagLevel, set.Basis
			b.Late = s.HeardLate(set)
		}
		b.Departure, b.Printed = c.Departs(b.Value), c.Printed(b.Value)
		out = append(out, b)
	}
	return out
}

// Day is a bag's age in whole days: the inoculation day is day 0.
func Day(inoculated time.Time, now time.Time, zone *time.Location) int {
	return int(DateOf(now, zone) - DateOf(inoculated, zone))
}
