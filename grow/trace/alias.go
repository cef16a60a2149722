package trace

import (
	"math"
	"slices"
)

// Aliases are what a set of yes/no columns cannot tell apart, whatever happened.
type Aliases struct {
	Constant  []int   // all bags alike: these columns say nothing
	Identical [][]int // the same on every bag, or exact opposites
	Sums      []Sum   // a column that is a sum of earlier ones
	Rank      int     // independent columns, the constant included
}

// A Sum is a column made up of earlier ones.
type Sum struct {
	Column int
	Of     []int
}

const (
	aliasResidual    = 1e-9 // of a column's length: what is left of a sum of others
	aliasCoefficient = 1e-6
)

// FindAliases looks for confounding before any test. Columns are lists over the same bags. Gram-Schmidt in the listed
// order with one repetition finds the sums, since a decomposition that does not pivot would not name them.
func FindAliases(columns [][]float64) Aliases {
	var out Aliases
	groups := make([]int, len(columns)) // first column of the same group
	for i, c := range columns {
		groups[i] = i
		if constant(c) {
			out.Constant = append(out.Constant, i)
			continue
		}
		for j := range i {
			if groups[j] == j && sameOrOpposite(columns[j], c) {
				groups[i] = j
				break
			}
		}
	}
	for j := range columns {
		var g []int
		for i := j; i < len(columns); i++ {
			if groups[i] == j {
				g = append(g, i)
			}
		}
		if len(g) > 1 {
			out.Identical = append(out.Identical, g)
		}
	}
	out.Rank, out.Sums = sums(columns, groups, out.Constant)
	return out
}

func constant(c []float64) bool {
	return len(c) == 0 || slices.Max(c)-slices.Min(c) == 0
}

func sameOrOpposite(a, b []float64) bool {
	same, opposite := len(a) == len(b) && len(a) > 0, len(a) == len(b) && len(a) > 0
	for i := range min(len(a), len(b)) {
		same = same && a[i] == b[i]
		opposite = opposite && a[i]+b[i] == a[0]+b[0]
	}
	return same || opposite
}

// basis is an orthonormal vector and its make-up: coefficients over the constant (first) and the columns.
type basis struct {
	v    []float64
	made []float64
}

// sums goes through the constant and the columns, one of each identical group.
func sums(columns [][]float64, groups, constants []int) (rank int, out []Sum) {
	if len(columns) == 0 {
		return 0, nil
	}
	ones := make([]float64, len(columns[0]))
	for i := range ones {
		ones[i] = 1
	}
	var bs []basis
	for k := -1; k < len(columns); k++ {
		c := ones
		if k >= 0 {
			if groups[k] != k || slices.Contains(constants, k) {
				continue
			}
			c = columns[k]
		}
		b, ok := orthogonal(bs, c, k+1, len(columns)+1)
		if ok {
			bs = append(bs, b)
			continue
		}
		s := Sum{Column: k}
		for j, x := range b.made[1:] {
			if j != k && math.Abs(x) > aliasCoefficient {
				s.Of = append(s.Of, j)
			}
		}
		out = append(out, s)
	}
	return len(bs), out
}

// orthogonal takes the basis out of a column, twice; ok is false if nothing is left.
func orthogonal(bs []basis, c []float64, at, width int) (basis, bool) {
	b := basis{slices.Clone(c), make([]float64, width)}
	b.made[at] = 1
	length := norm(c)
	for range 2 {
		for _, o := range bs {
			p := dot(b.v, o.v)
			for i := range b.v {
				b.v[i] -= p * o.v[i]
			}
			for i := range b.made {
				b.made[i] -= p * o.made[i]
			}
		}
	}
	left := norm(b.v)
	if !(left > aliasResidual*length) {
		return b, false
	}
	for i := range b.v {
		b.v[i] /= left
	}
	for i := range b.made {
		b.made[i] /= left
	}
	return b, true
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

func norm(a []float64) float64 { return math.Sqrt(dot(a, a)) }
