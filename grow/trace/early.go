package trace

import "math"

// manyLeft is the share of bags gone early from which plain shares are doubtful; common practice, no source.
const manyLeft = 0.05

// An Early is a comparison that allows for bags gone before the species' day: each side's cumulative incidence of
// contamination by that day.
type Early struct {
	With    *Bounds `json:"with"`
	Without *Bounds `json:"without"`
}

// early gives both sides' cumulative incidence where more than one bag in twenty left before the species' day. Those
// bags might have turned: the share of the counted ones alone is then a share of the bags that happened to stay.
// Bags of one batch share their fate, so the error grows by the design effect of the groups compared.
func (d *draft) early(f flock) *Early {
	counted := d.tally.With.plus(d.tally.Without).Bags
	if d.row.Method == NoMethod || !(float64(d.tally.Left) > manyLeft*(counted+float64(d.tally.Left))) {
		return nil
	}
	sideOf := d.column.split(d.value)
	ends := make(map[side][]Ending)
	batches := make(map[side][]Counts)
	for _, cell := range d.tally.Cells {
		members := f.batches[cell.Batch]
		if first := f.bags[members[0]]; first.Age < first.Horizon {
			continue
		}
		here := make(map[side]float64)
		for _, i := range members {
			s := sideOf(i)
			if e, ok := f.bags[i].ending(); ok && (s == with || s == without) {
				ends[s] = append(ends[s], e)
				here[s]++
			}
		}
		for s, n := range here {
			batches[s] = append(batches[s], Counts{Bags: n})
		}
	}
	out := &Early{incidenceBounds(ends[with], batches[with], d.rho), incidenceBounds(ends[without], batches[without], d.rho)}
	if out.With == nil || out.Without == nil {
		return nil
	}
	return out
}

// incidenceBounds is the cumulative incidence of contamination at the species' day, nil of no bags.
func incidenceBounds(ends []Ending, batches []Counts, rho float64) *Bounds {
	if len(ends) == 0 {
		return nil
	}
	effect := 1.0
	if len(batches) > 1 {
		squares := 0.0
		for _, c := range batches {
			squares += c.Bags * c.Bags
		}
		effect = designEffect(squares, float64(len(ends)), rho)
	}
	last := Incidence{}
	if steps := AalenJohansen(ends, endContaminated); len(steps) > 0 {
		last = steps[len(steps)-1]
	}
	i := last.Interval(len(ends), effect)
	if math.IsNaN(i.Low) || math.IsNaN(i.High) {
		return nil
	}
	return i.Bounds()
}
