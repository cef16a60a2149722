package trace

import (
	"slices"
)

// mostConvolution is the largest exact test in multiply-adds; beyond it the pooled odds ratio stands in.
const mostConvolution = 2e9

// Compare makes one row for each value that is not normal of each column, in the order of Rank. Everything compared in
// one call is adjusted together, so a page should ask for all that it shows. margin is the difference that matters
// (DefaultMargin).
func Compare(bags []Bag, columns []Column, margin float64) []Row {
	return CompareBeside(bags, columns, nil, margin)
}

// CompareBeside is Compare with other columns beside those asked about: they are named where the records cannot tell
// them apart from what is asked, but not tested themselves.
func CompareBeside(bags []Bag, columns, beside []Column, margin float64) []Row {
	f := gather(bags)
	ds := f.drafts(columns, f.draft)
	asked := len(ds)
	ds = append(ds, f.drafts(beside, f.bystander)...)
	confound(f, ds, asked)
	ds = ds[:asked]
	adjust(ds)
	rows := make([]Row, len(ds))
	for i, d := range ds {
		d.judge(margin)
		d.row.Words = d.words(f, margin)
		rows[i] = d.row
	}
	Rank(rows)
	return rows
}

// Groups are the counted bags of every value of one column, the normal value first, then by name. A young batch
// counts where any two of its bags have different values.
func Groups(bags []Bag, column Column) []ValueGroup {
	f := gather(bags)
	vs := values(bags, column)
	at := make(map[string]int, len(vs))
	for i, v := range vs {
		at[v] = i
	}
	cells := make([][]Counts, len(vs))
	for _, members := range f.batches {
		for v, c := range f.byValue(column, members) {
			cells[at[v]] = append(cells[at[v]], c)
		}
	}
	rho := usedICC(ICC(cells...))
	out := make([]ValueGroup, len(vs))
	for i, v := range vs {
		out[i] = ValueGroup{v, group(cells[i], rho)}
	}
	return out
}

// byValue counts one batch's bags by value.
func (f flock) byValue(column Column, members []int) map[string]Counts {
	first := ""
	day, young := f.day(members, slices.ContainsFunc(members, func(i int) bool {
		v := column.value(i).Value
		if first == "" {
			first = v
		}
		return v != "" && v != first
	}))
	out := make(map[string]Counts)
	for _, i := range members {
		v := column.value(i).Value
		if v == "" || young {
			continue
		}
		switch f.bags[i].OutcomeBy(day) {
		case Bad:
			out[v] = out[v].plus(Counts{1, 1})
		case Clean:
			out[v] = out[v].plus(Counts{0, 1})
		}
	}
	return out
}

// values are the distinct known values of a column, the normal one first, then by name.
func values(bags []Bag, c Column) []string {
	seen := make(map[string]bool)
	last := ""
	for i := range bags { // bags of one batch mostly have the same value
		if v := c.value(i).Value; v != last {
			seen[v], last = true, v
		}
	}
	out := make([]string, 0, len(seen))
	for v := range seen {
		if v != "" && v != c.Normal {
			out = append(out, v)
		}
	}
	slices.Sort(out)
	if c.Normal != "" && seen[c.Normal] {
		out = slices.Insert(out, 0, c.Normal)
	}
	return out
}
