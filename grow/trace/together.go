package trace

import (
	"fmt"
	"math"
)

// mostTogether is how many conditions are looked at together: more would need more contaminated bags than farms have,
// and time. Common practice, no source.
const mostTogether = 6

// A Together is several conditions looked at at once over the bags of one species, each held against the others. It is
// a second look beside the rows, never a verdict: with columns of whole batches its limits rest on simulation for one
// column only.
type Together struct {
	Conditions []TogetherOne `json:"conditions"` // empty where no joint look is possible
	Bags       int           `json:"bags"`
	Bad        int           `json:"contaminated"`
	Batches    int           `json:"batches"`
	Words      string        `json:"words"`
}

// A TogetherOne is one condition's part.
type TogetherOne struct {
	Key       string  `json:"key"`
	Value     string  `json:"value"`
	OddsRatio *Bounds `json:"odds_ratio"` // with the others held as they are
	P         float64 `json:"p_value"`
	Bad       int     `json:"contaminated"` // of the bags that had it
	Bags      int     `json:"bags"`
	name      string
}

// LookTogether looks at several values at once by Firth's logistic regression over the counted bags of one species.
// Conditions that the bags cannot tell apart are taken as one, the first named, and those made up of others are left
// out; both are said. ok is false where fewer than two are asked for: there is nothing to look at together.
func LookTogether(bags []Bag, columns []Column, asked []Suspect, species string) (t Together, ok bool) {
	var picked []Column
	var values []Suspect
	for _, s := range asked[:min(len(asked), mostTogether)] {
		for _, c := range columns {
			if c.Key == s.Key {
				picked, values = append(picked, c), append(values, s)
			}
		}
	}
	if len(picked) < 2 {
		return Together{}, false
	}
	j := gatherJoint(bags, picked, values, species)
	return j.look(), true
}

// joint is the bags of a joint look.
type joint struct {
	names   []string
	asked   []Suspect
	rows    []Pattern
	cells   [][]Counts // of each row, by batch: bags alike in every condition
	batches []Counts
	all     Counts
}

// gatherJoint takes the bags whose value is known in every column and on one of its two sides, counted as for a row: by
// the species' day, or by an earlier one in a young batch in which one of the conditions differs.
func gatherJoint(bags []Bag, columns []Column, values []Suspect, species string) *joint {
	j := &joint{asked: values}
	sides := make([]func(int) side, len(columns))
	for k, c := range columns {
		sides[k] = c.split(values[k].Value)
		j.names = append(j.names, name(c, values[k].Value))
	}
	f := gather(bags)
	at := make(map[string]int)
	for _, members := range f.batches {
		if bags[members[0]].Species != species {
			continue
		}
		differs := false
		for _, s := range sides {
			differs = differs || f.differs(members, s)
		}
		day, young := f.day(members, differs)
		if young {
			continue
		}
		batch, cells := Counts{}, make(map[int]Counts)
		for _, i := range members {
			c := Counts{Bags: 1}
			switch f.bags[i].OutcomeBy(day) {
			case Bad:
				c.Bad = 1
			case Clean:
			default:
				continue
			}
			if x, ok := pattern(sides, i); ok {
				k := j.add(at, x, c)
				batch, cells[k] = batch.plus(c), cells[k].plus(c)
			}
		}
		if batch.Bags > 0 {
			j.batches, j.all = append(j.batches, batch), j.all.plus(batch)
		}
		for k, c := range cells {
			j.cells[k] = append(j.cells[k], c)
		}
	}
	return j
}

// pattern is a bag's row of zeros and ones, if all of it is known.
func pattern(sides []func(int) side, bag int) ([]float64, bool) {
	x := make([]float64, len(sides))
	for k, s := range sides {
		switch s(bag) {
		case with:
			x[k] = 1
		case without:
		default:
			return nil, false
		}
	}
	return x, true
}

func (j *joint) add(at map[string]int, x []float64, c Counts) (row int) {
	key := fmt.Sprint(x)
	k, ok := at[key]
	if !ok {
		k = len(j.rows)
		at[key] = k
		j.rows, j.cells = append(j.rows, Pattern{X: x}), append(j.cells, nil)
	}
	j.rows[k].Counts = j.rows[k].plus(c)
	return k
}

// look fits the columns that can be told apart.
func (j *joint) look() Together {
	t := Together{Conditions: []TogetherOne{}, Bags: int(j.all.Bags), Bad: int(j.all.Bad), Batches: len(j.batches)}
	if len(j.rows) == 0 {
		t.Words = "No bag can be counted yet whose value is known in all of them."
		return t
	}
	columns := make([][]float64, len(j.asked))
	for k := range columns {
		for _, r := range j.rows {
			columns[k] = append(columns[k], r.X[k])
		}
	}
	aliases := FindAliases(columns)
	kept := aliases.kept(len(columns))
	said := j.aliasWords(aliases)
	switch {
	case len(kept) < 2:
		t.Words = said + "Nothing is left to hold against each other."
		return t
	case !EnoughForJoint(j.all, len(kept)):
		t.Words = said + fmt.Sprintf("Too few contaminated bags for a joint look: %s.", j.all.words())
		return t
	}
	fit, ok := FirthLogistic(j.only(kept), j.effect(), j.freedom(len(kept)))
	if !ok {
		t.Words = said + "No joint look is to be had from these bags."
		return t
	}
	for n, k := range kept {
		c := fit.Coefficients[n+1]
		one := TogetherOne{Key: j.asked[k].Key, Value: j.asked[k].Value, P: c.P, name: j.names[k],
			OddsRatio: Interval{math.Exp(c.Estimate), math.Exp(c.Low), math.Exp(c.High)}.Bounds()}
		for _, r := range j.rows {
			if r.X[k] == 1 {
				one.Bad, one.Bags = one.Bad+int(r.Bad), one.Bags+int(r.Bags)
			}
		}
		t.Conditions = append(t.Conditions, one)
	}
	t.Words = said + t.words()
	return t
}

// kept are the columns that say something of their own.
func (a Aliases) kept(columns int) []int {
	gone := make([]bool, columns)
	for _, k := range a.Constant {
		gone[k] = true
	}
	for _, g := range a.Identical {
		for _, k := range g[1:] {
			gone[k] = true
		}
	}
	for _, s := range a.Sums {
		gone[s.Column] = true
	}
	var out []int
	for k := range columns {
		if !gone[k] {
			out = append(out, k)
		}
	}
	return out
}

// only is the rows with some of the columns.
func (j *joint) only(kept []int) []Pattern {
	out := make([]Pattern, len(j.rows))
	for i, r := range j.rows {
		out[i].Counts = r.Counts
		for _, k := range kept {
			out[i].X = append(out[i].X, r.X[k])
		}
	}
	return out
}

// effect is the design effect of bags of one batch sharing their fate: how alike they are is told from batches that are
// alike in every condition, so that what the conditions do is not taken for it.
func (j *joint) effect() float64 {
	if len(j.batches) < 2 {
		return 1
	}
	squares := 0.0
	for _, c := range j.batches {
		squares += c.Bags * c.Bags
	}
	return designEffect(squares, j.all.Bags, usedICC(ICC(j.cells...)))
}

// freedom is that of the limits: batches less columns less 1, and that of independent bags in a single batch.
func (j *joint) freedom(columns int) float64 {
	if len(j.batches) < 2 {
		return math.Inf(1)
	}
	return math.Max(1, float64(len(j.batches)-columns-1))
}
