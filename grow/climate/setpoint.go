package climate

import "math"

// Set-points are tried in tenths of a degree from 12.0 to 30.0 °C.
const (
	coolestTenths = 120
	warmestTenths = 300
	steps         = warmestTenths - coolestTenths + 1
)

// A Guest is what shares a room: the bags of one species or strain that stand
// alike.
type Guest struct {
	Name   string
	Weight float64 // bags, or kilograms: only the proportion counts
	Band   Band    // of the air as these bags stand: see Band.ForOffset
	Growth Curve
	// OffsetC is how much warmer than the air the cores are.
	OffsetC float64
}

// Choice is one set-point. Cost is what was made least: the mean relative days of
// growth for the curves (1 would be every guest at its optimum), the mean degrees
// out of the band for the bands. For the fairest it is the smallest rate.
type Choice struct {
	C    float64
	Cost float64
}

// SetPoints are three answers to one question. InBand comes first on pages: growth
// curves are flat near the top and hardly object to warmth that core heat, quality
// and moulds do object to (common practice).
type SetPoints struct {
	InBand     Choice
	FewestDays Choice
	Fairest    Choice
	// Possible is false if every temperature takes some core past its ceiling; the
	// choices are then not numbers.
	Possible bool
}

// Suit finds the set-points for guests that share one room. Temperatures at which
// a guest's core would pass its ceiling are left out first. Guests whose weight is
// 0 do not count; without guests nothing is possible.
func Suit(guests []Guest) SetPoints {
	t := tableOf(guests)
	all := t.sum(func(int) bool { return true })
	nan := Choice{math.NaN(), math.NaN()}
	s := SetPoints{nan, nan, nan, false}
	if at, ok := all.byBand(); ok {
		s.InBand, s.Possible = Choice{celsius(at), all.off[at] / t.weight}, true
	}
	if at, ok := all.byDays(); ok {
		s.FewestDays = Choice{celsius(at), all.days[at] / t.weight}
	}
	if at, ok := t.fairest(all); ok {
		s.Fairest = Choice{celsius(at), t.least(at)}
	}
	return s
}

func celsius(step int) float64 { return float64(coolestTenths+step) / 10 }

// A row is what one guest, or guests together, cost at each temperature: degrees
// out of band, their squares, degrees from the target, relative days. Past a
// ceiling all are infinite.
type row struct{ off, squared, far, days [steps]float64 }

func (r *row) add(o *row) {
	for i := range r.off {
		r.off[i] += o.off[i]
		r.squared[i] += o.squared[i]
		r.far[i] += o.far[i]
		r.days[i] += o.days[i]
	}
}

// alike is how near two sums are the same number: they were added up in another
// order.
const alike = 1e-9

// byBand is the temperature with the fewest degrees out of band; of several the
// one that shares them out most evenly, then the one nearest to the targets, then
// the fastest, then the coolest.
func (r *row) byBand() (int, bool) {
	best := -1
	for i := range r.off {
		if math.IsInf(r.off[i], 1) {
			continue
		}
		if best < 0 || r.nearer(i, best) {
			best = i
		}
	}
	return best, best >= 0
}

func (r *row) nearer(i, than int) bool {
	for _, list := range []*[steps]float64{&r.off, &r.squared, &r.far, &r.days} {
		if d := list[i] - list[than]; d < -alike {
			return true
		} else if d > alike {
			return false
		}
	}
	return false
}

func (r *row) byDays() (int, bool) {
	best := -1
	for i, d := range r.days {
		if !math.IsInf(d, 1) && (best < 0 || d < r.days[best]-alike) {
			best = i
		}
	}
	return best, best >= 0
}

// A table is the rows of all guests that count.
type table struct {
	guests []Guest
	rows   []row
	weight float64
}

func tableOf(guests []Guest) table {
	var t table
	for _, g := range guests {
		if g.Weight > 0 {
			t.guests, t.weight = append(t.guests, g), t.weight+g.Weight
			t.rows = append(t.rows, rowOf(g))
		}
	}
	return t
}

func rowOf(g Guest) row {
	var r row
	for i := range r.off {
		c := celsius(i)
		if c+g.OffsetC > g.Band.CeilingC {
			r.off[i], r.squared[i], r.far[i], r.days[i] = math.Inf(1), math.Inf(1), math.Inf(1), math.Inf(1)
			continue
		}
		r.off[i] = g.Weight * math.Abs(g.Band.Off(c))
		r.squared[i] = g.Weight * g.Band.Off(c) * g.Band.Off(c)
		r.far[i] = g.Weight * math.Abs(c-g.Band.TargetC)
		r.days[i] = g.Weight / g.Growth.Rate(c+g.OffsetC) // infinite where nothing grows
	}
	return r
}

func (t table) sum(in func(int) bool) row {
	var r row
	any := false
	for i := range t.rows {
		if in(i) {
			r.add(&t.rows[i])
			any = true
		}
	}
	if !any {
		for i := range r.off {
			r.off[i], r.days[i] = math.Inf(1), math.Inf(1)
		}
	}
	return r
}

// least is the rate of the guest that fares worst at a temperature.
func (t table) least(step int) float64 {
	least := math.Inf(1)
	for _, g := range t.guests {
		least = min(least, g.Growth.Rate(celsius(step)+g.OffsetC))
	}
	return least
}

func (t table) fairest(all row) (int, bool) {
	best, most := -1, math.Inf(-1)
	for i := range all.off {
		if math.IsInf(all.off[i], 1) {
			continue
		}
		if l := t.least(i); l > most+alike {
			best, most = i, l
		}
	}
	return best, best >= 0
}

// Standing is how one guest fares at a temperature: how far out of its band, and
// its growth as a share of its best.
type Standing struct {
	Guest Guest
	OffC  float64
	Rate  float64
	// Past says that its core passes its ceiling.
	Past bool
}

// At is how every guest fares at an air temperature, in the order given.
func At(guests []Guest, airC float64) []Standing {
	out := make([]Standing, len(guests))
	for i, g := range guests {
		out[i] = Standing{g, g.Band.Off(airC), g.Growth.Rate(airC + g.OffsetC), airC+g.OffsetC > g.Band.CeilingC}
	}
	return out
}
