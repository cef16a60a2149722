package trace

import (
	"slices"
)

// flock is the bags of a farm gathered by batch, made once for many columns.
type flock struct {
	bags    []Bag
	batches [][]int // indices of bags, by batch in order of first appearance
}

func gather(bags []Bag) flock {
	f := flock{bags: bags}
	at := make(map[string]int)
	for i, b := range bags {
		k, ok := at[b.Batch]
		if !ok {
			k = len(f.batches)
			at[b.Batch] = k
			f.batches = append(f.batches, nil)
		}
		f.batches[k] = append(f.batches[k], i)
	}
	return f
}

// batchNames are the batches' names.
func (f flock) batchNames(batches []int) []string {
	out := make([]string, len(batches))
	for k, b := range batches {
		out[k] = f.bags[f.batches[b][0]].Batch
	}
	return out
}

// A side is which of the two compared groups a bag belongs to.
type side int8

const (
	neither side = iota // another value than the two compared
	with
	without
	unknown
)

// split puts bags on sides: those with the value against those with the normal value, or against all others where
// nothing is normal.
func (c Column) split(value string) func(i int) side {
	return func(i int) side {
		v := c.value(i).Value
		switch {
		case v == "":
			return unknown
		case v == value:
			return with
		case c.Normal == "" || v == c.Normal:
			return without
		}
		return neither
	}
}

// A Cell is the counted bags of one batch on both sides.
type Cell struct {
	Batch         int // index into the farm's batches
	Species       string
	With, Without Counts
}

// stratum is the cell as a table for the exact test.
func (c Cell) stratum() Stratum {
	return Stratum{
		ExposedBad: int(c.With.Bad), Exposed: int(c.With.Bags),
		Bad: int(c.With.Bad + c.Without.Bad), Bags: int(c.With.Bags + c.Without.Bags),
	}
}

// A Tally is the result of the counting rule for one value of one condition.
type Tally struct {
	Cells         []Cell // batches with at least one counted bag
	With, Without Counts
	Young         int   // not counted: the batch has not reached the species' day
	Unseen        int   // not counted: nobody looked since before the day
	Left          int   // not counted: gone before the day for another reason
	Unknown       int   // the condition is not recorded
	Late          int   // counted with the value that stood before, as it was changed after the find
	Find          []int // bags of batches with both kinds that only need to be seen
	Counted       []int // counted bags of batches with both kinds
	OutWith       []int // batches on one side none of whose bags can be counted yet, as they are too young
	OutWithout    []int
}

// NotCounted is how many bags with a known value did not count.
func (t Tally) NotCounted() int { return t.Young + t.Unseen + t.Left }

// count applies the counting rule to one value of one column: contaminated by the species' day or not, of bags whose
// batch has reached that day. A younger batch in which the condition differs still compares its own bags, by the last
// day that nine in ten of them were seen.
func (f flock) count(l layout, value string) Tally {
	var t Tally
	sideOf := l.column.split(value)
	id, normal := l.id(value), l.id(l.column.Normal)
	for k, u := range l.batches {
		if u.mixed {
			f.countMixed(&t, l.column, k, sideOf)
			continue
		}
		t.Unknown += u.unknown
		if s := u.side(id, normal); s == with || s == without {
			t.addAll(u, s, Cell{Batch: k, Species: f.bags[f.batches[k][0]].Species})
		}
	}
	return t
}

// addAll books a batch whose bags are all on one side.
func (t *Tally) addAll(u uniform, s side, cell Cell) {
	t.Late += u.late
	t.Young += u.outcomes[Young]
	t.Unseen += u.outcomes[Unseen]
	t.Left += u.outcomes[Left]
	c := Counts{float64(u.outcomes[Bad]), float64(u.outcomes[Bad] + u.outcomes[Clean])}
	switch {
	case c.Bags == 0 && u.outcomes[Young] > 0 && s == with:
		t.OutWith = append(t.OutWith, cell.Batch)
	case c.Bags == 0 && u.outcomes[Young] > 0:
		t.OutWithout = append(t.OutWithout, cell.Batch)
	case s == with:
		cell.With = c
	default:
		cell.Without = c
	}
	t.addCell(cell)
}

// countMixed books a batch whose bags have several values, bag by bag.
func (f flock) countMixed(t *Tally, column Column, batch int, sideOf func(int) side) {
	members := f.batches[batch]
	differs := f.differs(members, sideOf)
	day, young := f.day(members, differs)
	cell := Cell{Batch: batch, Species: f.bags[members[0]].Species}
	for _, i := range members {
		s := sideOf(i)
		if s == unknown {
			t.Unknown++
		}
		if s != with && s != without {
			continue
		}
		if column.value(i).Late {
			t.Late++
		}
		o := Young
		if !young {
			o = f.bags[i].OutcomeBy(day)
		}
		t.add(&cell, i, s, o, differs)
	}
	t.addCell(cell)
}

// add books one bag. Only where the batch has both kinds is it worth knowing which bags counted and which to find.
func (t *Tally) add(cell *Cell, i int, s side, o Outcome, differs bool) {
	c := Counts{Bags: 1}
	switch o {
	case Young:
		t.Young++
		return
	case Unseen:
		t.Unseen++
		if differs {
			t.Find = append(t.Find, i)
		}
		return
	case Left:
		t.Left++
		return
	case Bad:
		c.Bad = 1
	}
	if differs {
		t.Counted = append(t.Counted, i)
	}
	if s == with {
		cell.With = cell.With.plus(c)
	} else {
		cell.Without = cell.Without.plus(c)
	}
}

func (t *Tally) addCell(cell Cell) {
	if cell.With.Bags+cell.Without.Bags == 0 {
		return
	}
	t.Cells = append(t.Cells, cell)
	t.With = t.With.plus(cell.With)
	t.Without = t.Without.plus(cell.Without)
}

// differs tells whether both kinds of bags stand in one batch.
func (f flock) differs(members []int, sideOf func(int) side) bool {
	var a, b bool
	for _, i := range members {
		s := sideOf(i)
		a, b = a || s == with, b || s == without
		if a && b {
			return true
		}
	}
	return false
}

// day is the day on which a batch is judged; young says that it is not judged at all.
func (f flock) day(members []int, differs bool) (day int, young bool) {
	first := f.bags[members[0]]
	if first.Age >= first.Horizon {
		return first.Horizon, false
	}
	if !differs {
		return 0, true
	}
	d := min(first.Horizon, f.nineInTen(members))
	return d, d < 1
}

// nineInTen is the last day on or after which at least nine in ten of the bags had been seen, those contaminated or
// gone left aside; the batch's age if none is left.
func (f flock) nineInTen(members []int) int {
	var seen []int
	for _, i := range members {
		b := f.bags[i]
		if !b.Alive() {
			continue
		}
		if d, ok := b.LastSeen.Day(); ok {
			seen = append(seen, d)
		} else {
			seen = append(seen, -1)
		}
	}
	if len(seen) == 0 {
		return f.bags[members[0]].Age
	}
	slices.Sort(seen)
	return seen[len(seen)/10] // at most one in ten lies below
}
