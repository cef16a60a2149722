package trace

import "slices"

const (
	hardlyBags    = 5 // two conditions that differ on fewer bags are hardly told apart; common practice, no source
	hardlyBatches = 2
)

// marks are a condition as a yes/no column over the units of its test: the bags of the batches with both kinds, or
// whole batches.
type marks struct {
	inside  bool
	side    []side // by bag or by batch
	exposed []int
	other   []int
}

// mark makes the column of a tested draft.
func (d *draft) mark(f flock, inside bool) marks {
	m := marks{inside: inside}
	if !inside {
		m.side = make([]side, len(f.batches))
		for _, cell := range d.tally.Cells {
			m.set(cell.Batch, map[bool]side{true: with, false: without}[cell.With.Bags > 0])
		}
		return m
	}
	sideOf := d.column.split(d.value)
	m.side = make([]side, len(f.bags))
	counted := make([]bool, len(f.bags))
	for _, i := range d.tally.Counted {
		counted[i] = true
	}
	for _, cell := range d.tally.Cells {
		if cell.With.Bags == 0 || cell.Without.Bags == 0 {
			continue
		}
		for _, i := range f.batches[cell.Batch] {
			if counted[i] {
				m.set(i, sideOf(i))
			}
		}
	}
	return m
}

func (m *marks) set(unit int, s side) {
	m.side[unit] = s
	if s == with {
		m.exposed = append(m.exposed, unit)
	} else {
		m.other = append(m.other, unit)
	}
}

// An overlap says how two columns lie to each other.
type overlap struct {
	both   int // units with both
	differ int // units with one of them only
	common []int
}

// mostly tells whether the other condition is recorded on at least half of the units that have this one: two that
// happen to meet in one batch are not the same thing because nobody wrote the second one down elsewhere.
func (v overlap) mostly(m marks) bool { return 2*v.both >= len(m.exposed) }

// against looks at the units of both columns. For conditions that differ inside batches a batch where only one of the
// two differs tells them apart by itself, so its bags count as differing.
func (m marks) against(o marks, inO func(unit int) side) overlap {
	var v overlap
	for _, u := range m.exposed {
		switch {
		case o.side[u] == with:
			v.both++
			v.common = append(v.common, u)
		case o.side[u] == without || inO(u) != unknown:
			v.differ++
		}
	}
	return v
}

// confound finds the tested conditions that the records cannot tell apart, or hardly, and gathers the former into
// clusters. Those from asked on are only held against the ones before.
func confound(f flock, ds []*draft, asked int) {
	for i, d := range ds {
		d.cluster = i
	}
	for i, a := range ds[:asked] {
		for _, b := range ds[i+1:] {
			switch {
			case a.marks.side == nil || b.marks.side == nil || a.marks.inside != b.marks.inside:
			case a.column.Key != b.column.Key:
				pair(f, a, b, ds)
			case mirror(a.marks, b.marks): // two values of one condition are one question
				unite(a, b, ds)
			}
		}
	}
	for _, d := range ds[:asked] {
		for _, p := range d.partners {
			d.confoundedWith(p.draft.column.Key)
		}
		for _, u := range unions(d, ds) {
			d.unions = append(d.unions, u)
			d.confoundedWith(u[0].column.Key)
		}
	}
}

func (d *draft) confoundedWith(key string) {
	if !slices.Contains(d.row.ConfoundedWith, key) {
		d.row.ConfoundedWith = append(d.row.ConfoundedWith, key)
	}
}

// mostInUnion: any condition is a sum of enough others, and that says nothing.
const mostInUnion = 3

// unions are the two or three values of another condition that together were on exactly the batches of the draft,
// each on at least two of them.
func unions(d *draft, ds []*draft) [][]*draft {
	if d.marks.side == nil || d.marks.inside {
		return nil
	}
	parts := make(map[string][]*draft)
	var keys []string
	for _, e := range ds {
		if e.column.Key == d.column.Key || e.marks.side == nil || e.marks.inside || len(e.marks.exposed) < hardlyBatches || !d.holds(e) {
			continue
		}
		if parts[e.column.Key] == nil {
			keys = append(keys, e.column.Key)
		}
		parts[e.column.Key] = append(parts[e.column.Key], e)
	}
	var out [][]*draft
	for _, k := range keys {
		n := 0
		for _, e := range parts[k] {
			n += len(e.marks.exposed)
		}
		if p := parts[k]; len(p) > 1 && len(p) <= mostInUnion && n == len(d.marks.exposed) {
			out = append(out, p)
		}
	}
	return out
}

// holds tells whether all batches of e's value had d's.
func (d *draft) holds(e *draft) bool {
	return !slices.ContainsFunc(e.marks.exposed, func(u int) bool { return d.marks.side[u] != with })
}

func pair(f flock, a, b *draft, ds []*draft) {
	x, y := a.marks.against(b.marks, f.sides(b)), b.marks.against(a.marks, f.sides(a))
	differ := x.differ + y.differ
	switch {
	case x.both > 0 && differ == 0 && x.mostly(a.marks) && y.mostly(b.marks):
		join(a, b, false, ds, x.common)
	case x.both == 0 && mirror(a.marks, b.marks):
		join(a, b, true, ds, nil)
	case differ < x.both && differ > 0 && differ < a.hardly():
		a.row.Detail.Hardly = append(a.row.Detail.Hardly, b.row.Detail.Name)
		b.row.Detail.Hardly = append(b.row.Detail.Hardly, a.row.Detail.Name)
	}
}

func (d *draft) hardly() int {
	if d.marks.inside {
		return hardlyBags
	}
	return hardlyBatches
}

// sides tells on which side of a draft's condition a unit is, also where the unit is not part of its test.
func (f flock) sides(d *draft) func(unit int) side {
	if d.marks.inside {
		return d.column.split(d.value)
	}
	sideOf := d.column.split(d.value)
	return func(unit int) side { return sideOf(f.batches[unit][0]) }
}

// mirror tells whether one condition was on exactly the units that the other was not on.
func mirror(a, b marks) bool {
	for _, u := range a.exposed {
		if b.side[u] != without {
			return false
		}
	}
	for _, u := range a.other {
		if b.side[u] != with {
			return false
		}
	}
	return len(b.exposed) == len(a.other) && len(b.other) == len(a.exposed) && len(a.exposed) > 0
}

// join notes that two conditions cannot be told apart, and on how many counted bags they were together.
func join(a, b *draft, opposite bool, ds []*draft, common []int) {
	bags := a.bagsOf(common)
	a.partners = append(a.partners, partner{b, opposite, bags})
	b.partners = append(b.partners, partner{a, opposite, bags})
	unite(a, b, ds)
}

// bagsOf is how many counted bags units of the draft's test hold.
func (d *draft) bagsOf(units []int) int {
	if d.marks.inside {
		return len(units)
	}
	bags := 0.0
	for _, cell := range d.tally.Cells {
		if slices.Contains(units, cell.Batch) {
			bags += cell.With.Bags
		}
	}
	return int(bags)
}

func unite(a, b *draft, ds []*draft) {
	from, to := b.cluster, a.cluster
	for _, d := range ds {
		if d.cluster == from {
			d.cluster = to
		}
	}
}
