package plan

import (
	"slices"
	"sort"
)

// A Want is so many grams picked from one day to before another, days counted
// from today.
type Want struct {
	Grams    float64
	From, To int
	Earliest int // the first day on which bags can be made
}

// An Answer says what to make. Days count from today.
type Answer struct {
	// Best is the day, today or not, whose bags give most in that week; Latest the last
	// whose bags give at least half of that.
	Best, Latest int
	// Good are the days about that of Likely, from the earliest on, whose bags give at
	// least nine tenths of what its bags give in that week.
	Good [2]int
	// Reach is the first day that a week may begin on for which bags made on the
	// earliest day are not too late.
	Reach int
	// Move and End are how many days after its making a bag is moved to fruiting and
	// picked for the last time.
	Move, End int
	// Likely has an even chance to reach the grams, Sure nine in ten; nil where no
	// bags are needed, or no number of bags does it.
	Likely, Sure *Making
	// Enough tells that the bags alive have that chance by themselves.
	LikelyEnough, SureEnough bool
}

// A Making is bags made on one day or some.
type Making struct {
	Days []int
	Each int // bags on each of the days
	// InWeek is all that is picked in the week, the bags alive included.
	InWeek Figure
	Weeks  []Figure // what the bags made here give, week by week
}

// Bags is how many in all.
func (m Making) Bags() int { return m.Each * len(m.Days) }

// TooLate tells that bags made from the earliest day on miss the week.
func (a Answer) TooLate(w Want) bool { return a.Latest < w.Earliest }

// Needs is the most bags that one of the makings has on a day.
func (a Answer) Needs(day int) (bags int) {
	for _, m := range []*Making{a.Likely, a.Sure} {
		if m != nil && slices.Contains(m.Days, day) {
			bags = max(bags, m.Each)
		}
	}
	return bags
}

const (
	tryBags   = 24   // bags of the first try, before their number is known
	mostTried = 200  // beyond it bags hardly scatter about their batch's mean
	mostBags  = 2000 // no batch is larger
)

// Make finds how many bags to make. promised are what the bags alive give in
// that week; weeks those for which Makings say what they bring.
func (k Kind) Make(w Want, promised Plays, weeks Weeks) Answer {
	first := k.newBatch(0, tryBags)
	a := Answer{Best: first.bestDay(w.From-mostDays, w.From, w.To), Move: middle(first.moves), End: middle(first.ends)}
	_, a.Latest = first.about(a.Best, w, w.From-mostDays, 0.5)
	a.Reach = w.Earliest + w.From - a.Latest
	day := first.bestDay(w.Earliest, w.From, w.To)
	a.Good[0], a.Good[1] = first.about(day, w, w.Earliest, 0.9)
	likely, sure := FigureOf(promised).Likely, FigureOf(promised).Low
	a.LikelyEnough, a.SureEnough = likely >= w.Grams, sure >= w.Grams
	if a.TooLate(w) {
		return a
	}
	g := planner{k, w, promised, weeks}
	if !a.LikelyEnough {
		a.Likely = g.best(0.5, [][]int{{day}})
	}
	if !a.SureEnough {
		a.Sure = g.best(0.1, spreads(day, w.Earliest, w.To))
	}
	return a
}

// spreads are ways to share bags between days: bags of one day ripen together,
// and may all miss a week.
func spreads(day, earliest, end int) (out [][]int) {
	for _, offsets := range [][]int{{0}, {-3, 3}, {-5, 0, 5}, {-7, 0, 7}} {
		var days []int
		for _, o := range offsets {
			if d := max(earliest, day+o); d < end && !slices.Contains(days, d) {
				days = append(days, d)
			}
		}
		out = append(out, days)
	}
	return out
}

// planner looks for numbers of bags.
type planner struct {
	kind     Kind
	want     Want
	promised Plays
	weeks    Weeks
}

// best is the way of making that needs the fewest bags for a chance of 1 - p.
func (g planner) best(p float64, ways [][]int) *Making {
	var out *Making
	for _, days := range ways {
		m := g.try(p, days, tryBags)
		if m != nil { // bags scatter less about their batch's mean the more there are
			m = g.try(p, days, min(mostTried, m.Each))
		}
		if m != nil && (out == nil || m.Bags() < out.Bags()) {
			out = m
		}
	}
	return out
}

// try finds the least number of bags a day that do, each day's played as a batch
// of so many.
func (g planner) try(p float64, days []int, bags int) *Making {
	w := g.want
	batches := make([]*made, len(days))
	for nth := range days {
		batches[nth] = g.kind.newBatch(nth, bags)
	}
	// each is what one bag on each of the days gives from one day to before another.
	each := func(from, to int) Plays {
		out := make(Plays, Runs)
		for nth, d := range days {
			for run := range out {
				out[run] += batches[nth].between(run, from-d, to-d)
			}
		}
		return out
	}
	inWeek := each(w.From, w.To)
	with := func(bags int) Plays { return g.promised.Plus(inWeek.times(bags)) }
	most := mostBags / len(days)
	reaches := func(bags int) bool {
		return quantile(slices.Sorted(slices.Values(with(bags))), p) >= w.Grams
	}
	if !reaches(most) {
		return nil
	}
	m := &Making{Days: days, Each: 1 + sort.Search(most-1, func(n int) bool { return reaches(n + 1) })}
	m.InWeek = FigureOf(with(m.Each))
	for i := range len(g.weeks) - 1 {
		m.Weeks = append(m.Weeks, FigureOf(each(g.weeks[i], g.weeks[i+1]).times(m.Each)))
	}
	return m
}
