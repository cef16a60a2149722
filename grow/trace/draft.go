package trace

import (
	"math"
	"runtime"
	"slices"
	"sync"
)

// drafts makes those of each column; columns are independent, so all processors share them.
func (f flock) drafts(columns []Column, of func(l layout, value string) *draft) []*draft {
	each := make([][]*draft, len(columns))
	free := make(chan bool, runtime.GOMAXPROCS(0))
	var all sync.WaitGroup
	for k, c := range columns {
		free <- true
		all.Go(func() {
			defer func() { <-free }()
			l := f.lay(c)
			all := values(f.bags, c)
			for _, v := range all {
				if v != c.Normal && (c.Only == "" || v == c.Only) {
					d := of(l, v)
					d.row.Detail.Sides = sides(c, v, all)
					each[k] = append(each[k], d)
				}
			}
		})
	}
	all.Wait()
	return slices.Concat(each...)
}

// bystander is a draft that is only held against others, never tested.
func (f flock) bystander(l layout, value string) *draft {
	d := &draft{column: l.column, value: value, tally: f.count(l, value), p: math.NaN()}
	d.row.Detail.Name = name(l.column, value)
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
	partners   []partner  // cannot be told apart from this
	unions     [][]*draft // values of another condition that together were on the same batches
	cluster    int        // drafts that cannot be told apart share one question
}

// A partner is another draft that the records cannot tell apart.
type partner struct {
	draft    *draft
	opposite bool // on exactly the other bags
	bags     int  // counted bags that had both
}

func (f flock) draft(l layout, value string) *draft {
	c := l.column
	d := &draft{column: c, value: value, tally: f.count(l, value), p: math.NaN()}
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
	d.row.Early = d.early(f)
	d.row.Difference = d.difference.Bounds()
	d.marks = d.mark(f, len(strata) > 0)
}

func (d *draft) testInside(strata []Stratum) {
	d.row.Method, d.row.Batches = StratifiedExact, len(strata)
	standardised := StandardisedDifference(strata)
	d.difference = standardised.Interval
	d.ratio(standardised.With, standardised.Without, z975)
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

func (d *draft) ratio(with, without Counts, z float64) {
	if r, ok := Ratio(with, without, z); ok {
		d.row.Detail.Ratio = r.Bounds()
	}
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
	if c.Freedom > 0 {
		d.ratio(c.With, c.Without, tQuantile(c.Freedom))
	}
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
