package yield

import (
	"slices"

	"bagmark/grow/trace"
)

// twins are the keys of other columns of which one value was on exactly the same
// known bags, or on exactly the others: the records cannot tell them apart.
func (d *draft) twins(beside []trace.Column) []string {
	out := []string{}
	for _, c := range beside {
		if c.Key != d.column.Key && (d.matches(c, true) || d.matches(c, false)) {
			out = append(out, c.Key)
		}
	}
	return out
}

// matches tells whether the bags on one side, and only those, have one value of
// the column. Most columns are found out within a few bags.
func (d *draft) matches(c trace.Column, with bool) bool {
	first := slices.Index(d.with, with)
	if first < 0 {
		return false
	}
	value := c.Values[d.known[first]].Value
	if value == "" {
		return false
	}
	for n, i := range d.known {
		if (c.Values[i].Value == value) != (d.with[n] == with) {
			return false
		}
	}
	return true
}
