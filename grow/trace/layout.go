package trace

// A layout is one column laid over the batches, made once for all its values: most batches have one value for all
// bags, and those are counted as a whole.
type layout struct {
	column  Column
	ids     map[string]int // values by number; "" is 0
	batches []uniform
}

// uniform is a batch whose bags with a known value all have the same; mixed marks one whose bags have several, of
// which nothing else is filled in.
type uniform struct {
	mixed    bool
	id       int // of the value
	unknown  int
	late     int
	outcomes [Young + 1]int // of bags with the value
}

func (f flock) lay(column Column) layout {
	l := layout{column: column, ids: map[string]int{"": 0}, batches: make([]uniform, len(f.batches))}
	for k, members := range f.batches {
		l.batches[k] = f.uniform(l, members)
	}
	return l
}

func (l layout) id(value string) int {
	id, ok := l.ids[value]
	if !ok {
		id = len(l.ids)
		l.ids[value] = id
	}
	return id
}

// side is the one on which all known bags of a uniform batch stand.
func (u uniform) side(value, normal int) side {
	switch {
	case u.id == 0:
		return unknown
	case u.id == value:
		return with
	case normal == 0 || u.id == normal:
		return without
	}
	return neither
}

// uniform counts a batch by the species' day, unless its bags have several values.
func (f flock) uniform(l layout, members []int) (u uniform) {
	value := ""
	first := f.bags[members[0]]
	young := first.Age < first.Horizon
	for _, i := range members {
		e := l.column.value(i)
		switch {
		case e.Value == "":
			u.unknown++
			continue
		case value == "":
			value = e.Value
		case e.Value != value:
			return uniform{mixed: true}
		}
		if e.Late {
			u.late++
		}
		o := Young
		if !young {
			o = f.bags[i].OutcomeBy(first.Horizon)
		}
		u.outcomes[o]++
	}
	u.id = l.id(value)
	return u
}
