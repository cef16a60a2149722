package yield

import (
	"cmp"
	"math"
	"slices"

	"bagmark/grow/trace"
)

// A Method names how a row was tested.
type Method string

// The methods: bags exchanged inside their batches, whole batches exchanged
// inside their species, or nothing to test.
const (
	InsideBatches Method = "bag_permutation"
	WholeBatches  Method = "batch_permutation"
	NoMethod      Method = "none"
)

// MarginShare is the difference that would change what a grower does, as a share
// of what the other bags give: a tenth. Common practice, no source.
const MarginShare = 0.1

// A Row is what the records say of one value of one condition.
type Row struct {
	Key            string        `json:"key"`
	Level          trace.Level   `json:"level"`
	Value          string        `json:"value"`
	Normal         *string       `json:"normal"` // nil: the value is compared with all others
	With           Side          `json:"with"`
	Without        Side          `json:"without"`
	Difference     *trace.Bounds `json:"difference"` // mean with less mean without, of bags of the same batch or species
	P              *float64      `json:"p_value"`
	Q              *float64      `json:"q_value"` // adjusted for all rows made together
	Method         Method        `json:"method"`
	Batches        int           `json:"batches"` // how many the method used
	ConfoundedWith []string      `json:"confounded_with"`
	Margin         *float64      `json:"margin"` // the difference that matters
	Verdict        trace.Verdict `json:"verdict"`
	Words          string        `json:"words"`
}

// A Side is one side of a comparison.
type Side struct {
	Bags    int      `json:"bags"`
	Batches int      `json:"batches"`
	Mean    *float64 `json:"mean"`
	Low     *float64 `json:"low"`
	High    *float64 `json:"high"`
}

// Compare makes a row for each value of the column that is not normal, over the
// bags that count. What is beside it is only named where the records cannot tell
// the two apart. Species are never compared with each other: batches are
// exchanged, and their difference taken, inside a species.
func Compare(bags []Bag, counted []int, m Measure, column trace.Column, beside []trace.Column) []Row {
	var ds []*draft
	for _, v := range valuesOf(column, counted) {
		if v != column.Normal && (column.Only == "" || v == column.Only) {
			ds = append(ds, newDraft(bags, counted, m, column, v))
		}
	}
	var ps []float64
	for _, d := range ds {
		if d.row.P != nil {
			ps = append(ps, *d.row.P)
		}
	}
	qs := trace.Adjust(ps)
	rows := make([]Row, len(ds))
	for i, d := range ds {
		if d.row.P != nil {
			d.row.Q, qs = &qs[0], qs[1:]
		}
		if d.row.Method != NoMethod {
			d.row.ConfoundedWith = d.twins(beside)
		}
		d.judge()
		d.row.Words = d.words(beside)
		rows[i] = d.row
	}
	rank(rows)
	return rows
}

// draft is a row in the making. Only bags whose value is known stand in it.
type draft struct {
	row        Row
	column     trace.Column
	measure    Measure
	known      []int // indexes of bags, and
	with       []bool
	difference trace.Interval
	margin     float64
	smallest   float64 // the smallest p that could have come out
	need       float64 // of each kind to tell, 0 where nobody asks
	sides      [2][]cell
	used       [2]int     // batches on each side of those compared as a whole
	seen       [2]float64 // the means that the sentence compares: they differ by the difference
}

func newDraft(bags []Bag, counted []int, m Measure, column trace.Column, value string) *draft {
	d := &draft{column: column, measure: m, row: Row{Key: column.Key, Level: column.Level, Value: value, Method: NoMethod, ConfoundedWith: []string{}}}
	if column.Normal != "" {
		d.row.Normal = &column.Normal
	}
	d.known, d.with = make([]int, 0, len(counted)), make([]bool, 0, len(counted))
	for _, i := range counted {
		if v := column.Values[i].Value; v != "" {
			d.known, d.with = append(d.known, i), append(d.with, v == value)
		}
	}
	batches := d.batches(bags)
	for _, b := range batches {
		for side, c := range b.cells {
			if c.n > 0 {
				d.sides[side] = append(d.sides[side], c)
			}
		}
	}
	d.row.With, d.row.Without = side(d.sides[0]), side(d.sides[1])
	if len(d.sides[0]) == 0 || len(d.sides[1]) == 0 {
		return d
	}
	if both := slices.DeleteFunc(slices.Clone(batches), func(b batch) bool { return b.cells[0].n == 0 || b.cells[1].n == 0 }); len(both) > 0 {
		d.testInside(bags, both)
	} else {
		d.testBatches(batches)
	}
	if d.row.Method != NoMethod {
		d.margin = MarginShare * math.Abs(d.seen[1])
		d.row.Difference, d.row.Margin = d.difference.Bounds(), finite(d.margin)
	}
	return d
}

// batch is what one batch gave with the value and without.
type batch struct {
	name, species string
	cells         [2]cell
	bags          []int // places in draft.known
}

func (d *draft) batches(bags []Bag) []batch {
	var out []batch
	at := map[string]int{}
	k := -1
	for n, i := range d.known {
		if b := bags[i]; n == 0 || b.Batch != out[k].name {
			var ok bool
			if k, ok = at[b.Batch]; !ok {
				k = len(out)
				at[b.Batch] = k
				out = append(out, batch{name: b.Batch, species: b.Species})
			}
		}
		v, _ := d.measure.of(bags[i])
		out[k].cells[sideOf(d.with[n])].add(v)
		out[k].bags = append(out[k].bags, n)
	}
	return out
}

func sideOf(with bool) int {
	if with {
		return 0
	}
	return 1
}

func (c cell) plus(o cell) cell { return cell{c.n + o.n, c.sum + o.sum, c.squares + o.squares} }

func side(cells []cell) Side {
	var all cell
	for _, c := range cells {
		all = all.plus(c)
	}
	mean, low, high := meanOf(cells)
	return Side{int(all.n), len(cells), finite(mean), finite(low), finite(high)}
}

// valuesOf are the known values among the counted bags, the normal one first,
// then by name.
func valuesOf(c trace.Column, counted []int) []string {
	seen := map[string]bool{}
	last := ""
	for _, i := range counted {
		if v := c.Values[i].Value; v != last && v != "" {
			seen[v], last = true, v
		}
	}
	out := make([]string, 0, len(seen))
	for v := range seen {
		out = append(out, v)
	}
	slices.SortFunc(out, func(a, b string) int {
		return cmp.Or(cmp.Compare(order(a != c.Normal), order(b != c.Normal)), cmp.Compare(a, b))
	})
	return out
}

func order(later bool) int {
	if later {
		return 1
	}
	return 0
}

// judge gives the verdict by trace's rule.
func (d *draft) judge() {
	q := math.NaN()
	if d.row.Q != nil {
		q = *d.row.Q
	}
	switch {
	case d.row.Method == NoMethod:
		d.row.Verdict = trace.NothingToCompare
	case d.smallest > significant:
		d.row.Verdict = trace.CannotTell
	default:
		d.row.Verdict = trace.Judge(d.difference, d.margin, q)
	}
}

// significant is the largest adjusted p at which anything is pointed to.
const significant = 0.05

// rank orders rows as pages show them: by verdict, then the surest difference
// first, to whichever side.
func rank(rows []Row) {
	verdicts := []trace.Verdict{trace.PointsTo, trace.SmallDifference, trace.CannotTell, trace.NoDifference, trace.NothingToCompare}
	sure := func(r Row) float64 {
		if r.Difference == nil || r.Difference.Low == nil || r.Difference.High == nil {
			return math.Inf(1)
		}
		return -math.Max(*r.Difference.Low, -*r.Difference.High)
	}
	slices.SortStableFunc(rows, func(a, b Row) int {
		return cmp.Or(cmp.Compare(slices.Index(verdicts, a.Verdict), slices.Index(verdicts, b.Verdict)), cmp.Compare(sure(a), sure(b)), cmp.Compare(a.Value, b.Value))
	})
}
