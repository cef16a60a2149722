package scanner

import "math"

// A label on a bag bends, and a grid laid through three finders may be more than
// half a module off between them, where alignment would settle on a neighbour.
// Timing rows alternate dark and light from one finder to the next, so their
// modules can be counted one by one along the bend: the best sequence of places is
// found by dynamic programming (R. Bellman, 1957).

const (
	trackFine = 6   // places a module
	trackSide = 4   // lanes on each side of the middle one
	trackLane = 0.3 // between lanes, in modules
)

// trackTiming follows the timing row, or column, through the first grid and gives
// the middle of each of its modules, and how clearly they alternate, 0 to 1.
func (p *patch) trackTiming(down bool) ([]pin, float64) {
	n := p.lay.n
	modules := n - 14 // from one finder's separator to the other's
	length := trackFine*(modules+1) + 1
	lanes := 2*trackSide + 1
	place := func(i, lane int) Point {
		q := Point{6.5 + float64(i)/trackFine, 6.5 + float64(lane-trackSide)*trackLane}
		if down {
			q = Point{q.Y, q.X}
		}
		return p.first.at(q)
	}
	grey := make([]float64, length*lanes)
	for lane := range lanes {
		for i := range length {
			q := place(i, lane)
			grey[lane*length+i] = p.g.bilinear(q.X*p.scale, q.Y*p.scale)
		}
	}
	swing := normaliseLanes(grey, length, lanes)
	path, gain := bestTrack(grey, length, lanes, modules)
	if path == nil || swing < 1 {
		return nil, 0
	}
	pins := make([]pin, 0, modules)
	for k, at := range path {
		label := Point{7.5 + float64(k), 6.5}
		if down {
			label = Point{label.Y, label.X}
		}
		pins = append(pins, pin{label, place(at%length, at/length), 1})
	}
	return pins, gain / float64(modules)
}

// normaliseLanes brings greys to −1 (light) … 1 (dark) about a mean that moves
// along the row, and gives the mean swing before.
func normaliseLanes(grey []float64, length, lanes int) float64 {
	const reach = 3 * trackFine
	total := 0.0
	out := make([]float64, len(grey))
	for i := range length {
		sum, square, count := 0.0, 0.0, 0.0
		for lane := range lanes {
			for j := max(0, i-reach); j < min(length, i+reach+1); j++ {
				v := grey[lane*length+j]
				sum, square, count = sum+v, square+v*v, count+1
			}
		}
		mean := sum / count
		swing := math.Sqrt(max(1, square/count-mean*mean))
		total += swing
		for lane := range lanes {
			out[lane*length+i] = max(-1, min(1, (mean-grey[lane*length+i])/swing))
		}
	}
	copy(grey, out)
	return total / float64(length)
}

// bestTrack is the sequence of places, one a module, that alternates best between
// light and dark without jumping: steps of a half to one and three quarter
// modules along the row and at most one lane aside.
func bestTrack(dark []float64, length, lanes, modules int) (path []int, gain float64) {
	const shortest, longest = trackFine / 2, trackFine * 7 / 4
	score := make([]float64, length*lanes)
	for i := range score {
		score[i] = math.Inf(-1)
	}
	for lane := range lanes {
		for i := 0; i <= 2*trackFine; i++ {
			off := float64(i-trackFine) / trackFine
			score[lane*length+i] = -dark[lane*length+i] - 0.5*off*off
		}
	}
	from := make([][]int, modules)
	for k := 1; k < modules; k++ {
		next := make([]float64, len(score))
		from[k] = make([]int, len(score))
		sign := 1.0
		if k%2 == 0 {
			sign = -1
		}
		for lane := range lanes {
			for i := range length {
				best, at := math.Inf(-1), -1
				for side := max(0, lane-1); side <= min(lanes-1, lane+1); side++ {
					for step := shortest; step <= min(longest, i); step++ {
						odd := float64(step-trackFine) / trackFine
						v := score[side*length+i-step] - 0.6*odd*odd
						if side != lane {
							v -= 0.05
						}
						if v > best {
							best, at = v, side*length+i-step
						}
					}
				}
				next[lane*length+i], from[k][lane*length+i] = best+sign*dark[lane*length+i], at
			}
		}
		score = next
	}
	return trackBack(score, from, length, lanes, modules)
}

// trackBack picks the best end near where the far finder's separator must be and
// follows it back.
func trackBack(score []float64, from [][]int, length, lanes, modules int) ([]int, float64) {
	best, gain := -1, math.Inf(-1)
	for lane := range lanes {
		for i := length - 1 - 2*trackFine; i < length; i++ {
			off := float64(i-(length-1-trackFine)) / trackFine
			if v := score[lane*length+i] - 0.5*off*off; v > gain {
				best, gain = lane*length+i, v
			}
		}
	}
	if best < 0 {
		return nil, 0
	}
	path := make([]int, modules)
	for k := modules - 1; k >= 0; k-- {
		if path[k] = best; k > 0 {
			if best = from[k][best]; best < 0 {
				return nil, 0
			}
		}
	}
	return path, gain
}

// track lays the first grid anew through the timing rows that can be followed;
// false if none can.
func (p *patch) track() bool {
	pins := p.pins
	n := len(pins)
	for i, down := range [2]bool{false, true} {
		if p.missing == 0 || p.missing == i+1 {
			continue
		}
		if row, clear := p.trackTiming(down); clear > 0.45 {
			pins = append(pins, row...)
		}
	}
	if len(pins) == n {
		return false
	}
	*p.grid = p.first
	p.grid.local = nil
	p.grid.bendTo(pins)
	p.grid.meshTo(pins, 9)
	return true
}
