package trace

import (
	"math"
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
	ds := f.drafts(columns)
	asked := len(ds)
	for _, c := range beside {
		for _, v := range values(bags, c) {
			if v != c.Normal {
				ds = append(ds, f.bystander(c, v))
			}
		}
	}
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
	day, young := f.day(members, func() bool {
		first := ""
		return slices.ContainsFunc(members, func(i int) bool {
			v := column.value(i).Value
			if first == "" {
				first = v
			}
			return v != "" && v != first
		})
	})
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
	for i := range bags {
		seen[c.value(i).Value] = true
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

func (f flock) drafts(columns []Column) []*draft {
	var ds []*draft
	for _, c := range columns {
		for _, v := range values(f.bags, c) {
			if v != c.Normal && (c.Only == "" || v == c.Only) {
				ds = append(ds, f.draft(c, v))
			}
		}
	}
	return ds
}

// bystander is a draft that is only held against others, never tested.
func (f flock) bystander(c Column, value string) *draft {
	d := &draft{column: c, value: value, tally: f.count(c, value), p: math.NaN()}
	d.row.Detail.Name = name(c, value)
	if d.tally.With.Bags > 0 && d.tally.Without.Bags > 0 {
		d.marks = d.mark(f, len(d.strata()) > 0)
	}
	return d
}

// strata are the batches in which the condition differs.
func (d *draft) strata() []Stratum {
	var out []Stratum
	for _, cell := range d.tally.Cells {
		if s := cell.stratum(); s.contrast() {
			out = append(out, s)
		}
	}
	return out
}

// A draft is a row in the making.
type draft struct {
	row        Row
	column     Column
	value      string
	tally      Tally
	with       []Counts // by batch
	without    []Counts
	difference Interval
	p          float64
	smallest   float64 // the smallest p that could have come out
	seen       [2]Counts
	rho        float64
	marks      marks
	partners   []*draft // cannot be told apart from this
	opposite   []bool   // of partners: on exactly the other bags
	cluster    int      // drafts that cannot be told apart share one question
}

func (f flock) draft(c Column, value string) *draft {
	d := &draft{column: c, value: value, tally: f.count(c, value), p: math.NaN(), smallest: 0}
	for _, cell := range d.tally.Cells {
		if cell.With.Bags > 0 {
			d.with = append(d.with, cell.With)
		}
		if cell.Without.Bags > 0 {
			d.without = append(d.without, cell.Without)
		}
	}
	d.rho = usedICC(ICC(d.with, d.without))
	d.row = Row{
		Key: c.Key, Level: c.Level, Value: value, ConfoundedWith: []string{},
		With: group(d.with, d.rho), Without: group(d.without, d.rho),
		NotCounted: d.tally.NotCounted(), Method: NoMethod,
	}
	if c.Normal != "" {
		d.row.Normal = &c.Normal
	}
	d.row.Detail = Detail{
		Name: name(c, value), Young: d.tally.Young, Unseen: d.tally.Unseen, Left: d.tally.Left,
		Unknown: d.tally.Unknown, Late: d.tally.Late,
	}
	for _, i := range d.tally.Find {
		d.row.Detail.Find = append(d.row.Detail.Find, f.bags[i].Code)
	}
	d.test(f)
	return d
}

// test chooses the method: bags of the same batch where any batch has both kinds, whole batches otherwise.
func (d *draft) test(f flock) {
	if len(d.with) == 0 || len(d.without) == 0 {
		return
	}
	strata := d.strata()
	if len(strata) > 0 {
		d.testInside(strata)
	} else {
		d.testBatches()
	}
	d.row.P = finite(d.p)
	d.row.Difference = d.difference.Bounds()
	d.marks = d.mark(f, len(strata) > 0)
}

func (d *draft) testInside(strata []Stratum) {
	d.row.Method, d.row.Batches = StratifiedExact, len(strata)
	d.difference = StandardisedDifference(strata).Interval
	for _, s := range strata {
		a, b, c, e := s.cells()
		d.seen[0] = d.seen[0].plus(Counts{a, a + b})
		d.seen[1] = d.seen[1].plus(Counts{c, c + e})
	}
	if convolutionCost(strata) > mostConvolution {
		pooled := MantelHaenszel(strata)
		d.p = pooled.P
		d.row.Method = PooledOdds
		d.row.OddsRatio = oddsBounds(pooled.Interval)
		return
	}
	e := NewExact(strata)
	d.p = e.Tails(0).MidP()
	d.row.OddsRatio = oddsBounds(e.OddsRatio())
}

// oddsBounds is nil where there is no odds ratio at all.
func oddsBounds(i Interval) *Bounds {
	if math.IsNaN(i.Estimate) {
		return nil
	}
	return i.Bounds()
}

func (d *draft) testBatches() {
	d.row.Method, d.row.Batches = BatchPermutation, len(d.tally.Cells)
	batches := make([]Batch, len(d.tally.Cells))
	for i, cell := range d.tally.Cells {
		exposed := cell.With.Bags > 0
		c := cell.Without
		if exposed {
			c = cell.With
		}
		batches[i] = Batch{Counts: c, Exposed: exposed, Stratum: cell.Species}
	}
	p := Permute(batches)
	c := ClusterDifference(d.with, d.without)
	d.p, d.smallest, d.difference = p.P, p.Smallest, c.Interval
	d.row.Detail.Sampled = p.Sampled
	d.seen = [2]Counts{d.tally.With, d.tally.Without}
}

// judge gives the verdict; it needs the adjusted p.
func (d *draft) judge(margin float64) {
	if d.row.Method == NoMethod {
		d.row.Verdict = NothingToCompare
		return
	}
	all := d.tally.With.plus(d.tally.Without)
	q := math.NaN()
	if d.row.Q != nil {
		q = *d.row.Q
	}
	switch {
	case all.Bad == 0 || all.Bad == all.Bags: // nothing happened, or everywhere: more bags must tell
		d.row.Verdict = CannotTell
	case d.row.Method == BatchPermutation && d.smallest > significant:
		d.row.Verdict = CannotTell
	default:
		d.row.Verdict = Judge(d.difference, margin, q)
	}
	if d.row.Verdict == CannotTell {
		d.row.Detail.Need = d.need(margin)
	}
}

func (d *draft) need(margin float64) Need {
	n := HowMany(d.seen[0], d.seen[1], margin)
	if d.row.Method == BatchPermutation {
		size := d.tally.With.plus(d.tally.Without).Bags / float64(len(d.tally.Cells))
		return n.inBatches(size, d.rho, len(d.with), len(d.without))
	}
	return n
}

// adjust sets the q of every tested row; conditions that cannot be told apart are one question.
func adjust(ds []*draft) {
	var ps []float64
	at := make(map[int]int)
	for _, d := range ds {
		if math.IsNaN(d.p) {
			continue
		}
		k, ok := at[d.cluster]
		if !ok {
			k = len(ps)
			at[d.cluster] = k
			ps = append(ps, d.p)
		}
		ps[k] = math.Max(ps[k], d.p)
	}
	qs := Adjust(ps)
	for _, d := range ds {
		if !math.IsNaN(d.p) {
			d.row.Q = finite(qs[at[d.cluster]])
		}
	}
}
