package trace

import (
	"math"
	"testing"
)

// cans are the samples of cans.csv, with the base the check asks for.
func cans(t *testing.T, base func(sample int) bool, last int) Chart {
	t.Helper()
	d := table(t, "cans.csv")
	bad, size := numbers(t, d["nonconforming"]), numbers(t, d["size"])
	var points []ChartPoint
	for i := range bad[:last] {
		points = append(points, ChartPoint{Week: Week{Counts: Counts{bad[i], size[i]}}, Weeks: 1})
	}
	return chart(points, func(i int) bool { return base(i + 1) })
}

func revisedBase(sample int) bool { return sample <= 30 && sample != 15 && sample != 23 }

func checkChart(t *testing.T, c check) {
	if c.ID == "pchart-cans" {
		ch := cans(t, func(int) bool { return true }, 30)
		low, high := ch.limits(50, 1)
		var above, first []float64
		for i, p := range ch.Points {
			if p.Rate() > high {
				above = append(above, float64(i+1))
			}
			first = append(first, p.Z)
		}
		c.compare(t, results{"center": ch.Centre, "lcl": low, "ucl": high, "above": above, "phi": ch.Spread, "z_first": first})
		return
	}
	ch := cans(t, revisedBase, 54)
	low, high := ch.limits(50, 1)
	var later Counts
	for _, p := range ch.Points[30:] {
		later = later.plus(p.Counts)
	}
	c.compare(t, results{"center": ch.Centre, "lcl": low, "ucl": high, "phase2_mean": later.Rate()})
}

func checkSums(t *testing.T, c check) {
	ch := cans(t, revisedBase, 54)
	scale := math.Sqrt(ch.Spread)
	var up, down []float64
	alarm, sum := 0, 0.0
	for _, p := range ch.Points[:30] {
		sum = accumulated(sum, p.Z/scale)
		up = append(up, sum)
	}
	sum = 0
	for i, p := range ch.Points[30:] {
		sum = accumulated(sum, -p.Z/scale)
		down = append(down, sum)
		if sum > sumAlarm && alarm == 0 {
			alarm = 31 + i
		}
	}
	c.compare(t, results{"phi": ch.Spread, "down_31_54": down, "up_1_30": up, "first_down_alarm_sample": alarm})
}

// checkRunLengths finds the mean weeks to an alarm by a Markov chain over the sum's values, which is Brook and Evans's
// way, stepping with this package's constants.
func checkRunLengths(t *testing.T, c check) {
	h4, h5 := runLength(4, 0), runLength(5, 0)
	c.compare(t, results{"h4": h4, "h5": h5, "h4_shift1": runLength(4, 1), "h5_shift1": runLength(5, 1), "two_sided_h4": h4 / 2, "two_sided_h5": h5 / 2})
}

func runLength(h, shift float64) float64 {
	const m = 400
	w := 2 * h / (2*m - 1)
	below := func(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
	// Expected lengths L = 1 + P·L by Gauss-Seidel would be slow; solve from the top by elimination instead.
	a := make([][]float64, m)
	for i := range a {
		a[i] = make([]float64, m+1)
		x := float64(i) * w
		for j := range m {
			p := below((float64(j)+0.5)*w - x + sumSlack - shift)
			if j > 0 {
				p -= below((float64(j)-0.5)*w - x + sumSlack - shift)
			}
			a[i][j] = -p
		}
		a[i][i]++
		a[i][m] = 1
	}
	return solve(a)[0]
}

// solve is Gauss's elimination with pivots.
func solve(a [][]float64) []float64 {
	n := len(a)
	for k := range n {
		p := k
		for i := k; i < n; i++ {
			if math.Abs(a[i][k]) > math.Abs(a[p][k]) {
				p = i
			}
		}
		a[k], a[p] = a[p], a[k]
		for i := k + 1; i < n; i++ {
			f := a[i][k] / a[k][k]
			for j := k; j <= n; j++ {
				a[i][j] -= f * a[k][j]
			}
		}
	}
	x := make([]float64, n)
	for k := n - 1; k >= 0; k-- {
		x[k] = a[k][n]
		for j := k + 1; j < n; j++ {
			x[k] -= a[k][j] * x[j]
		}
		x[k] /= a[k][k]
	}
	return x
}
