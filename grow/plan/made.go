package plan

import (
	"math"
	"slices"
	"strconv"
)

// mostDays is for how long a bag is followed from its making.
const mostDays = 500

// made is what the bags of a new batch give, per bag made.
type made struct {
	// sums are grams by play and day: sums[run][d] is all that was picked before
	// day d, days counted from the making.
	sums [][]float32
	mean []float64 // grams of a day, over all plays
	// Days from the making, of every bag of every play.
	moves, ends []float64

	bags   float64
	starts bool
}

// newBatch plays so many bags made on one day; nth tells batches of one plan
// apart.
func (k Kind) newBatch(nth, bags int) *made {
	m := &made{sums: make([][]float32, Runs), mean: make([]float64, mostDays), bags: float64(bags)}
	for i := range m.sums {
		m.sums[i] = make([]float32, mostDays+1)
	}
	p := k.player(Batch{Grow: k.Grow}, "new "+strconv.Itoa(nth))
	fresh := waiting{still: k.Grow.after(0), waits: 1}
	for range bags {
		p.bags = append(p.bags, fresh)
	}
	p.play(k.moods(), m)
	for run, sums := range m.sums {
		for d := 1; d <= mostDays; d++ {
			m.mean[d-1] += float64(sums[d]) / Runs
			m.sums[run][d] += sums[d-1]
		}
	}
	for _, days := range [][]float64{m.moves, m.ends} {
		slices.Sort(days)
	}
	return m
}

func (m *made) moved(_ int, day float64) { m.moves, m.starts = append(m.moves, day), true }

func (m *made) picked(run int, day, grams float64) {
	m.starts = false
	if d := nearest(day); d < mostDays {
		m.sums[run][d+1] += float32(grams / m.bags)
	}
}

func (m *made) spent(_ int, day float64) {
	if !m.starts { // it gave
		m.ends = append(m.ends, day)
	}
}

// between is what one bag gives from one day to before another, in one play.
func (m *made) between(run, from, to int) float64 {
	at := func(d int) float64 { return float64(m.sums[run][min(mostDays, max(0, d))]) }
	return at(to) - at(from)
}

// meanBetween is the same over all plays.
func (m *made) meanBetween(from, to int) (sum float64) {
	for d := max(0, from); d < min(mostDays, to); d++ {
		sum += m.mean[d]
	}
	return sum
}

// bestDay is the making day, no earlier than the one given, whose bags give most
// from one day to before another; the later one where days are as good.
func (m *made) bestDay(earliest, from, to int) int {
	best, most := earliest, -1.0
	for d := earliest; d < to; d++ {
		if g := m.meanBetween(from-d, to-d); g >= most && g > 0 {
			best, most = d, g
		}
	}
	return best
}

// about are the days before and after one, no earlier than the one given, whose bags
// give at least such a share of what that one's give in the week.
func (m *made) about(day int, w Want, earliest int, share float64) (from, to int) {
	enough := share * m.meanBetween(w.From-day, w.To-day)
	gives := func(d int) bool { return d < w.To && m.meanBetween(w.From-d, w.To-d) >= enough }
	for from = day; from > earliest && gives(from-1); from-- {
	}
	for to = day; gives(to + 1); to++ {
	}
	return from, to
}

// Usual is what one batch gives, grams a bag made and losses inside, from batch to
// batch; and which share of bags gives nothing, as far as that is known.
func (k Kind) Usual() (grams, lost Figure) {
	m, plays, rates := k.newBatch(0, tryBags), make(Plays, Runs), make(Plays, Runs)
	for run, mood := range k.moods() {
		plays[run], rates[run] = m.between(run, 0, mostDays), mood.loss
	}
	return FigureOf(plays), FigureOf(rates)
}

// middle is the median of sorted days, rounded up.
func middle(days []float64) int { return int(math.Ceil(quantile(days, 0.5))) }
