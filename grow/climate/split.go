package climate

import (
	"cmp"
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
	s := search{table: t, band: noWay, days: noWay}
	s.cuts()
	s.order(guests, groups)
	var cool, warm row
	cool.add(&t.rows[s.turn[0]])
	s.place(1, 1<<s.turn[0], &cool, &warm)
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
	mask uint32
	a, b int
	cost [4]float64
}

func (w way) better(o way) bool {
	for i, cost := range w.cost {
		if d := cost - o.cost[i]; d < -alike {
			return true
		} else if d > alike {
			return false
		}
	}
	return false
}

// noWay is dearer than any way there is.
var noWay = way{cost: [4]float64{math.Inf(1)}}

// search walks the tree of ways: group by group into the one room or the other.
// The first group stays in the first room, so no way is tried twice.
type search struct {
	table
	band, days way
	turn       []int     // the order in which the groups are placed
	rest       []float64 // the least days of all groups from a turn on
}

// order puts first what lies far from the middle and weighs most: the sooner a way
// costs, the sooner it is given up.
func (s *search) order(guests []Guest, groups [][]int) {
	middle := guests[groups[len(groups)/2][0]].Band.TargetC
	pull := func(i int) (sum float64) {
		for _, g := range groups[i] {
			sum += guests[g].Weight * math.Abs(guests[g].Band.TargetC-middle)
		}
		return sum
	}
	for i := range s.rows {
		s.turn = append(s.turn, i)
	}
	slices.SortStableFunc(s.turn, func(a, b int) int { return cmp.Compare(pull(b), pull(a)) })
	s.rest = make([]float64, len(s.turn)+1)
	for i := len(s.turn) - 1; i >= 0; i-- {
		s.rest[i] = s.rest[i+1] + least(&s.rows[s.turn[i]].days)
	}
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
	if s.hopeless(i, a, b) {
		return
	}
	next := *a
	next.add(&s.rows[s.turn[i]])
	s.place(i+1, mask|1<<s.turn[i], &next, b)
	next = *b
	next.add(&s.rows[s.turn[i]])
	s.place(i+1, mask, a, &next)
}

// hopeless says that no way that begins so beats what was found: costs only grow
// with every guest.
func (s *search) hopeless(turn int, a, b *row) bool {
	if least(&a.days)+least(&b.days)+s.rest[turn] <= s.days.cost[0]+alike {
		return false
	}
	for i, lists := range [...][2]*[steps]float64{{&a.off, &b.off}, {&a.squared, &b.squared}, {&a.far, &b.far}} {
		if d := least(lists[0]) + least(lists[1]) - s.band.cost[i]; d > alike {
			return true
		} else if d < -alike {
			return false
		}
	}
	return false
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
	if i, ok := a.byDays(); ok {
		if j, ok := b.byDays(); ok {
			s.days = cheaper(s.days, way{mask, i, j, [4]float64{a.days[i] + b.days[j]}})
		}
	}
	if i, ok := a.byBand(); ok {
		if j, ok := b.byBand(); ok {
			s.band = cheaper(s.band, way{mask, i, j, [4]float64{a.off[i] + b.off[j], a.squared[i] + b.squared[j], a.far[i] + b.far[j], a.days[i] + b.days[j]}})
		}
	}
}

func cheaper(a, b way) way {
	if math.IsInf(a.cost[0], 1) || b.better(a) {
		return b
	}
	return a
}

// split names the cooler room first.
func (w way) split(groups [][]int, weight, one float64) Split {
	if math.IsInf(w.cost[0], 1) {
		return Split{}
	}
	s := Split{CoolC: celsius(w.a), WarmC: celsius(w.b), One: one / weight, Two: w.cost[0] / weight, Possible: true}
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
