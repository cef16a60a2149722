package scanner

// equalise undoes blur: soft values come from the lattice around each module by
// one linear filter for the whole symbol, fitted by least squares to the modules
// whose colour is known and, with less weight, to those that look certain
// (decision-directed equalisation; R. W. Lucky, 1966). Defocus, camera shake and
// spreading ink all mix a module with its neighbours in the same way everywhere.
// Reach is in half modules.
func (p *patch) equalise(known []int8, soft []float32, reach int) []float32 {
	e := equaliser{patch: p, reach: reach}
	e.feature = make([]float64, e.taps())
	w, ok := e.fit(known, soft)
	if !ok {
		return soft
	}
	n := p.lay.n
	out := make([]float32, n*n)
	for i := range out {
		e.gather(i%n, i/n)
		v := 0.0
		for t, f := range e.feature {
			v += w[t] * f
		}
		out[i] = clip(float32(v), 1.5)
	}
	return out
}

type equaliser struct {
	patch   *patch
	reach   int
	feature []float64 // what the lattice shows around one module, and 1
}

func (e *equaliser) taps() int { return (2*e.reach+1)*(2*e.reach+1) + 1 }

// gather fills the features of a module, by its own level and swing.
func (e *equaliser) gather(x, y int) {
	p, width := e.patch, 2*e.reach+1
	at := y*p.lay.n + x
	level, k := p.level[at], 1/p.swing[at]
	i, t := p.corner(x, y), 0
	for dy := -e.reach; dy <= e.reach; dy++ {
		for _, v := range p.value[i+dy*p.side-e.reach:][:width] {
			e.feature[t] = float64(clip((level-v)*k, 2))
			t++
		}
	}
	e.feature[t] = 1
}

// fit finds the filter.
func (e *equaliser) fit(known []int8, soft []float32) ([]float64, bool) {
	const least, trust = 0.15, 0.7 // of a soft value to count, and its weight
	n := e.patch.lay.n
	e.patch.budget.spend(n*n*e.taps()*(e.taps()/2+2) + e.taps()*e.taps()*e.taps()/6)
	var q normal
	q.reset(e.taps())
	for i, s := range soft {
		aim, weight := float64(known[i]), 1.0
		if aim == 0 {
			if s > -least && s < least {
				continue
			}
			aim, weight = 1, float64(min(1, s*s))*trust
			if s < 0 {
				aim = -1
			}
		}
		e.gather(i%n, i/n)
		q.add(e.feature, aim, weight)
	}
	e.pull(&q, 6)
	return q.solve()
}

// pull draws the filter towards the plain mean of a module.
func (e *equaliser) pull(q *normal, weight float64) {
	t := 0
	for dy := -e.reach; dy <= e.reach; dy++ {
		for dx := -e.reach; dx <= e.reach; dx++ {
			plain := float64((2-min(2, max(dx, -dx)))*(2-min(2, max(dy, -dy)))) / 16
			q.ridge(t, plain, weight)
			t++
		}
	}
	q.ridge(t, 0, weight)
}
