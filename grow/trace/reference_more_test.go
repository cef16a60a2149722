package trace

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"testing"
)

func checkRatio(t *testing.T, c check) {
	i := in[twoGroups](t, c)
	r, ok := Ratio(Counts{i.X1, i.N1}, Counts{i.X0, i.N0})
	if !ok {
		t.Fatal("no ratio")
	}
	c.compare(t, results{"ratio": r.Estimate, "lower": r.Low, "upper": r.High})
}

func checkAliases(t *testing.T, c check) {
	i := in[struct{ Columns json.RawMessage }](t, c)
	names, columns := orderedColumns(t, i.Columns)
	a := FindAliases(columns)
	var constants []string
	for _, k := range a.Constant {
		constants = append(constants, names[k])
	}
	var identical [][]string
	for _, g := range a.Identical {
		var ns []string
		for _, k := range g {
			ns = append(ns, names[k])
		}
		identical = append(identical, ns)
	}
	var want [][]string
	if err := json.Unmarshal(c.Expect["identical"], &want); err != nil {
		t.Fatal(err)
	}
	if len(identical) != len(want) || !slices.Equal(identical[0], want[0]) {
		t.Errorf("identical: got %v, want %v", identical, want)
	}
	c.compare(t, results{"constant": constants, "rank_with_intercept": a.Rank}, "identical")
}

// orderedColumns keeps the order in which an object's lists are written.
func orderedColumns(t *testing.T, raw json.RawMessage) (names []string, columns [][]float64) {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(raw))
	if _, err := d.Token(); err != nil {
		t.Fatal(err)
	}
	for d.More() {
		key, err := d.Token()
		if err != nil {
			t.Fatal(err)
		}
		var v vector
		if err := d.Decode(&v); err != nil {
			t.Fatal(err)
		}
		names, columns = append(names, key.(string)), append(columns, v)
	}
	return names, columns
}

type timesInput struct {
	Data, Group string
	Left, Right vector
	Z, Stratum  json.RawMessage
}

// timeData are the spans of a check, which of them are marked, and their strata.
func timeData(t *testing.T, c check) (spans []Span, marks []bool, strata []int) {
	t.Helper()
	i := in[timesInput](t, c)
	add := func(left, right float64, mark bool) {
		spans, marks = append(spans, Span{left, right}), append(marks, mark)
	}
	switch i.Data {
	case "cosmesis.csv":
		d := table(t, i.Data)
		left, right := numbers(t, d["left"]), numbers(t, d["right"])
		for k, g := range d["group"] {
			if i.Group == "" || i.Group == g {
				add(left[k], right[k], g == "radiotherapy")
			}
		}
	case "remission.csv":
		d := table(t, i.Data)
		weeks, relapse := numbers(t, d["weeks"]), numbers(t, d["relapse"])
		for k, g := range d["treat"] {
			right := math.Inf(1)
			if relapse[k] == 1 {
				right = weeks[k]
			}
			add(weeks[k], right, g == "6-MP")
		}
	default:
		var z, s vector
		if len(i.Z) > 0 {
			must(t, json.Unmarshal(i.Z, &z))
		}
		if len(i.Stratum) > 0 {
			must(t, json.Unmarshal(i.Stratum, &s))
		}
		for k := range i.Left {
			add(i.Left[k], i.Right[k], len(z) > 0 && z[k] == 1)
			if len(s) > 0 {
				strata = append(strata, int(s[k]))
			}
		}
	}
	return spans, marks, strata
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// tight goes on until the masses themselves are as the reference gives them.
func tight(spans []Span) Curve { return turnbull(spans, 1e-11, 400_000) }

func checkTurnbull(t *testing.T, c check) {
	spans, _, _ := timeData(t, c)
	curve := tight(spans)
	var from, to, mass []float64
	for _, m := range curve.Masses {
		if m.Share > 1e-9 {
			from, to, mass = append(from, m.From), append(to, m.To), append(mass, m.Share)
		}
	}
	c.compare(t, results{"from": from, "to": to, "mass": mass, "loglik": curve.LogLik})
	quick := Turnbull(spans)
	if quick.Excess >= mostExcess || quick.LogLik < curve.LogLik-mostExcess {
		t.Errorf("stopped early: excess %g, log-likelihood %g of %g", quick.Excess, quick.LogLik, curve.LogLik)
	}
	for _, m := range curve.Masses {
		if got, want := quick.Survival(m.To), curve.Survival(m.To); math.Abs(got-want) > 2e-3 {
			t.Errorf("survival after %g: got %g, want %g", m.To, got, want)
		}
	}
}

func checkScores(t *testing.T, c check) {
	spans, marks, strata := timeData(t, c)
	scores := Scores(spans, tight(spans))
	r := NormalScoreTest(scores, marks, strata)
	c.compare(t, results{"score_sum": r.Sum, "Z": r.Z, "p": r.P, "first_scores": scores, "observed_minus_expected": r.Sum})
}

func checkExactScores(t *testing.T, c check) {
	spans, marks, _ := timeData(t, c)
	scores := Scores(spans, tight(spans))
	us := make([]unit, len(scores))
	for i, s := range scores {
		us[i] = unit{score: s, group: order(!marks[i])}
	}
	r := NormalScoreTest(scores, marks, nil)
	c.compare(t, results{"first_scores": scores, "p_exact": exchangeUnits(us, 2, true), "arrangements": arrangements(us), "Z": r.Z})
}

func checkKaplanMeier(t *testing.T, c check) {
	i := in[timesInput](t, c)
	d := table(t, i.Data)
	weeks, relapse := numbers(t, d["weeks"]), numbers(t, d["relapse"])
	var es []Ending
	for k, g := range d["treat"] {
		if g == i.Group {
			es = append(es, Ending{weeks[k], int(relapse[k])})
		}
	}
	var day, risk, survival, se []float64
	for _, x := range AalenJohansen(es, 1) {
		day, risk = append(day, x.Day), append(risk, float64(x.AtRisk))
		survival, se = append(survival, x.Running), append(se, x.SE)
		if math.Abs(1-x.Share-x.Running) > 1e-12 {
			t.Errorf("day %g: share %g and running %g do not add up", x.Day, x.Share, x.Running)
		}
	}
	// The survival was printed as .690 and .627 where rounding gives the same; .448 likewise.
	c.compare(t, results{"t": day, "at_risk": risk, "survival": survival, "se": se})
}

func checkIncidence(t *testing.T, c check) {
	i := in[struct {
		Data      string
		T, At     vector
		Cause, Of json.RawMessage
	}](t, c)
	if i.Data == "" {
		var cause vector
		must(t, json.Unmarshal(i.Cause, &cause))
		var es []Ending
		for k := range i.T {
			es = append(es, Ending{i.T[k], int(cause[k])})
		}
		var day, share, se, running []float64
		for _, x := range AalenJohansen(es, 1) {
			day, share, se, running = append(day, x.Day), append(share, x.Share), append(se, x.SE), append(running, x.Running)
		}
		c.compare(t, results{"t": day, "cif": share, "se": se, "still_running": running})
		return
	}
	d := table(t, i.Data)
	months, cause := numbers(t, d["months"]), numbers(t, d["cause"])
	var es []Ending
	for k := range months {
		es = append(es, Ending{months[k], int(cause[k])})
	}
	r := results{}
	for kind, suffix := range map[int]string{1: "_1", 2: "_2"} {
		var share, se []float64
		steps := AalenJohansen(es, kind)
		for _, at := range i.At {
			k := 0
			for k+1 < len(steps) && steps[k+1].Day <= at {
				k++
			}
			share, se = append(share, steps[k].Share), append(se, steps[k].SE)
		}
		r["cif"+suffix], r["se"+suffix] = share, se
	}
	c.compare(t, r)
}

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

func checkFirth(t *testing.T, c check) {
	i := in[struct {
		twoGroups
		Data, Y string
		X       []string
	}](t, c)
	names := i.X
	var patterns []Pattern
	if i.Data == "" {
		names = []string{"z"}
		patterns = []Pattern{{[]float64{1}, Counts{i.X1, i.N1}}, {[]float64{0}, Counts{i.X0, i.N0}}}
	} else {
		d := table(t, i.Data)
		y := numbers(t, d[i.Y])
		for k := range y {
			p := Pattern{Counts: Counts{y[k], 1}}
			for _, n := range names {
				p.X = append(p.X, numbers(t, d[n][k:k+1])...)
			}
			patterns = append(patterns, p)
		}
	}
	j, ok := FirthLogistic(patterns, 1, math.Inf(1))
	if !ok {
		t.Fatal("no fit")
	}
	r := results{"penalised_loglik": j.LogLik}
	for k, n := range append([]string{"intercept"}, names...) {
		b := j.Coefficients[k]
		r[n], r[n+"_lower"], r[n+"_upper"], r[n+"_p"] = b.Estimate, b.Low, b.High, b.P
	}
	c.compare(t, r)
}
