package scanner

// equalise undoes blur: soft values come from the lattice around each module by
// one linear filter for the whole symbol, fitted by least squares to the modules
// whose colour is known and, with less weight, to those that look certain
// (decision-directed equalisation; R. W. Lucky, 1966). Defocus, camera shake and
// spreading ink all mix a module with its neighbours in the same way everywhere.
// Reach is in half modules.
func (p *patch) equalise(known []int8, soft []float32, reach int) []float32 {
	n := p.lay.n
	width := 2*reach + 1
	taps := width*width + 1
	feature := make([]float64, taps)
	gather := func(x, y int) {
		i := p.corner(x, y)
		level, k := p.level[y*n+x], 1/p.swing[y*n+x]
		t := 0
		for dy := -reach; dy <= reach; dy++ {
			row := p.value[i+dy*p.side-reach:][:width]
			for _, v := range row {
				feature[t] = float64(clip((level-v)*k, 2))
				t++
			}
		}
		feature[t] = 1
	}
	var q normal
	q.reset(taps)
	for y := range n {
		for x := range n {
			i := y*n + x
			aim, weight := float64(known[i]), 1.0
			if aim == 0 {
				s := soft[i]
				aim, weight = 1, float64(min(1, s*s))*0.7
				if s < 0 {
					aim = -1
				}
				if s > -0.15 && s < 0.15 {
					continue
				}
			}
			gather(x, y)
			q.add(feature, aim, weight)
		}
	}
	p.pullTaps(&q, reach, 6)
	w, ok := q.solve()
	if !ok {
		return soft
	}
	out := make([]float32, n*n)
	for y := range n {
		for x := range n {
			gather(x, y)
			v := 0.0
			for t, f := range feature {
				v += w[t] * f
			}
			out[y*n+x] = clip(float32(v), 1.5)
		}
	}
	return out
}

// pullTaps draws the filter towards the plain mean of a module.
func (p *patch) pullTaps(q *normal, reach int, weight float64) {
	t := 0
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			plain := float64((2-min(2, max(dx, -dx)))*(2-min(2, max(dy, -dy)))) / 16
			q.ridge(t, plain, weight)
			t++
		}
	}
	q.ridge(t, 0, weight)
}
