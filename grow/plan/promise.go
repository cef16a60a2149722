package plan

import (
	"math"
	"slices"
)

// A Figure is what to expect: one chance in ten that it is below Low, one in ten
// that it is above High.
type Figure struct {
	Low    float64 `json:"low"`
	Likely float64 `json:"likely"`
	High   float64 `json:"high"`
}

// FigureOf is the 10, 50 and 90 % point of the plays.
func FigureOf(plays []float64) Figure {
	sorted := slices.Sorted(slices.Values(plays))
	return Figure{quantile(sorted, 0.1), quantile(sorted, 0.5), quantile(sorted, 0.9)}
}

// quantile takes a sorted list, straight lines in between.
func quantile(sorted []float64, p float64) float64 {
	if len(sorted) == 0 {
		return 0
	}
	x := p * float64(len(sorted)-1)
	k := int(x)
	if k+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[k] + (x-float64(k))*(sorted[k+1]-sorted[k])
}

// Plays are one figure's plays.
type Plays []float64

// Plus adds plays one by one: what two species give together.
func (p Plays) Plus(o Plays) Plays {
	out := slices.Clone(p)
	for i := range o {
		out[i] += o[i]
	}
	return out
}

func (p Plays) times(n int) Plays {
	out := slices.Clone(p)
	for i := range out {
		out[i] *= float64(n)
	}
	return out
}

// Weeks are the first days of weeks one after another, counted from today, and
// behind them the first day after the last. The first week may have begun.
type Weeks []int

// An Ahead is what bags alive promise.
type Ahead struct {
	Grams []Plays // by week
	// OnRacks and InFruiting are how many bags stand there on the first day of each
	// week, on average; bags that will give nothing stand until they would be moved.
	OnRacks, InFruiting []float64
}

// Plus adds what another kind promises in the same weeks; to add to nothing is to
// take it as it is.
func (a Ahead) Plus(o Ahead) Ahead {
	if len(a.Grams) == 0 {
		return o
	}
	out := Ahead{Grams: make([]Plays, len(a.Grams)), OnRacks: slices.Clone(a.OnRacks), InFruiting: slices.Clone(a.InFruiting)}
	for i := range out.Grams {
		out.Grams[i] = a.Grams[i].Plus(o.Grams[i])
		out.OnRacks[i] += o.OnRacks[i]
		out.InFruiting[i] += o.InFruiting[i]
	}
	return out
}

// Promise plays the bags alive forward.
func (k Kind) Promise(batches []Batch, weeks Weeks) Ahead {
	n := len(weeks) - 1
	t := &tally{weeks: weeks, out: Ahead{Grams: make([]Plays, n), OnRacks: make([]float64, n), InFruiting: make([]float64, n)}}
	for i := range t.out.Grams {
		t.out.Grams[i] = make(Plays, Runs)
	}
	t.weekOf = make([]int, max(0, weeks[n]))
	for d := range t.weekOf {
		for t.weekOf[d] = 0; weeks[t.weekOf[d]+1] <= d; t.weekOf[d]++ {
		}
	}
	t.move, t.spend = make([]int, n+1), make([]int, n+1)
	moods := k.moods()
	for _, b := range batches {
		k.player(b, b.Name).play(moods, t)
	}
	left, gone := 0, 0 // plays of bags moved, and spent, after the week's first day
	for i := n - 1; i >= 0; i-- {
		left, gone = left+t.move[i+1], gone+t.spend[i+1]
		t.out.OnRacks[i], t.out.InFruiting[i] = float64(left)/Runs, float64(gone-left)/Runs
	}
	return t.out
}

// tally adds up by week.
type tally struct {
	weeks  Weeks
	weekOf []int // by day from today
	// move and spend count bags by how many weeks begin before they are moved, and
	// before they are spent.
	move, spend []int
	out         Ahead
}

// nearest is the whole day of a time: a picking on a day and a half is on the
// second day.
func nearest(day float64) int { return int(math.Round(day)) }

// before is how many weeks begin before a time; one that has begun does today.
func (t *tally) before(day float64) int {
	switch d := int(math.Ceil(day)) - 1; {
	case d < 0:
		return 0
	case d < len(t.weekOf):
		return t.weekOf[d] + 1
	}
	return len(t.weeks) - 1
}

func (t *tally) moved(_ int, day float64) { t.move[t.before(day)]++ }

func (t *tally) picked(run int, day, grams float64) {
	if d := nearest(day); d < len(t.weekOf) {
		t.out.Grams[t.weekOf[d]][run] += grams
	}
}

func (t *tally) spent(_ int, day float64) { t.spend[t.before(day)]++ }
