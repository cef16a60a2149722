package climate

import (
	"math"
	"slices"
)

// largestSplit is how many guests are shared out by trying every way; above it
// neighbours by target stay together.
const largestSplit = 15

// A Split is guests shared out over two rooms. Cool and Warm are indexes into the
// guests, each in the order given; the rooms are named by their set-points.
type Split struct {
	Cool, Warm   []int
	CoolC, WarmC float64
	// One and Two are the costs of the best single room and of the two: mean degrees
	// out of band, or mean relative days, by which the split was chosen.
	One, Two float64
	Possible bool
}

// Splits are the two answers: by bands first, by growth curves beside it.
type Splits struct{ InBand, FewestDays Split }

// Share finds the best way to share guests out over two rooms that can have any
// set-point each: every way of at most fifteen guests is tried. Both rooms hold
// somebody, so at least two guests are needed.
func Share(guests []Guest) Splits {
	groups := parcels(guests)
	t := table{}
	for _, g := range groups {
		var r row
		for _, i := range g {
			one := rowOf(guests[i])
			r.add(&one)
			t.weight += guests[i].Weight
		}
		t.rows = append(t.rows, r)
	}
	if len(t.rows) < 2 {
		return Splits{}
	}
	s := search{table: t, band: way{first: math.Inf(1)}, days: way{first: math.Inf(1)}}
	s.cuts()
	var warm row
	s.place(1, 1, &t.rows[0], &warm)
	all := t.sum(func(int) bool { return true })
	return Splits{
		InBand:     s.band.split(groups, t.weight, one(all.byBand, &all.off)),
		FewestDays: s.days.split(groups, t.weight, one(all.byDays, &all.days)),
	}
}

// one is the cost of a single room, infinite where none is possible.
func one(best func() (int, bool), cost *[steps]float64) float64 {
	if at, ok := best(); ok {
		return cost[at]
	}
	return math.Inf(1)
}

// A way is one way of sharing out: which groups stand in the first room as bits,
// where the two set-points lie, and the costs in the order that decides.
type way struct {
	mask                 uint32
	a, b                 int
	first, second, third float64
}

func (w way) better(o way) bool {
	for _, d := range [...]float64{w.first - o.first, w.second - o.second, w.third - o.third} {
		if d < -alike {
			return true
		} else if d > alike {
			return false
		}
	}
	return false
}

// search walks the tree of ways: group by group into the one room or the other.
// The first group stays in the first room, so no way is tried twice.
type search struct {
	table
	band, days way
}

// cuts judges the ways that leave neighbours together: groups come by target, and
// one of these is mostly close to the best, so that the walk can be short.
func (s *search) cuts() {
	var cool row
	for cut := 1; cut < len(s.rows); cut++ {
		cool.add(&s.rows[cut-1])
		warm := s.sum(func(i int) bool { return i >= cut })
		s.judge(1<<cut-1, &cool, &warm)
	}
}

func (s *search) place(i int, mask uint32, a, b *row) {
	if i == len(s.rows) {
		if mask != 1<<len(s.rows)-1 {
			s.judge(mask, a, b)
		}
		return
	}
	if s.hopeless(a, b) {
		return
	}
	next := *a
	next.add(&s.rows[i])
	s.place(i+1, mask|1<<i, &next, b)
	next = *b
	next.add(&s.rows[i])
	s.place(i+1, mask, a, &next)
}

// hopeless says that no way that begins so beats what was found: costs only grow
// with every guest.
func (s *search) hopeless(a, b *row) bool {
	if least(&a.days)+least(&b.days) <= s.days.first+alike {
		return false
	}
	off := least(&a.off) + least(&b.off) - s.band.first
	return off > alike || off > -alike && least(&a.far)+least(&b.far) > s.band.second+alike
}

func least(list *[steps]float64) float64 {
	m := list[0]
	for _, x := range list {
		if x < m {
			m = x
		}
	}
	return m
}

func (s *search) judge(mask uint32, a, b *row) {
	if s.hopeless(a, b) {
		return
	}
	if i, ok := a.byDays(); ok {
		if j, ok := b.byDays(); ok {
			if w := (way{mask, i, j, a.days[i] + b.days[j], 0, 0}); math.IsInf(s.days.first, 1) || w.better(s.days) {
				s.days = w
			}
		}
	}
	if i, ok := a.byBand(); ok {
		if j, ok := b.byBand(); ok {
			w := way{mask, i, j, a.off[i] + b.off[j], a.far[i] + b.far[j], a.days[i] + b.days[j]}
			if math.IsInf(s.band.first, 1) || w.better(s.band) {
				s.band = w
			}
		}
	}
}

// split names the cooler room first.
func (w way) split(groups [][]int, weight, one float64) Split {
	if math.IsInf(w.first, 1) {
		return Split{}
	}
	s := Split{CoolC: celsius(w.a), WarmC: celsius(w.b), One: one / weight, Two: w.first / weight, Possible: true}
	for i, g := range groups {
		if w.mask>>i&1 == 1 {
			s.Cool = append(s.Cool, g...)
		} else {
			s.Warm = append(s.Warm, g...)
		}
	}
	slices.Sort(s.Cool)
	slices.Sort(s.Warm)
	if s.CoolC > s.WarmC {
		s.Cool, s.Warm, s.CoolC, s.WarmC = s.Warm, s.Cool, s.WarmC, s.CoolC
	}
	return s
}
