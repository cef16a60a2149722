package scanner

import (
	"math"
	"slices"
)

// normal gathers the normal equations of a least-squares problem.
type normal struct {
	n    int
	band int       // unknowns farther apart than this never meet in an equation
	a    []float64 // n × n, lower triangle
	b    []float64
}

func (q *normal) reset(n int) {
	q.n, q.band = n, n
	if cap(q.a) < n*n {
		q.a, q.b = make([]float64, n*n), make([]float64, n)
	}
	q.a, q.b = q.a[:n*n], q.b[:n]
	clear(q.a)
	clear(q.b)
}

// add takes one equation j·x = e.
func (q *normal) add(j []float64, e, weight float64) {
	for r, v := range j {
		if v == 0 {
			continue
		}
		v *= weight
		row := q.a[r*q.n:]
		for c := range r + 1 {
			row[c] += v * j[c]
		}
		q.b[r] += v * e
	}
}

// addSparse is add for an equation in a few unknowns, given by rising index.
func (q *normal) addSparse(index []int, j []float64, e, weight float64) {
	for r, i := range index {
		v := j[r] * weight
		row := q.a[i*q.n:]
		for c, k := range index[:r+1] {
			row[k] += v * j[c]
		}
		q.b[i] += v * e
	}
}

// ridge pulls unknown i towards x with a weight.
func (q *normal) ridge(i int, x, weight float64) {
	q.a[i*q.n+i] += weight
	q.b[i] += weight * x
}

// solve is Cholesky's method; false if the equations do not settle the unknowns.
// The equations are used up.
func (q *normal) solve() ([]float64, bool) {
	n := q.n
	for i := range n {
		first := max(0, i-q.band)
		for j := first; j <= i; j++ {
			s := q.a[i*n+j]
			ri, rj := q.a[i*n+first:i*n+j], q.a[j*n+first:j*n+j]
			for k, v := range ri {
				s -= v * rj[k]
			}
			if i == j {
				if !(s > 1e-12) {
					return nil, false
				}
				q.a[i*n+i] = math.Sqrt(s)
			} else {
				q.a[i*n+j] = s / q.a[j*n+j]
			}
		}
	}
	x := q.b
	for i := range n {
		for k := max(0, i-q.band); k < i; k++ {
			x[i] -= q.a[i*n+k] * x[k]
		}
		x[i] /= q.a[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < min(n, i+q.band+1); k++ {
			x[i] -= q.a[k*n+i] * x[k]
		}
		x[i] /= q.a[i*n+i]
	}
	return x, true
}

// median is the middle value; it sorts a copy.
func median(values []float64) float64 {
	s := slices.Clone(values)
	slices.Sort(s)
	return s[len(s)/2]
}
